"""What holds on every page there is: one heading, one label a field, one row of ways, nothing wider than the window."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.every_page import DARK_PAGES, DAY_PAGES, OPEN_ALL, SHEET, full_desk, named
from tools.stand_in_desk import CODE, StandInDesk

from webui.app import create_app
from webui.server import Server

pytestmark = pytest.mark.browser

WIDTHS = (320, 360, 390, 640, 820, 960, 1000, 1150, 1280)
"""Phones, a screen of 1280 zoomed to 200 %, tablets either way up, and where the wide pages begin."""
NO_PAGES = (
    "/static/<mark>/<name>",
    "/manifest.webmanifest",
    "/favicon.ico",
    "/live",
    "/status.json",
    "/now",
    "/editions/<source>/edition.json",
)
NEEDS_MORE = ("/carried/<carried>", "/typed/<key>", "/practice/print/<sheet>")
"""Pages of what was carried, sent or developed just before; their own tests look at them."""
HEADINGS = """() => [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')]
  .filter((one) => one.checkVisibility({visibilityProperty: true}))
  .map((one) => [Number(one.tagName[1]), one.textContent.trim()])"""
LABELS = """() => [...document.querySelectorAll('main :is(input, select, textarea)')]
  .filter((one) => one.labels && one.labels.length > 1)
  .map((one) => `${one.name}: ${[...one.labels].map((label) => label.textContent.trim())}`)"""
# a corner's ring lies 12 px within what a thumb may touch, which may reach over the edge of the narrowest phone
OUTSIDE = """() => [...document.querySelectorAll('body *')]
  .filter((one) => !one.closest('svg, .unseen, .skip, .unheard, .corner'))
  .filter((one) => one.checkVisibility({visibilityProperty: true}))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 1 && (box.left < -1 || box.right > document.documentElement.clientWidth + 1))
  .map(([one, box]) => `${one.tagName}.${one.className} ${box.left} to ${box.right}`)"""
CUT = """() => [...document.querySelectorAll('main :is(button, a, summary, p, label, span), nav a, .bar *')]
  .filter((one) => !one.closest('svg, .unseen, .unheard') && one.checkVisibility({visibilityProperty: true}))
  .filter((one) => getComputedStyle(one).display !== 'inline' && one.clientWidth > 1)
  .filter((one) => one.scrollWidth > one.clientWidth + 1)
  .map((one) => `${one.tagName}.${one.className} “${one.textContent.trim().slice(0, 30)}”`)"""
BROKEN = """(among) => [...document.querySelectorAll(among)]
  .filter((one) => one.checkVisibility({visibilityProperty: true})).flatMap((one) => {
  const found = [], texts = document.createTreeWalker(one, NodeFilter.SHOW_TEXT), word = document.createRange();
  while (texts.nextNode()) for (const {0: letters, index} of texts.currentNode.data.matchAll(/\\S+/g)) {
    word.setStart(texts.currentNode, index); word.setEnd(texts.currentNode, index + letters.length);
    const tops = new Set([...word.getClientRects()].map((box) => Math.round(box.top)));
    const {left, right} = word.getBoundingClientRect(), around = one.getBoundingClientRect();
    if (tops.size > 1 || left < around.left || right > around.right) found.push(letters);
  }
  return found;
})"""
"""Words that go on in the next line, or run out of what they stand in."""
BESIDE = """() => { const all = [...document.querySelector('.seven').querySelectorAll('a, button, span')]
  .filter((one) => one.checkVisibility()).map((one) => one.getBoundingClientRect().top);
  return all.filter((top) => top === all[0]).length; }"""
ROWS = "() => new Set([...document.querySelectorAll('.nav a')].map((one) => one.offsetTop)).size"
ALL_OF_IT = f"() => [document.documentElement.scrollWidth, ({OUTSIDE})(), ({CUT})(), ({ROWS})()]"


@pytest.fixture
def full(tmp_path: Path) -> Iterator[StandInDesk]:
    """A desk with something of everything, practice darkroom included."""
    made = full_desk(tmp_path, practice=True)
    yield made
    made.kept_things.close()


@pytest.fixture
def page(full: StandInDesk, browser: Browser) -> Iterator[Page]:
    """A paired phone before it."""
    server = Server(create_app(full, hosts=["127.0.0.1"]), "127.0.0.1", 0)
    server.start()
    context = browser.new_context(base_url=f"http://127.0.0.1:{server.port}")
    context.set_default_timeout(20_000)
    full.pairing().code = CODE
    made = context.new_page()
    made.goto(f"/pair?code={CODE}")
    made.click("main button")
    made.wait_for_url("**/phone*")
    yield made
    context.close()
    server.close()


def _by_day(page: Page, desk: StandInDesk) -> Iterator[str]:
    for address in named(desk, tuple(each for each in DAY_PAGES if each != "/pair")):
        desk.say_day()
        page.goto(address)
        page.wait_for_selector("html.day")
        yield address


def test_every_page_that_is_registered_is_looked_at(full: StandInDesk) -> None:
    """Each address that a browser can open is among the pages that are looked at here, or is named as none."""
    rules = create_app(full, hosts=["127.0.0.1"]).url_map
    at = rules.bind("127.0.0.1")
    looked_at = {
        at.match(address.partition("?")[0], "GET", return_rule=True)[0].rule
        for address in named(full, (*DAY_PAGES, *DARK_PAGES))
        if address != "/nowhere"
    }
    told = {rule.rule for rule in rules.iter_rules() if "GET" in (rule.methods or ())}
    files = {rule for rule in told if rule.endswith((".png", ".jpg", ".csv", ".zip", ".svg", ".pdf"))}
    assert told - looked_at - files == {*NO_PAGES, *NEEDS_MORE}


def test_every_page_has_headings_in_order_and_a_label_a_field(page: Page, full: StandInDesk) -> None:
    """One heading of the first order, before all others; none skips an order; no field has two labels."""
    wrong = []
    for address in _by_day(page, full):
        page.evaluate(OPEN_ALL)
        orders = [order for order, _ in page.evaluate(HEADINGS)]
        skips = any(below - above > 1 for above, below in pairwise(orders))
        if orders[:1] != [1] or orders.count(1) != 1 or skips:
            wrong.append(f"{address}: {page.evaluate(HEADINGS)}")
        wrong += [f"{address}: {each}" for each in page.evaluate(LABELS)]
    full.show(**SHEET)
    for address in ("/", "/practice"):
        page.goto(address)
        if [order for order, _ in page.evaluate(HEADINGS)].count(1) != 1:
            wrong.append(f"{address} with a sheet: {page.evaluate(HEADINGS)}")
    assert wrong == []


def test_no_page_is_wider_than_the_window_nor_cuts_a_word(page: Page, full: StandInDesk) -> None:
    """At every width, folds shut and open: no scrolling sideways, nothing outside, no word cut, the ways in one row."""
    wrong = []
    for address in _by_day(page, full):
        for folds in ("shut", "open"):
            if folds == "open":
                page.evaluate(OPEN_ALL)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 800})
                wide, outside, cut, rows = page.evaluate(ALL_OF_IT)
                found = [*outside, *(f"cut: {each}" for each in cut)]
                if wide > width or found:
                    wrong.append(f"{address} at {width}, folds {folds}: {wide} wide, {found[:4]}")
                if rows != 1:
                    wrong.append(f"{address} at {width}: the ways have {rows} rows")
    assert wrong == []


@pytest.mark.parametrize("address", ["/looked/s1", "/looked/s1?light=-1&dark=-2", "/"])
def test_no_word_of_how_it_looked_is_broken(page: Page, full: StandInDesk, address: str) -> None:
    """At every width, with text as it is and twice as large, each choice has whole words, by day and in the dark.

    As they are, a phone has three in a row beside each other, and a wide page all seven.
    """
    words, wrong = ".seven :is(a, button, span), .patches :is(th, td)", []
    full.show(closed_sheet="s1", can=("load",), open=False, plan=None, next=None, steps=())
    if address == "/":
        page.goto(address)
        page.locator("details:has(form.looked) > summary").click()
    else:
        full.say_day()
        page.goto(address)
        page.wait_for_selector("html.day")
    for size in ("100%", "200%"):
        page.evaluate("size => { document.documentElement.style.fontSize = size; }", size)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            wide = page.evaluate("document.documentElement.scrollWidth")
            if found := page.evaluate(BROKEN, words):
                wrong.append(f"{width} at {size}: {found}")
            if wide > width:
                wrong.append(f"{width} at {size}: {wide} wide")
            beside = page.evaluate(BESIDE)
            if not beside or (size == "100%" and beside != (7 if width >= 760 else 3)):
                wrong.append(f"{width} at {size}: {beside} in a row")
    assert wrong == []
