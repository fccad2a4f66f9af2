"""What holds on every page there is: one heading, one label a field, one row of ways, nothing wider than the window."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.axe import AXE, needs_axe
from tools.browser import let_in
from tools.every_page import DARK_PAGES, DAY_PAGES, SHEET, full_desk, named
from tools.stand_in_desk import CODE, StandInDesk
from tools.visit import HEADINGS, SIZES, WIDTHS, Visits

from webui.app import create_app
from webui.server import Server

pytestmark = pytest.mark.browser

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


@pytest.fixture
def full(tmp_path: Path) -> Iterator[StandInDesk]:
    """A desk with something of everything, practice darkroom included."""
    made = full_desk(tmp_path, practice=True)
    yield made
    made.kept_things.close()


@contextmanager
def _before(desk: StandInDesk, browser: Browser) -> Iterator[Page]:
    """Serve a desk, and give a paired phone before it."""
    server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
    server.start()
    base = f"http://127.0.0.1:{server.port}"
    context = browser.new_context(base_url=base)
    context.set_default_timeout(20_000)
    try:
        desk.pairing().code = CODE
        let_in(context, base)
        yield context.new_page()
    finally:
        context.close()
        server.close()


@pytest.fixture
def page(full: StandInDesk, browser: Browser) -> Iterator[Page]:
    """A paired phone before it."""
    with _before(full, browser) as made:
        yield made


@pytest.fixture(scope="module")
def visits(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Visits:
    """What one visit to each page by day has found, for all laws."""
    desk = full_desk(tmp_path_factory.mktemp("full"), practice=True)
    with closing(desk.kept_things), _before(desk, browser) as page:
        made = Visits(page, desk)
        for address in named(desk, tuple(each for each in DAY_PAGES if each != "/pair")):
            made.visit(address)
    return made


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


def _is_kept(visits: Visits, law: str) -> None:
    assert visits.wrong.get(law, []) == []


def test_every_page_has_headings_in_order_and_a_label_a_field(visits: Visits) -> None:
    """One heading of the first order, before all others; none skips an order; no field has two labels."""
    _is_kept(visits, "headings")


def test_no_page_is_wider_than_the_window_nor_cuts_a_word(visits: Visits) -> None:
    """At every width, folds shut and open: no scrolling sideways, nothing outside, no word cut, the ways in one row."""
    _is_kept(visits, "width")


def test_every_way_is_as_large_as_a_thumb(visits: Visits) -> None:
    """At every width each link of the bar of pages is at least 48 pixels wide and high, as in the dark."""
    _is_kept(visits, "thumb")


def test_text_twice_as_large_fits(visits: Visits) -> None:
    """With text at 200 % a phone's page is no wider than the screen, and no label lies over anything."""
    _is_kept(visits, "text")


def test_enter_does_what_the_main_button_does(visits: Visits) -> None:
    """In no form is the first button, which Enter presses, another than the main one, with many lines or few."""
    _is_kept(visits, "enter")
    assert visits.looked["enter"] > 40


def test_every_page_has_its_landmarks(visits: Visits) -> None:
    """Each page has ways, content and a heading of the first order; the first Tab leads past the ways."""
    _is_kept(visits, "landmarks")
    assert visits.looked["landmarks"] > 70


def test_at_its_end_no_page_lies_under_its_bar(visits: Visits) -> None:
    """The bar stands on the screen; scrolled to its end the page is clear of it, at any size of screen and text."""
    _is_kept(visits, "end")
    assert all(visits.looked[f"end {width} {times}"] > 9 for width, _, times in SIZES)


@needs_axe
def test_by_day_axe_finds_nothing_wrong(visits: Visits) -> None:
    """Every page of the lit room, its folds open: no violation of any impact."""
    _is_kept(visits, "axe")


WRONG = """<!doctype html><html class="day"><nav class="nav"><a href="#b">way</a></nav>
<main><a href="#a">no way past</a><h1>one</h1><h3>three</h3>
<form><label for="a">one</label><label for="a">two</label><input id="a" type="text"><button name="no">no</button>
<button name="yes" class="sure">yes</button></form><img src="x"><p style="width: 500px">wide</p><button>wide</button>
<p>last</p><p class="bar" style="position: fixed; bottom: 0; height: 60%">bar</p></main></html>"""


def test_what_is_wrong_is_found_by_each_law(page: Page, full: StandInDesk) -> None:
    """A page that breaks all of them is told of by all of them."""
    page.route("**/wrong", lambda route: route.fulfill(body=WRONG, content_type="text/html"))
    visits = Visits(page, full)
    visits.visit("/wrong")
    laws = {"headings", "width", "thumb", "text", "enter", "landmarks", "end"}
    assert set(visits.wrong) == laws | ({"axe"} if AXE.exists() else set())


def test_a_sheet_adds_no_heading_of_the_first_order(page: Page, full: StandInDesk) -> None:
    """With an open sheet, too, the first page and the practice darkroom have one."""
    full.show(**SHEET)
    for address in ("/", "/practice"):
        page.goto(address)
        orders = [order for order, _ in page.evaluate(HEADINGS)]
        assert orders.count(1) == 1, address


def test_each_test_is_opened_by_a_thumb(page: Page, full: StandInDesk) -> None:
    """On the list of tests every way into one is as high as a finger wants, 44 pixels or more."""
    full.say_day()
    page.goto("/tests")
    page.wait_for_selector("html.day")
    high = page.evaluate("[...document.querySelectorAll('main h2 a')].map((one) => one.getBoundingClientRect().height)")
    assert len(high) > 6
    assert min(high) >= 44


@pytest.mark.parametrize("day", [False, True])
@pytest.mark.parametrize("address", ["/sheets", "/sheets/s1"])
def test_no_word_of_a_list_is_broken_by_large_text(page: Page, full: StandInDesk, address: str, day: bool) -> None:
    """With text at 200 % a row's figures stand below its words rather than break them, on the phones there are."""
    if day:
        full.say_day()
    else:
        full.show(day_until_ns=None)
    page.goto(address)
    page.wait_for_selector("html.day" if day else "html.live:not(.day)")
    page.evaluate("document.documentElement.style.fontSize = '32px'")
    for width in (390, 360):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.locator(".what:visible").count()
        assert page.evaluate(BROKEN, ".what, .what small, .much") == [], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width


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
