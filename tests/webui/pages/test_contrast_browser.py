"""The contrast pages and carrying over in a real browser: they fit the narrowest phone, and a whole change by thumb."""

from __future__ import annotations

import time
from collections.abc import Iterator
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Browser, Page
from tools.fitted_papers import demo
from tools.shelf_browser import must_fit, narrow_phone
from tools.stand_in_desk import StandInDesk, day_desk

pytestmark = pytest.mark.browser

OPEN_ALL = "document.querySelectorAll('details').forEach((part) => { part.open = true; })"


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    paper = demo().model_copy(update={"name": "paper one"})
    with day_desk(paper, clock=time.monotonic_ns) as made:
        yield made


@pytest.fixture(params=[True, False], ids=["scripts", "no scripts"])
def phone(desk: StandInDesk, browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    with narrow_phone(desk, browser, java_script_enabled=request.param) as page:
        yield page


def test_every_page_fits_the_narrowest_phone(phone: Page, desk: StandInDesk) -> None:
    """At 320 pixels nothing runs over the edge, no word of a picture lies on another, every target is big enough."""
    paper = desk.papers().kept()[0].id
    tones = {"light-negative": "1.25", "dark-negative": "0.22", "light": "first", "dark": "last"}
    asked = {"go": "1", "paper": paper}
    times = {"soft-seconds": "10.1", "hard-seconds": "8", "held": "skin", "by-r": "-20"}
    for address, query in (
        ("/contrast", asked | tones),
        ("/contrast", asked | tones | {"dark-negative": "1.2"}),
        ("/contrast", asked | tones | {"flash": "seconds", "flash-seconds": "0.3"}),
        ("/contrast", asked | tones | {"light-negative": "1.6"}),
        ("/contrast", asked | tones | {"flash": "seconds", "flash-seconds": "0.9"}),
        ("/contrast/hold", asked | times),
        ("/contrast/negative", {"go": "1", "thin": "0.22", "dense": "1.25"}),
        (f"/carry/{desk.crane.id}", {"go": "1", "image-long": "330", "aperture": "5.6"}),
        (f"/carry/{desk.crane.id}", {"go": "1", "image-long": "much"}),
    ):
        phone.goto(f"{address}?{urlencode(query)}")
        # A page's own scripts may be off; what a test asks the page is not one of them.
        phone.evaluate(OPEN_ALL)
        must_fit(phone, address)


def test_a_print_is_carried_over_by_thumb(phone: Page, desk: StandInDesk) -> None:
    """From the recipe's page to the check strip that is loaded, with taps and one number alone."""
    phone.goto(f"/shelf/{desk.crane.id}")
    phone.click("a:has-text('Move to another size')")
    phone.fill("input[name='image-long']", "330")
    phone.click("button:has-text('Show old and new')")
    phone.wait_for_selector("text=becomes 15.8 s")
    phone.click("button:has-text('Save as a new recipe'):not(.unheard)")
    phone.wait_for_url("**/carried/*")
    phone.click("form[action='/act/load'] button")
    phone.wait_for_url("**/")
    plan = desk.status().plan
    assert plan is not None
    assert plan.title == "Harbour crane, 8x10, moved: check strip through soft"
