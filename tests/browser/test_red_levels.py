"""What a phone is told in the dark beside what is next: its red, a STOP that is not heard, and other phones' acts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page
from tools.browser import is_dark, is_day, look, silence, wait_until
from tools.stand_in_desk import PLAN as CRANE_PLAN
from tools.stand_in_desk import StandInDesk, next_step

from controller.words import say
from webui.frame.red import LEVELS

pytestmark = pytest.mark.browser

OPEN: dict[str, Any] = {
    "plan": CRANE_PLAN,
    "next": next_step(2),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "place": "finished",
    "headline": "Finished.",
    "can": ("more burn", "close"),
}
LONG = ("W" * 200, "2026-11-29_harbour_crane_no3_soft.v2", "👩🏽‍🦰" * 40)


def _brightest(page: Page) -> int:
    return int(look(page)[:, :, 0].max())


def test_the_red_is_turned_up_and_down_where_one_is(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Two large buttons under “more”: what is seen changes at once, nothing is reloaded, the phone remembers."""
    page = open_phone()
    page.goto("/")
    page.evaluate("window.same = true")
    page.click("summary:text-is('more')")
    for level in (2, 3):
        page.click(".redder button:has-text('brighter')")
        assert wait_until(lambda level=level: _brightest(page) == LEVELS[level - 1].ink, page)  # type: ignore[misc]
    assert is_dark(look(page), LEVELS[2].ink)
    page.click(".redder button:has-text('darker')")
    assert wait_until(lambda: _brightest(page) == LEVELS[1].ink, page)
    assert page.evaluate("window.same")
    for box in [button.bounding_box() for button in page.locator(".redder button").all()]:
        assert box is not None
        assert box["height"] >= 76
    page.goto("/sheets")
    assert _brightest(page) == LEVELS[1].ink


def test_practice_is_bright_and_can_be_as_dark(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """There the start card is black on white and the dark page full red, until it is to be as dark as the real one."""
    page = open_phone(red=None)
    page.goto("/phone?new=1")
    assert is_day(look(page))
    page.wait_for_timeout(300)
    assert is_day(look(page)), "no word takes the white away where nothing can fog"
    page.goto("/")
    assert is_dark(look(page), 255)
    assert _brightest(page) == 255
    page.goto("/phone")
    page.click(f"text={say('page.red-as-dark')}")
    page.wait_for_selector("html:not(.day)[data-red='1']")
    assert is_dark(look(page))
    words = page.inner_text("main")
    assert say("page.phone-practice-dark") in words
    assert say("page.phone-practice-why") not in words, "a dark page does not say that it is bright"
    page.goto("/")
    assert is_dark(look(page))
    page.goto("/phone")
    page.click(f"text={say('page.red-bright')}")
    page.wait_for_selector("html.day[data-red='5']")


def test_a_stop_that_is_not_heard_says_so(phone: Page, desk: StandInDesk) -> None:
    """While there is no connection a tap on STOP says that it was not reached; the next word takes that back."""
    phone.goto("/")
    phone.wait_for_timeout(200)
    phone.route("**/stop", lambda route: route.abort())
    phone.route("**/live?*", lambda route: route.abort())
    phone.route("**/status.json?*", lambda route: route.abort())
    desk.show(stop_possible=True)
    phone.wait_for_selector(".stopper button", state="visible")
    phone.context.set_offline(True)
    heard_again = silence(desk)  # an open stream outlives it
    phone.click(".stopper button")
    phone.get_by_text(say("page.stop-unreached")).wait_for()
    phone.wait_for_timeout(2500)
    assert phone.get_by_text(say("page.stop-unreached")).is_visible(), "it stays while nothing is heard"
    assert is_dark(look(phone))
    heard_again()
    phone.unroute_all()
    phone.context.set_offline(False)
    phone.get_by_text(say("page.stop-unreached")).wait_for(state="hidden")


def test_an_open_burn_outlives_a_repaint(phone: Page, desk: StandInDesk) -> None:
    """What was unfolded and chosen is still so when the panel is painted anew; what was not is not."""
    desk.show(**OPEN)
    phone.goto("/")
    phone.get_by_text(say("page.act-more-burn"), exact=True).click()
    phone.get_by_text("+1 stop", exact=True).click()
    phone.locator(".burn label", has_text="hard").click()
    number = desk.show(just_given="Given: hard base, 8.0 s.").number
    phone.wait_for_selector(f'[data-panel] input[name=number][value="{number}"]', state="attached")
    chosen = phone.eval_on_selector_all(".burn input:checked", "all => all.map((one) => one.value)")
    assert chosen == ["stops 1", "hard", ""]
    assert phone.locator("details[open]").count() == 1
    phone.get_by_text(say("page.act-more-burn-sure")).click()
    assert wait_until(lambda: bool(desk.acts), phone)


def test_whoever_was_overtaken_hears_of_it(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Two phones choose, one after the other: the first is told what the other loaded, the other is told nothing."""
    desk.show(can=("load", "put down"))
    first, second = open_phone(), open_phone()
    for page, title in ((first, desk.crane.title), (second, desk.strip.title)):
        for other in (first, second):
            other.goto("/") if page is first else None
        page.locator(f".choice button:has-text('{title}')").click()
        page.wait_for_selector(f".choice button[aria-current=true]:has-text('{title}')")
    said = say("page.loaded-by-another", title=desk.strip.title)
    first.get_by_text(said).wait_for()
    assert is_dark(look(first))
    assert second.inner_text(".said") == ""
    desk.show(place="lead-in", stop_possible=True)
    first.get_by_text(said).wait_for(state="hidden")


def test_what_is_next_is_said_to_whoever_cannot_see_it(phone: Page, desk: StandInDesk) -> None:
    """A polite live region, unseen, holds what is next as soon as that has changed."""
    phone.goto("/")
    phone.wait_for_timeout(200)
    desk.show(**OPEN | {"place": "change filter", "headline": "Change the filter.", "next": next_step(3)})
    region = phone.locator("[aria-live=polite][data-told]")
    said = "Change the filter. put in hard. 8.0 s"
    assert wait_until(lambda: region.text_content() == said, phone), region.text_content()


@pytest.mark.parametrize("width", [320, 390])
def test_a_long_title_widens_no_page(open_phone: Callable[..., Page], desk: StandInDesk, width: int) -> None:
    """Titles of 200 wide letters, of one unbroken word and of joined pictures stay within every page, day and dark."""
    things = [
        kept.model_copy(update={"id": f"long{at}", "title": title, "body": kept.body.replace(kept.title, title)})
        for at, (kept, title) in enumerate(zip((desk.crane, desk.strip, desk.proof), LONG, strict=True))
    ]
    laid = desk.lay(*things)
    for at, kept in enumerate(laid):
        desk.work(kept, f"s{at}")
    page = open_phone(width, 700)
    desk.show(plan=desk.recipes().plan("long0", 1), place="nothing chosen", can=("load", "put down", "paper away"))
    dark = ["/", "/choose", "/sheets", "/sheets/s0", "/practice", "/phone"]
    day = ["/shelf", "/shelf/long0", "/shelf/long0/edit", "/shelf/long0/versions", "/shelf/long1/edit", "/wall"]
    day += ["/pick/s1", "/carry/long0", "/sheets/s1", "/papers", "/settings/phones"]
    for addresses in (dark, dark + day):
        for address in addresses:
            page.goto(address)
            page.wait_for_timeout(50)
            page.evaluate("document.querySelectorAll('details').forEach((one) => { one.name = ''; one.open = true; })")
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        desk.say_day()
