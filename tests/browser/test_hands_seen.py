"""Tools, asks and carriers as a thumb finds them in the form, and as they are read in the dark."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page
from tools.axe import needs_axe, violations
from tools.browser import WIDTHS
from tools.every_page import OPEN_ALL
from tools.stand_in_desk import StandInDesk, next_step
from tools.written_files import recipe_of, text_of

from controller.recipe.compile_recipe import compile_recipe

pytestmark = pytest.mark.browser

PLAN = compile_recipe(recipe_of("two-negatives.recipe.json"), source="clouds", version=1)
OUT = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
LEAD = "() => { const l = document.querySelector('.lead'); return parseFloat(getComputedStyle(l).fontSize); }"


def kept(page: Page, name: str) -> None:
    """Keep a picture for whoever wants to look: in the folder that `TREADLE_LOOK` names."""
    if folder := os.environ.get("TREADLE_LOOK"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


def test_the_fold_is_shut_until_it_is_wanted(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """On the main path nothing more is in view; open, it fits every width, and a tool has the next letter."""
    two = desk.recipes().save(text_of("two-negatives.recipe.json"))
    desk.say_day()
    page = open_phone()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"/shelf/{two.id}/edit")
        page.wait_for_selector("html.day")
        assert not page.locator("#in-tools-0-name").is_visible()
        assert "M sky mask" in page.inner_text("#hands > summary")
        page.click("#hands > summary")
        assert page.locator("#in-tools-0-name").is_visible()
        assert page.evaluate(OUT) <= 0
        kept(page, f"form-{width}")
    page.click("button[value='add tools']")
    page.wait_for_selector("#in-tools-4-letter")
    assert page.input_value("#in-tools-4-letter") == "O"
    page.click("button[value='add hands']")
    page.wait_for_selector("#in-hands-4-does")
    page.select_option("#in-hands-4-does", "tool N")
    page.select_option("#in-hands-4-before", "local-1")
    page.fill("#in-tools-4-name", "edge card")
    with page.expect_navigation():
        page.click(".bar .sure")
    again = desk.recipes().fetch(two.id)
    assert '"words": "mask N, shore mask"' in again.body
    assert '"before": 5' in again.body
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(OUT) <= 0
        kept(page, f"review-{width}")


def test_what_is_asked_is_read_large(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """In the dark the ask is the largest, with what goes in and out and which exposure is next beneath it."""
    ask = PLAN.steps[5].asks[1]
    headline = "Sky mask out, shore mask in, then press."
    told = {"number": 6, "name": "soft base B", "area": "", "carrier": "B", "tools": ("mask N, shore mask",)}
    step = next_step(1).model_copy(update=told)
    desk.show(plan=PLAN, place="hands asked", headline=headline, ask=ask, next=step)
    page = open_phone()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        page.goto("/")
        page.wait_for_selector("html.live:not(.day)")
        assert page.inner_text(".lead") == headline
        assert page.evaluate(LEAD) >= 28
        assert "mask N, shore mask: in" in page.inner_text(".next")
        assert "then soft base B" in page.inner_text(".next")
        assert page.evaluate(OUT) <= 0
        kept(page, f"ask-{width}")
    desk.show(place="ready", headline="Press to begin.", ask=None)
    page.goto("/")
    page.wait_for_selector("text=carrier B · mask N, shore mask")
    kept(page, "ready")


def test_a_long_ask_wraps(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Two hundred letters of a printer's own words stay within the narrowest phone."""
    words = ("turn the easel by a quarter, " * 7)[:200].strip()
    ask = PLAN.end_asks[0].model_copy(update={"words": words})
    desk.show(plan=PLAN, place="hands asked", headline=f"{words}, then press.", ask=ask, next=None)
    page = open_phone(320, 568)
    page.goto("/")
    page.wait_for_selector("html.live:not(.day)")
    assert page.evaluate(OUT) <= 0
    kept(page, "long")


@needs_axe
def test_axe_finds_nothing_wrong_with_them(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """The form with its folds open and the review, by day; the ask in the dark but for its dimness."""
    two = desk.recipes().save(text_of("two-negatives.recipe.json"))
    page = open_phone()
    desk.say_day()
    for address in (f"/shelf/{two.id}/edit", f"/shelf/{two.id}"):
        page.goto(address)
        page.wait_for_selector("html.day")
        page.evaluate(OPEN_ALL)
        assert violations(page) == []
    desk.show(plan=PLAN, place="hands asked", headline="Sky mask in, then press.", ask=PLAN.steps[0].asks[0], next=None)
    desk.show(day_until_ns=None)
    page.goto("/")
    page.wait_for_selector("html.live:not(.day)")
    assert violations(page, "color-contrast") == []
