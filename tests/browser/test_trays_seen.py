"""The prints in the trays in a real browser: what is the largest in view, what counts down, when white may come."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page
from tools.browser import OVER, SIZES, WIDTHS, is_dark, look
from tools.in_the_trays import IDLE, S, lies_in
from tools.stand_in_desk import PLAN, StandInDesk, next_step

from controller.words import say

pytestmark = pytest.mark.browser

FILLED = "() => Number(document.querySelector('.lies .full[data-to]').getAttribute('width'))"


def _develops(desk: StandInDesk, ask: str = "") -> None:
    now = time.monotonic_ns()
    desk.show(
        **{**IDLE, "safe_left_s": 190},
        at_ns=now,
        plan=PLAN,
        next=next_step(1),
        place="ready",
        headline=ask or say("trays.place-wait"),
        prints=(lies_in("developer", now, ask=ask),),
        white_from_ns=now + 160 * S,
        day_refused="no",
        can=("load", "no paper in the trays"),
    )


@pytest.mark.parametrize("address", ["/", "/practice"])
def test_tray_and_time_are_the_largest_while_a_print_develops(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str
) -> None:
    """Nothing in view is nearly so large as how long it still lies there; next comes the tray, all in dim red."""
    page = open_phone()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        _develops(desk)
        page.goto(address)
        page.wait_for_selector("html.live")
        sizes = sorted(page.evaluate(SIZES), key=lambda each: -each[1])
        (count, first), (tray, second), (_, third) = sizes[:3]
        assert count.startswith("1:0"), sizes
        assert tray == "developer"
        assert first >= OVER * second >= OVER * third, (width, sizes)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if address == "/":
            assert is_dark(look(page, whole=True))


def test_a_tray_counts_down_and_fills_by_itself(phone: Page, desk: StandInDesk) -> None:
    """From word to word a second is a second, and white light comes nearer; no new snapshot is needed."""
    _develops(desk)
    phone.goto("/")
    phone.wait_for_selector("html.live")
    before, filled = phone.inner_text(".lies-left"), phone.evaluate(FILLED)
    phone.wait_for_function("was => document.querySelector('.lies-left').innerText !== was", arg=before)
    white = phone.inner_text(".white-when")
    phone.wait_for_function("was => document.querySelector('.white-when').innerText !== was", arg=white)
    phone.wait_for_timeout(1500)
    assert phone.inner_text(".lies-left") < before
    assert phone.evaluate(FILLED) > filled
    assert phone.evaluate("document.getAnimations().length") == 0


def test_a_press_that_is_awaited_is_the_page_s_own_line(phone: Page, desk: StandInDesk) -> None:
    """It stands once, above its tray."""
    _develops(desk, say("trays.ask-first-appearance"))
    phone.goto("/")
    assert phone.locator("h1").all_inner_texts() == [say("trays.ask-first-appearance")]
    lead, tray = (phone.locator(one).bounding_box() for one in ("h1.lead", ".lies-tray"))
    assert lead is not None
    assert tray is not None
    assert lead["y"] < tray["y"]


def test_from_the_fix_on_the_easel_s_line_comes_first(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Light is possible again: its verb is the large thing, and the tray has one line, also above STOP in a lead-in."""
    page = open_phone(320, 568)
    now = time.monotonic_ns()
    prints = (lies_in("fix", now, lain_s=6, left_s=54),)
    sheet = {"plan": PLAN, "next": next_step(2), "open": True, "sheet_number": 5, "white_from_ns": now + 24 * S}
    desk.show(**{**IDLE, **sheet}, at_ns=now, place="ready", headline="Press to begin.", prints=prints, can=())
    page.goto("/")
    page.wait_for_selector("html.live")
    assert max(page.evaluate(SIZES), key=lambda each: each[1])[0] == "burn A"
    assert page.inner_text(".lies-tray").startswith("sheet 4: fix 0:5")
    assert page.locator(".white-when").count() == 0
    desk.show(place="lead-in", stop_possible=True)
    page.wait_for_selector("html.stop")
    stop, line = (page.locator(one).bounding_box() for one in (".stopper", ".lies-tray"))
    assert stop is not None
    assert line is not None
    assert line["y"] + line["height"] <= stop["y"] + 1


def test_a_refused_white_page_comes_as_soon_as_it_may(phone: Page, desk: StandInDesk) -> None:
    """Its button stands there by itself once the guard is over, and leads to the page that was asked for."""
    _develops(desk)
    phone.goto("/settings")
    white = phone.get_by_role("button", name=say("page.act-paper-away-sure"))
    assert phone.get_by_role("button", name=say("trays.act-no-paper")).is_visible()
    assert not white.is_visible()
    desk.show(prints=(), white_from_ns=None, day_refused="", can=("load", "paper away"))
    white.wait_for()
    assert not phone.get_by_role("button", name=say("trays.act-no-paper")).is_visible()
    assert phone.locator("[data-until]:visible").count() == 0


def test_by_day_a_print_s_way_stands_from_left_to_right(phone: Page, desk: StandInDesk) -> None:
    """Each tray has a bar: full where it was, filling where it is, empty where it comes; its names in their order."""
    now = time.monotonic_ns()
    prints = (lies_in("wash", now, support="FB", lain_s=75, left_s=225),)
    desk.show(**IDLE, at_ns=now, prints=prints, place="ready", plan=PLAN, next=next_step(1), headline="Press.", can=())
    desk.say_day()
    phone.goto("/")
    phone.wait_for_selector("html.day")
    dishes = phone.locator(".dishes li")
    assert [words.strip() for words in dishes.all_inner_texts()] == [
        say(f"trays.name-{name.replace(' ', '-')}") for name in prints[0].way[1:]
    ]
    tops = [box["y"] for box in (dishes.nth(at).bounding_box() for at in range(9)) if box is not None]
    assert tops == sorted(tops)
    assert phone.evaluate(FILLED) == pytest.approx(25, abs=2)
    phone.evaluate("document.documentElement.style.fontSize = '200%'")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
