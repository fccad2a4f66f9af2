"""A negative's row and a proof's corners in a real browser: the row scrolls by itself, corners follow a finger."""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryFile

import pytest
from playwright.sync_api import Browser, Page, expect
from tools.axe import needs_axe, violations
from tools.negatives import photograph, tree
from tools.shelf_browser import must_fit, narrow_phone
from tools.stand_in_desk import StandInDesk, day_desk
from tools.worked_negative import WorkedNegative

from controller.negatives.sets import CORNERS
from controller.words import say

pytestmark = pytest.mark.browser


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk(clock=time.monotonic_ns) as made:
        made.keep_pictures_in(tmp_path / "pictures")
        yield made


@pytest.fixture
def phone(desk: StandInDesk, browser: Browser) -> Iterator[Page]:
    with narrow_phone(desk, browser, has_touch=True) as page:
        yield page


@pytest.fixture
def proof(desk: StandInDesk) -> str:
    """A contact sheet with a photograph; its id."""
    kept = desk.negatives().make(tree(12))
    with TemporaryFile() as file:
        file.write(photograph())
        desk.negatives().photograph(kept.id, file, "proof.jpg")
    return kept.id


@needs_axe
def test_the_row_scrolls_and_the_page_does_not(phone: Page, desk: StandInDesk) -> None:
    """At 320 pixels, and with letters twice as large, only the row runs on to the side, by a finger or the keys."""
    kept = desk.negatives().make(tree(12, frames=[{"frame": "4", "title": "quay at dawn"}]))
    WorkedNegative(desk, f"{kept.id}:4").evening()
    here = f"/negatives/{kept.id}/frame/4"
    phone.goto(here)
    for size in ("100%", "200%"):
        phone.evaluate(f"document.documentElement.style.fontSize = '{size}'")
        if size == "100%":
            must_fit(phone, here)
        row = phone.evaluate(
            "(({scrollWidth, clientWidth}) => [scrollWidth, clientWidth])(document.querySelector('.life'))"
        )
        assert row[0] > row[1]
        assert phone.evaluate("document.documentElement.scrollWidth") <= 320
    assert violations(phone) == []
    cells = phone.locator(".life > li")
    last = cells.nth(cells.count() - 1).locator("a")
    last.focus()
    expect(last).to_be_in_viewport(ratio=0.5)
    lines = phone.evaluate(
        """() => [...document.querySelectorAll('.life .thread')].map((one) => one.getBoundingClientRect())
        .map(({left, right, height}) => [Math.round(left), Math.round(right), Math.round(height)])"""
    )
    for (_, right, high), (left, _, after) in pairwise(lines):
        assert abs(right - left) <= 1, "a thread breaks between two cells"
        assert abs(high - after) <= 1


def corners(desk: StandInDesk, source: str) -> list[tuple[float, float]]:
    kept = desk.negatives().fetch(source).negatives.proof
    assert kept is not None
    return [(float(x), float(y)) for x, y in kept.corners or ((0, 0), (1, 0), (1, 1), (0, 1))]


def drag(phone: Page, which: str, across: float, down: float) -> None:
    """Drag a corner's ring by so many pixels."""
    box = phone.locator(f'.corner[data-corner="{which}"]').bounding_box()
    assert box is not None
    x, y = box["x"] + 24, box["y"] + 24
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + across / 2, y + down / 2)
    phone.mouse.move(x + across, y + down)
    with phone.expect_response("**/corner"):
        phone.mouse.up()


def test_corners_are_dragged(phone: Page, desk: StandInDesk, proof: str) -> None:
    """Each ring that is let go of is kept there, as a share of the photograph; the lines follow while it moves."""
    phone.goto(f"/negatives/{proof}/proof?corner=top-left")
    expect(phone.locator("[data-drag-how]")).to_be_visible()
    for which, way in zip(CORNERS, ((28, 21), (-28, 42), (-14, -21), (28, -42)), strict=True):
        drag(phone, which, *way)
    expected = [(0.1, 0.1), (0.9, 0.2), (0.95, 0.9), (0.1, 0.8)]
    for found, wanted in zip(corners(desk, proof), expected, strict=True):
        assert found == pytest.approx(wanted, abs=0.01)
    # what is drawn while dragging is what the server cuts by
    drawn = phone.evaluate("document.querySelector('.frame path').getBBox().width")
    phone.reload()
    expect(phone.locator(".corner")).to_have_count(4)
    assert phone.evaluate("document.querySelector('.frame path').getBBox().width") == pytest.approx(drawn, abs=2)
    must_fit(phone, "proof")


def test_a_finger_that_folds_the_field_is_refused(phone: Page, desk: StandInDesk, proof: str) -> None:
    """A corner that is dragged over another goes back to where it was, with the sentence above the photograph."""
    phone.goto(f"/negatives/{proof}/proof?corner=top-left")
    drag(phone, "top-left", 279, 209)
    expect(phone.locator('[data-beside="corner"]')).to_have_text(say("negatives.corner-folds"))
    assert corners(desk, proof)[0] == (0.0, 0.0)
    box = phone.locator('.corner[data-corner="top-left"]').bounding_box()
    frame = phone.locator(".frame").bounding_box()
    assert box is not None
    assert frame is not None
    assert box["x"] + 24 == pytest.approx(frame["x"], abs=1)


def test_arrow_keys_move_a_corner(phone: Page, desk: StandInDesk, proof: str) -> None:
    """A pixel a press, ten with Shift; it is kept once the keys rest."""
    phone.goto(f"/negatives/{proof}/proof?corner=top-left")
    phone.locator('.corner[data-corner="top-left"]').focus()
    with phone.expect_response("**/corner"):
        phone.keyboard.press("Shift+ArrowRight")
        for _ in range(4):
            phone.keyboard.press("ArrowRight")
        phone.keyboard.press("Shift+ArrowDown")
    assert corners(desk, proof)[0] == pytest.approx((14 / 280, 10 / 210), abs=0.002)
    assert desk.negatives().fetch(proof).version == 3, "one version for all of it"


def test_a_tap_does_what_it_did(phone: Page, desk: StandInDesk, proof: str) -> None:
    """A tap beside the rings sets the corner that is asked for, and asks for the next."""
    phone.goto(f"/negatives/{proof}/proof?corner=top-left")
    phone.locator("input[type=image]").tap(position={"x": 70, "y": 60})
    phone.wait_for_url("**/proof?corner=top-right")
    assert corners(desk, proof)[0] == pytest.approx((0.25, 60 / 210), abs=0.01)
