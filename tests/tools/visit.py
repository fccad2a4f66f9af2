"""What is asked of each page as it stands in the browser, law by law: one visit serves them all."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import Final

from playwright.sync_api import Page

from controller.words import say
from tools.axe import AXE, violations
from tools.every_page import OPEN_ALL
from tools.stand_in_desk import StandInDesk

WIDTHS = (320, 360, 390, 640, 820, 960, 1000, 1150, 1280)
"""Phones, a screen of 1280 zoomed to 200 %, tablets either way up, and where the wide pages begin."""
SIZES: Final = ((320, 640, 1), (390, 844, 2), (320, 640, 2), (195, 422, 1))
"""Screens and how many times as large their text is: a phone zoomed to 200 % among them."""
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
WAYS = """() => {
  const ways = [...document.querySelectorAll('.nav a')].map((one) => one.getBoundingClientRect());
  const thumbs = ways.flatMap((box) => [box.width, box.height]);
  return [new Set(ways.map((box) => box.top)).size, Math.min(...thumbs)];
}"""
"""How many rows the ways stand in, and how wide or high the smallest of them is."""
THUMB: Final = 48
"""Pixels that a way is wide and high at the least: a thumb finds it in the dark, too."""
BOTH = f"""() => {{
  const all = () => [document.documentElement.scrollWidth, ({OUTSIDE})(), ({CUT})(), ({WAYS})()];
  const folds = [...document.querySelectorAll('details')].map((fold) => [fold, fold.name, fold.open]), shut = all();
  {OPEN_ALL}
  const open = all();
  folds.forEach(([fold, , was]) => {{ fold.open = was; }});
  folds.forEach(([fold, name]) => {{ fold.name = name; }});
  return {{shut, open}};
}}"""
"""How wide the page is, what stands outside it, which words are cut, how the ways stand; its folds shut and open."""
STANDS = """() => {
  document.activeElement.blur();
  const seen = (which) => [...document.querySelectorAll(which)].filter((one) =>
    one.checkVisibility({visibilityProperty: true}) && one.getBoundingClientRect().width > 0).length;
  const title = document.querySelector('main h1');
  return [document.querySelectorAll('main').length, seen('nav') > 0, !!title && !!title.innerText.trim(),
          seen('.bar') === seen('footer .bar')];
}"""
DEFAULTS = """() => [...document.querySelectorAll('form')].flatMap((form) => {
  const own = [...document.querySelectorAll('button, input[type=submit], input[type=image]')]
    .filter((one) => one.form === form && one.type !== 'button' && !one.disabled);
  const typed = [...form.elements].some((one) => ['text', 'search', 'date'].includes(one.type));
  if (!typed || !own.length) return [];
  const does = (one) => [one.name, one.value, one.getAttribute('formaction') || form.getAttribute('action')].join(' ');
  const sure = own.filter((one) => one.matches('.sure'));
  const loud = own.filter((one) => !one.matches('.plain'));
  const main = [...own, ...loud, ...sure].at(-1);
  if (does(own[0]) === does(main)) return [];
  return [`${form.getAttribute('action')}: Enter does “${does(own[0])}”, not “${does(main)}”`];
})"""
"""The forms with fields whose first button, which is what Enter presses, does something else than their main one.

That is the last which is sure; where none is, the last that is not plain.
"""
LOST = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  document.querySelectorAll('body *').forEach((one) => {
    const box = one.getBoundingClientRect();
    if (!one.checkVisibility({visibilityProperty: true}) || box.width < 2 || box.height < 2) return;
    if (one.closest('svg, .slide, .glass, .row, [hidden]') && !one.matches('svg')) return;
    const text = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if ((text || one.matches('svg, img, input, select, textarea, button')) && box.right > wide + 1)
      found.push(`${one.tagName}.${one.className} “${one.textContent.trim().slice(0, 30)}” ends at ${box.right}`);
  });
  document.querySelectorAll('.f label').forEach((label) => {
    const words = label.querySelector('span'), field = label.querySelector('input, select, textarea');
    if (!words || !field || !words.checkVisibility() || !field.checkVisibility()) return;
    const above = words.getBoundingClientRect(), below = field.getBoundingClientRect();
    if (above.bottom > below.top + 2 && above.right > below.left + 2 && below.right > above.left + 2)
      found.push(`“${words.textContent}” lies over its field by ${above.bottom - below.top}`);
    const range = document.createRange();
    range.selectNodeContents(words);
    if (range.getBoundingClientRect().right > label.getBoundingClientRect().right + 2)
      found.push(`“${words.textContent}” runs out of its column`);
  });
  return found;
}"""
"""What runs over the page's edge, and labels that lie over their field or run into the next one."""
UNDER = """() => {
  const bar = document.querySelector('.bar'), edge = bar.getBoundingClientRect().top;
  const low = [...document.querySelectorAll('main *')]
    .filter((one) => !one.closest('.unheard, .unseen, details:not([open])'))
    .filter((one) => one.checkVisibility({visibilityProperty: true}) && one.getBoundingClientRect().height > 2);
  return {covered: Math.max(...low.map((one) => one.getBoundingClientRect().bottom)) - edge,
          over: edge < innerHeight / 2, fixed: getComputedStyle(bar).position, wide: bar.offsetWidth <= innerWidth};
}"""
"""At the page's end: how far the bar lies over the last of it, and whether it takes half the screen."""


