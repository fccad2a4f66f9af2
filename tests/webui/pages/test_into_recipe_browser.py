"""A record in a real browser: what was given goes into its recipe by a tap, and threads are followed by taps."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page
from tools.shelf_browser import must_fit, narrow_phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.recipe.compile_recipe import more_burn
from controller.store.records import StepRecord
from controller.words import say

pytestmark = pytest.mark.browser


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    """A print whose first base was stopped at 8.0 s, and to which a burn was added."""
    with day_desk(clock=time.monotonic_ns) as made:
        record = made.work(made.crane, "print")
        first = record.steps[0].model_copy(update={"given_least_ms": 8000, "given_most_ms": 8000, "called_given": True})
        step = more_burn(record.plan, len(record.steps) + 1, filter="hard", stops="1/3", seconds=None, area="D")
        ms = step.planned_ms
        burn = StepRecord(step=step, added=True, given_least_ms=ms, given_most_ms=ms, lit_ms=ms)
        made.records["print"] = record.model_copy(update={"steps": (first, *record.steps[1:], burn)})
        yield made


@pytest.fixture
def phone(desk: StandInDesk, browser: Browser) -> Iterator[Page]:
    with narrow_phone(desk, browser) as page:
        yield page


def test_a_burn_goes_into_the_recipe_by_one_tap(phone: Page, desk: StandInDesk) -> None:
    """The tap leads back to the record, which then leads to the version that has the burn."""
    phone.goto("/sheets/print")
    phone.wait_for_selector("html.day")
    must_fit(phone, "a record with what may go into its recipe")
    phone.get_by_role("button", name=say("page.into-burn")).click()
    phone.get_by_role("link", name=say("page.went-in-burn", version=2)).click()
    phone.wait_for_url(f"**/shelf/{desk.crane.id}?version=2")
    assert "+1/3" in phone.inner_text("#look")


def test_all_that_was_given_becomes_a_version_by_one_tap(phone: Page, desk: StandInDesk) -> None:
    """The tap leads back to the record, which then leads to the version whose soft base is the 8.0 s of light."""
    phone.goto("/sheets/print")
    phone.get_by_role("button", name=say("page.into-all")).click()
    phone.get_by_role("link", name=say("page.went-in-all", version=2)).click()
    phone.wait_for_url(f"**/shelf/{desk.crane.id}?version=2")
    assert phone.locator("#look .much").first.inner_text() == "8.0 s"


def test_a_thread_is_followed_by_taps(phone: Page, desk: StandInDesk) -> None:
    """From the second print to the first, from there to the strip, and from the strip to the recipe it went into."""
    desk.work(desk.strip, "strip")
    phone.goto("/pick/strip?band=4")
    phone.select_option("[name=recipe]", desk.crane.id)
    phone.get_by_role("button", name=say("shelf.pick-take")).click()
    phone.wait_for_url("**done=1")
    second = desk.recipes().fetch(desk.crane.id)
    for sheet in ("one", "two"):
        desk.work(second, sheet)
    phone.goto("/sheets/two")
    must_fit(phone, "a record on a thread")
    phone.get_by_role("link", name=say("page.thread-before", number=desk.records["one"].number)).click()
    phone.wait_for_url("**/sheets/one")
    phone.get_by_role("link", name=say("page.thread-strip", number=desk.records["strip"].number)).click()
    phone.wait_for_url("**/sheets/strip")
    phone.get_by_role("link", name=say("shelf.pick-go")).click()
    phone.wait_for_url(f"**/shelf/{desk.crane.id}?version=2")
