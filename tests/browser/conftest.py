"""A desk that is set by hand behind the real server, and phones before it in the real Chromium."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from tools.browser import let_in
from tools.stand_in_desk import CODE, KEY, StandInDesk
from tools.walk import ServedShelf

from webui.app import create_app
from webui.frame.red import cookie_name
from webui.server import Server


@pytest.fixture
def served(tmp_path: Path) -> Iterator[ServedShelf]:
    """The real command, with two short things on its shelf."""
    made = ServedShelf(tmp_path)
    yield made
    made.close()


@pytest.fixture
def desk() -> StandInDesk:
    """A desk with a practice darkroom, on the machine's own clock."""
    made = StandInDesk(practice=True)
    made.clock = time.monotonic_ns
    return made


@pytest.fixture
def server(desk: StandInDesk) -> Iterator[Server]:
    """The real server around the desk."""
    made = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
    made.start()
    yield made
    made.close()


@pytest.fixture
def open_phone(browser: Browser, server: Server, desk: StandInDesk) -> Iterator[Callable[..., Page]]:
    """Opens paired phones; each fails the test that makes its console complain, or that fetches from elsewhere.

    They are as dark as with real lines, at level `red`; with None as bright as a practice darkroom is.
    """
    contexts: list[BrowserContext] = []
    complaints: list[str] = []
    base = f"http://127.0.0.1:{server.port}"

    def open_one(width: int = 390, height: int = 844, *, red: int | None = 1, **more: Any) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, base_url=base, **more)
        contexts.append(context)
        context.set_default_timeout(20_000)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if "Security" in said.text else None)
        page.on("request", lambda asked: None if asked.url.startswith(base) else complaints.append(asked.url))
        desk.pairing().code = CODE
        desk.pairing().forget_tries()
        let_in(context, base)
        if red is not None:
            context.add_cookies([{"name": cookie_name(KEY), "value": str(red), "url": base}])
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def phone(open_phone: Callable[..., Page]) -> Page:
    """A paired phone of the usual width."""
    return open_phone()