class Visits:
    """Goes from page to page by day, and notes what is wrong, each under the law that it breaks."""

    def __init__(self, page: Page, desk: StandInDesk) -> None:
        self._page, self._desk = page, desk
        self.looked: Counter[str] = Counter()
        """How many times there was something to judge, by law."""
        self.wrong: dict[str, list[str]] = {}
        if AXE.exists():
            page.context.add_init_script(path=AXE)

    def visit(self, address: str) -> None:
        """Open a page once, and ask of it all that is asked."""
        self._size(390, 844)
        self._desk.say_day()
        self._open(address)
        self._landmarks(address)
        self._enter(address)
        self._end(address)
        self._width(address)
        self._size(390, 844)
        self._page.evaluate(OPEN_ALL)
        self._headings(address)
        if AXE.exists():
            for what in violations(self._page):
                self._note("axe", address, what)
        self._twice_as_large(address)

    def _open(self, address: str) -> None:
        self._page.goto(address)
        self._page.wait_for_selector("html.day")

    def _note(self, law: str, address: str, what: object) -> None:
        self.wrong.setdefault(law, []).append(f"{address}: {what}")

    def _size(self, width: int, height: int) -> None:
        self._page.set_viewport_size({"width": width, "height": height})

    def _landmarks(self, address: str) -> None:
        told = self._page.evaluate(STANDS)
        if told != [1, True, True, True]:
            self._note("landmarks", address, told)
        self._page.keyboard.press("Tab")
        if (words := self._page.evaluate("document.activeElement.textContent")) != say("page.skip"):
            self._note("landmarks", address, f"the first Tab leads to {words[:60]!r}")
        self._page.keyboard.press("Enter")
        if not self._page.evaluate("document.activeElement.id === 'main'"):
            self._note("landmarks", address, "the first way does not lead past the ways")
        self.looked["landmarks"] += 1

    def _enter(self, address: str) -> None:
        if address == "/papers/new":
            self._page.locator(".adds button").first.click()
            self._page.wait_for_selector("button.drop")
        self.looked["enter"] += self._page.locator("main form").count()
        for each in self._page.evaluate(DEFAULTS):
            if "/practice/hand" not in each:
                self._note("enter", address, each)
        if address == "/papers/new":
            self._open(address)  # as it was, for the other laws

    def _end(self, address: str) -> None:
        if not self._page.locator(".bar").count():
            return
        for width, height, times in SIZES:
            self._size(width, height)
            self._page.evaluate(
                "times => { document.documentElement.style.fontSize = `${16 * times}px`;"
                " scrollTo(0, document.documentElement.scrollHeight); }",
                times,
            )
            self._page.wait_for_timeout(30)
            told = self._page.evaluate(UNDER)
            if told.pop("covered") > 0 or told != {"over": False, "fixed": "fixed", "wide": True}:
                self._note("end", address, f"{width} by {height}, text {times}: {self._page.evaluate(UNDER)}")
            self.looked[f"end {width} {times}"] += 1
        self._page.evaluate("document.documentElement.style.fontSize = ''; scrollTo(0, 0)")

    def _width(self, address: str) -> None:
        for width in WIDTHS:
            self._size(width, 800)
            for folds, (wide, outside, cut, (rows, least)) in self._page.evaluate(BOTH).items():
                found = [*outside, *(f"cut: {each}" for each in cut)]
                if wide > width or found:
                    self._note("width", address, f"at {width}, folds {folds}: {wide} wide, {found[:4]}")
                if rows != 1:
                    self._note("width", address, f"at {width}: the ways have {rows} rows")
                if least < THUMB:
                    self._note("thumb", address, f"at {width}: a way is {least:g} wide or high")

    def _headings(self, address: str) -> None:
        found = self._page.evaluate(HEADINGS)
        orders = [order for order, _ in found]
        skips = any(below - above > 1 for above, below in pairwise(orders))
        if orders[:1] != [1] or orders.count(1) != 1 or skips:
            self._note("headings", address, found)
        for each in self._page.evaluate(LABELS):
            self._note("headings", address, each)

    def _twice_as_large(self, address: str) -> None:
        self._page.evaluate("document.documentElement.style.fontSize = '32px'")
        if (wide := self._page.evaluate("document.documentElement.scrollWidth")) > 390:
            self._note("text", address, f"{wide} wide")
        for each in self._page.evaluate(LOST):
            self._note("text", address, each)
        for each in self._page.evaluate(CUT):
            self._note("text", address, f"cut: {each}")
