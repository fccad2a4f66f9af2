"""A real Chromium before the shelf's pages: a paired phone, as narrow as any, and what is asked of each page on it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Page

from tools.browser import let_in
from tools.shelf_phone import shelf_app
from tools.stand_in_desk import StandInDesk
from webui.server import Server

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


@contextmanager
def narrow_phone(desk: StandInDesk, browser: Browser, **more: Any) -> Iterator[Page]:
    """A paired phone of 320 pixels before the real server; `more` goes to the browser's context."""
    server = Server(shelf_app(desk), "127.0.0.1", 0)
    server.start()
    base = f"http://127.0.0.1:{server.port}"
    context = browser.new_context(viewport={"width": 320, "height": 640}, base_url=base, **more)
    context.set_default_timeout(8000)
    let_in(context, base)
    yield context.new_page()
    context.close()
    server.close()


def must_fit(page: Page, address: str) -> None:
    """Nothing runs over the edge, no word of a picture lies on another, every target is big enough."""
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 320, f"{address}: {wide} pixels wide"
    for script in (TOUCHING_WORDS, SMALL_TARGETS):
        found = page.evaluate(script)
        assert found == [], f"{address}: {found}"
