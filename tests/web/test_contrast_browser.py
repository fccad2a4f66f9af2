"""The contrast pages and carrying over in a real browser: they fit the narrowest phone, and a whole change by thumb."""

from __future__ import annotations

import time
from collections.abc import Iterator
from urllib.parse import urlencode

import pytest
from paper.hidden import BOX, paper_one, readings
from playwright.sync_api import Browser, Page, sync_playwright
from web.fake_desk import FakePairing
from web.shelf_desk import ShelfDesk
from web.shelf_phone import shelf_app

from controller.paper.fit import fit
from webui.server import Server

pytestmark = pytest.mark.browser

ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
TOUCHING_WORDS = """() => [...document.querySelectorAll('svg')].flatMap((picture) => {
  const words = [...picture.querySelectorAll('text')].map((text) => [text.textContent, text.getBoundingClientRect()]);
  return words.flatMap(([one, a], at) => words.slice(at + 1)
    .filter(([two, b]) => a.left < b.right - .5 && b.left < a.right - .5)
    .filter(([two, b]) => a.top < b.bottom - 3 && b.top < a.bottom - 3)
    .map(([two]) => `${one} on ${two}`));
})"""
SMALL_TARGETS = """() => [...document.querySelectorAll('main button, main select, main input, .bar button, .bar a')]
  .filter((thing) => thing.type !== 'hidden' && thing.offsetParent && !thing.matches('.unheard'))
  .map((thing) => [thing.name + ' ' + thing.textContent.slice(0, 20),
                   (thing.closest('label') || thing).getBoundingClientRect()])
  .filter(([, box]) => box.height < 48 || box.width < 44).map(([name, box]) => `${name} ${box.width}x${box.height}`)"""
OPEN_ALL = "document.querySelectorAll('details').forEach((part) => { part.open = true; })"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        made = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        yield made
        made.close()


@pytest.fixture
def desk() -> Iterator[ShelfDesk]:
    made = ShelfDesk()
    made.clock = time.monotonic_ns
    made.papers().keep(fit(readings(paper_one()), BOX).model_copy(update={"name": "paper one"}))
    made.say_day()
    yield made
    made.kept_things.close()


@pytest.fixture(params=[True, False], ids=["scripts", "no scripts"])
def phone(desk: ShelfDesk, browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    server = Server(shelf_app(desk), "127.0.0.1", 0)
    server.start()
    context = browser.new_context(
        viewport={"width": 320, "height": 640},
        base_url=f"http://127.0.0.1:{server.port}",
        java_script_enabled=request.param,
    )
    context.set_default_timeout(8000)
    page = context.new_page()
    page.goto("/pair")
    pairing = desk.pairing()
    assert isinstance(pairing, FakePairing)
    page.fill("input[name=code]", pairing.code or "")
    page.click("main button")
    page.wait_for_url("**/phone*")
    yield page
    context.close()
    server.close()


def test_every_page_fits_the_narrowest_phone(phone: Page, desk: ShelfDesk) -> None:
    """At 320 pixels nothing runs over the edge, no word of a picture lies on another, every target is big enough."""
    paper = desk.papers().kept()[0].id
    tones = {"light-negative": "1.25", "dark-negative": "0.22", "light": "first", "dark": "last"}
    asked = {"go": "1", "paper": paper}
    times = {"soft-seconds": "10.1", "hard-seconds": "8", "held": "skin", "by-r": "-20"}
    for address, query in (
        ("/contrast", asked | tones),
        ("/contrast", asked | tones | {"dark-negative": "1.2"}),
        ("/contrast/hold", asked | times),
        ("/contrast/negative", {"go": "1", "thin": "0.22", "dense": "1.25"}),
        (f"/carry/{desk.crane.id}", {"go": "1", "image-long": "330", "aperture": "5.6"}),
        (f"/carry/{desk.crane.id}", {"go": "1", "image-long": "much"}),
    ):
        phone.goto(f"{address}?{urlencode(query)}")
        # A page's own scripts may be off; what a test asks the page is not one of them.
        phone.evaluate(OPEN_ALL)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 320, address
        assert phone.evaluate(TOUCHING_WORDS) == [], address
        assert phone.evaluate(SMALL_TARGETS) == [], address


def test_a_print_is_carried_over_by_thumb(phone: Page, desk: ShelfDesk) -> None:
    """From the recipe's page to the check strip that is loaded, with taps and one number alone."""
    phone.goto(f"/shelf/{desk.crane.id}")
    phone.click("a:has-text('Carry over')")
    phone.fill("input[name='image-long']", "330")
    phone.click("button:has-text('Show old and new')")
    phone.wait_for_selector("text=becomes 15.8 s")
    phone.click("button:has-text('Keep as a new recipe')")
    phone.wait_for_url("**/carried/*")
    phone.click("form[action='/act/load'] button")
    phone.wait_for_url("**/")
    plan = desk.status().plan
    assert plan is not None
    assert plan.title == "Harbour crane, 8x10, carried over: check strip through soft"
