"""The set-up as it is read in the dark and by day, and what has moved on a recipe's paper, on phones and wide pages."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page
from tools.axe import needs_axe, violations
from tools.browser import WIDTHS, is_dark, look
from tools.stand_in_desk import StandInDesk

from controller.foot.acts import SetUpMade
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any

pytestmark = pytest.mark.browser

OUT = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
PARTS = "() => [...document.querySelectorAll('.set-up li')].map(li => li.textContent)"
LINES = """() => [...document.querySelectorAll('.set-up li')].map((li) =>
  li.getClientRects().length && li.getBoundingClientRect().height / parseFloat(getComputedStyle(li).lineHeight))"""
SIZE = "() => parseFloat(getComputedStyle(document.querySelector('.set-up li')).fontSize)"


def asked(desk: StandInDesk) -> None:
    plan = compile_any(desk.recipes().recipe(desk.crane.id), source=desk.crane.id, version=1)
    can = ("set up made", "load", "put down", "at the enlarger", "paper away")
    desk.show(plan=plan, place="set-up asked", headline="Set up, then press.", can=can, next=None)


def test_the_set_up_is_read_large_and_whole(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Every part on one line at every width, red alone, large; one tap says that it is set."""
    asked(desk)
    page = open_phone()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        page.goto("/")
        page.wait_for_selector("html.live:not(.day) .set-up")
        assert page.evaluate(PARTS) == ["head 620", "f/8", "150 mm", "4x5 carrier", "easel 240 × 192"]
        assert max(page.evaluate(LINES)) < 1.5, "a part is broken in two"
        assert page.evaluate(SIZE) >= 27
        assert page.evaluate(OUT) <= 0
        assert is_dark(look(page))
    page.click("text=it is set")
    page.wait_for_timeout(300)
    assert isinstance(desk.acts[-1][0], SetUpMade)


@needs_axe
def test_axe_has_nothing_to_say(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """In the dark and by day, with what has moved on the review: no violation of the rules of WCAG 2.2 at AA."""
    record = desk.work(desk.crane, "s1")
    then = AtEnlarger(paper_title="paper one", box="A")
    desk.records["s1"] = record.model_copy(update={"plan": record.plan.standing(then)})
    asked(desk)
    desk.show(bench=then.model_copy(update={"box": "B"}))
    page = open_phone()
    page.goto("/")
    page.wait_for_selector("html.live:not(.day) .set-up")
    assert violations(page, "color-contrast") == []  # red too dim to fog has none by the rule's reckoning
    desk.say_day()
    for address, wanted in (("/", ".set-up"), (f"/shelf/{desk.crane.id}", ".moved")):
        page.goto(address)
        page.wait_for_selector(f"html.day {wanted}")
        assert page.evaluate(OUT) <= 0
        assert violations(page) == []
