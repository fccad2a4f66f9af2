"""A real Chromium, a desk that is set by hand behind the real server, and pixels that can be read."""

from __future__ import annotations

import io
import shutil
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from tools.stand_in_desk import CODE, StandInDesk

from webui.app import create_app
from webui.server import Server

Pixels = NDArray[np.uint8]
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]
BRIGHTEST_RED = 90
"""Of 255: what the dark face may show at the most, in red alone."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium a module."""
    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=shutil.which("chromium"), args=ARGS)
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
    """Opens paired phones; each fails the test that makes its console complain, or that fetches from elsewhere."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []
    base = f"http://127.0.0.1:{server.port}"

    def open_one(width: int = 390, height: int = 844, **more: Any) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, base_url=base, **more)
        contexts.append(context)
        context.set_default_timeout(20_000)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if "Security" in said.text else None)
        page.on("request", lambda asked: None if asked.url.startswith(base) else complaints.append(asked.url))
        desk.pairing().code = CODE
        desk.pairing().forget_tries()
        page.goto(f"/pair?code={CODE}")
        page.click("main button")
        page.wait_for_url("**/phone*")
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def phone(open_phone: Callable[..., Page]) -> Page:
    """A paired phone of the usual width."""
    return open_phone()


def look(page: Page, *, whole: bool = False) -> Pixels:
    """Return what the screen shows, height × width × (red, green, blue)."""
    return np.asarray(Image.open(io.BytesIO(page.screenshot(full_page=whole))).convert("RGB"))


def is_dark(pixels: Pixels) -> bool:
    """Tell whether everything is in the red channel, and no brighter than it may be."""
    return not pixels[:, :, 1:].any() and int(pixels[:, :, 0].max()) <= BRIGHTEST_RED


def is_day(pixels: Pixels) -> bool:
    """Tell whether most of the screen is paper white."""
    return float((pixels.min(axis=2) > 240).mean()) > 0.5


def wait_until(true: Callable[[], bool], page: Page, seconds: float = 5.0) -> bool:
    """Wait for something to become true while the page lives on."""
    end = time.monotonic() + seconds
    while not true() and time.monotonic() < end:
        page.wait_for_timeout(30)
    return true()
