"""The dark pages and practice as axe sees them: no violation of any impact but the dark's dimness.

By day `test_every_page.py` asks it, page by page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from tools.axe import needs_axe, violations
from tools.browser import let_in
from tools.every_page import DARK_PAGES, OPEN_ALL, SHEET, full_desk
from tools.stand_in_desk import CODE, KEY, StandInDesk

from webui.app import create_app
from webui.frame.red import BRIGHTEST, cookie_name
from webui.server import Server

pytestmark = [pytest.mark.browser, needs_axe]

Opened = tuple[StandInDesk, Callable[..., Page]]


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Callable[[bool], Opened]]:
    """Gives a desk with something of everything on it, and what opens phones before it."""
    contexts: list[BrowserContext] = []
    servers: list[Server] = []

    def give(practice: bool) -> Opened:
        desk = full_desk(tmp_path, practice=practice)
        server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
        server.start()
        servers.append(server)
        base = f"http://127.0.0.1:{server.port}"

        def phone(red: int | None = None, width: int = 390) -> Page:
            context = browser.new_context(viewport={"width": width, "height": 844}, base_url=base)
            context.set_default_timeout(20_000)
            contexts.append(context)
            desk.pairing().code = CODE
            let_in(context, base)
            if red is not None:
                context.add_cookies([{"name": cookie_name(KEY), "value": str(red), "url": base}])
            return context.new_page()

        return desk, phone

    yield give
    for context in contexts:
        context.close()
    for server in servers:
        server.close()


def _judge(page: Page, addresses: tuple[str, ...], *left_out: str, face: str = "html") -> list[str]:
    found: list[str] = []
    for address in addresses:
        page.goto(address)
        page.wait_for_selector(face)
        page.evaluate(OPEN_ALL)
        found += [f"{address}: {what}" for what in violations(page, *left_out)]
    return found


def test_in_practice_nothing_is_wrong(opened: Callable[[bool], Opened]) -> None:
    """The practice darkroom's bright reds and its first pages: enough contrast for any eye, with an open sheet too."""
    desk, phone = opened(True)
    page = phone()
    assert _judge(page, (*DARK_PAGES, "/practice")) == []
    desk.show(**SHEET)
    assert _judge(page, ("/", "/practice")) == []


@pytest.mark.parametrize("level", [1, pytest.param(3, marks=pytest.mark.long), BRIGHTEST])
def test_in_the_dark_nothing_is_wrong_but_that_it_is_dark(opened: Callable[[bool], Opened], level: int) -> None:
    """Below the fifth level the reds may be too dim for any eye; all else holds at every level."""
    desk, phone = opened(False)
    page = phone(level)
    left_out = () if level == BRIGHTEST else ("color-contrast",)
    assert _judge(page, DARK_PAGES, *left_out) == []
    desk.show(**SHEET)
    assert _judge(page, ("/",), *left_out) == []
    desk.show(place="lead-in", stop_possible=True, can=())
    assert _judge(page, ("/", "/sheets"), *left_out, face="html.stop") == []


def test_what_is_wrong_is_found(opened: Callable[[bool], Opened]) -> None:
    """A page with a picture that has no words, and grey on grey, is no page without violations."""
    _, phone = opened(False)
    page = phone()
    page.goto("/phone")
    page.evaluate(
        "document.querySelector('main').innerHTML = '<img src=x><p style=\"color:#777;background:#888\">grey</p>'"
    )
    assert {what.split()[0] for what in violations(page)} >= {"image-alt", "color-contrast"}
