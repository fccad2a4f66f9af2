"""A finger draws three areas on a print's photograph: three strokes, one version, and no other tap."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page
from tools.browser import is_dark, look, wait_until
from tools.negatives import photograph
from tools.stand_in_desk import StandInDesk, next_step

from controller.foot.status import LitNow
from controller.recipe.outline import drawn
from controller.words import say
from webui.frame.red import LEVELS

pytestmark = pytest.mark.browser

STROKES = {
    "A": [(0.1, 0.1), (0.9, 0.12), (0.8, 0.35), (0.15, 0.3)],
    "C": [(0.4, 0.45), (0.6, 0.45), (0.6, 0.6), (0.4, 0.6)],
    "B": [(0.1, 0.7), (0.9, 0.7), (0.9, 0.9), (0.1, 0.9)],
}


def test_three_strokes_are_three_areas(open_phone: Callable[..., Page], desk: StandInDesk, tmp_path: Path) -> None:
    """From the record one tap leads to the first area, one more where the image fills its photograph; then strokes."""
    desk.keep_pictures_in(tmp_path / "pictures")
    desk.work(desk.crane, "s1")
    (tmp_path / "print.jpg").write_bytes(photograph(900))
    with (tmp_path / "print.jpg").open("rb") as file:
        desk.photographs().of_sheet(desk.record("s1"), file, "print.jpg")
    page = open_phone(320, 700)
    desk.say_day()
    page.goto("/sheets/s1")
    page.locator("a", has_text=say("preview.draw-on-print", areas="A, C, B")).click()
    page.locator("button", has_text=say("preview.corners-none")).click()
    for letter, stroke in STROKES.items():
        page.wait_for_selector(f"text={say('preview.draw-how', letter=letter)}")
        shown = page.locator("[data-draws] input")
        shown.scroll_into_view_if_needed()
        box = shown.bounding_box()
        assert box is not None
        for n, (x, y) in enumerate([*stroke, stroke[0]]):
            page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=5)
            if n == 0:
                page.mouse.down()
        assert desk.recipes().recipe(desk.crane.id).tools == ()
        with page.expect_navigation():
            page.mouse.up()
    assert f"/shelf/{desk.crane.id}?version=2" in page.url
    for tool in desk.recipes().recipe(desk.crane.id).tools:
        assert tool.outline is not None
        drawn = [(float(x), float(y)) for x, y in tool.outline]
        for corner in STROKES[tool.letter]:
            assert min(abs(corner[0] - x) + abs(corner[1] - y) for x, y in drawn) < 0.02, (tool.letter, drawn)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("red", [1, 5])
def test_the_dark_face_stays_dark_with_an_outline(open_phone: Callable[..., Page], desk: StandInDesk, red: int) -> None:
    """Lines of the phone's own red on black, on a narrow phone and a wide screen; gone while the lamp is lit."""
    desk.previews().maps.keep(desk.crane.id, [drawn("A", STROKES["A"])])
    plan = desk.recipes().plan(desk.crane.id, 2)
    page = open_phone(320, 568, red=red)
    shown = {"plan": plan, "next": next_step(2), "open": True, "day_until_ns": None, "sheet_number": 5}
    desk.show(**shown, place="ready", headline="Press when ready.")
    page.goto("/")
    outline = page.locator(".step-map")
    outline.wait_for()
    assert page.locator(".step-map polygon").count() == 1
    brightest = LEVELS[red - 1].ink
    for width, height in ((320, 568), (390, 844), (1280, 900)):
        page.set_viewport_size({"width": width, "height": height})
        outline.scroll_into_view_if_needed()
        box = outline.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width
        pixels = look(page)
        assert is_dark(pixels, brightest), (width, height)
        across, down = int(box["x"]), int(box["y"])
        part = pixels[max(0, down) : down + int(box["height"]), across : across + int(box["width"])]
        assert int(part[..., 0].max()) == brightest, "its line is seen, as bright as words are"
    desk.show(**shown, place="light", lit=LitNow(kind="step", on_ns=0, lit_ms=10100), stop_possible=True)
    assert wait_until(lambda: not outline.is_visible(), page), "the one line and STOP are all there is in the light"
