"""A finger draws three areas on a print's photograph: three strokes, one version, and no other tap."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page
from tools.negatives import photograph
from tools.stand_in_desk import StandInDesk

from controller.words import say

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
