"""A real Chromium, and what its screen shows: pixels that can be read."""

from __future__ import annotations

import io
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, Playwright

from tools.stand_in_desk import CODE, StandInDesk
from webui.frame.red import LEVELS

Pixels = NDArray[np.uint8]
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]
BRIGHTEST_RED = LEVELS[0].ink
"""Of 255: what the dark face may show at the most, in red alone, on a phone that has chosen no brighter level."""

SIZES = """() => [...document.querySelectorAll('[data-panel] *')].flatMap((one) => [...one.childNodes]
  .filter((node) => node.nodeType === 3 && node.textContent.trim() && one.checkVisibility())
  .map((node) => [node.textContent.trim(), parseFloat(getComputedStyle(one).fontSize)]))"""
"""Each piece of text in the panel, with how large it is."""
OVER = 1.2
"""A fifth larger is seen as larger without comparing (common practice in type scales)."""
WIDTHS = ((390, 844), (320, 568), (1280, 800))


@contextmanager
def chromium(play: Playwright, *, whole: bool) -> Iterator[Browser]:
    """A Chromium without a window: the whole of it, or the shell that draws its pages and knows nothing of windows.

    A page costs the shell a quarter of the work; where there is none, the whole browser does it.
    """
    shell = None if whole else shutil.which("chromium-headless-shell")
    made = play.chromium.launch(executable_path=shell or shutil.which("chromium"), args=ARGS)
    yield made
    made.close()


def let_in(context: BrowserContext, base: str) -> None:
    """Pair a phone at once: what its page would send is sent, and nothing is drawn for it."""
    answer = context.request.post(f"{base}/pair", form={"code": CODE}, headers={"Origin": base}, max_redirects=0)
    assert answer.status == 303, answer.text()


def look(page: Page, *, whole: bool = False) -> Pixels:
    """Return what the screen shows, height × width × (red, green, blue)."""
    return np.asarray(Image.open(io.BytesIO(page.screenshot(full_page=whole))).convert("RGB"))


def is_dark(pixels: Pixels, brightest: int = BRIGHTEST_RED) -> bool:
    """Tell whether everything is in the red channel, and no brighter than it may be."""
    return not pixels[:, :, 1:].any() and int(pixels[:, :, 0].max()) <= brightest


def is_day(pixels: Pixels) -> bool:
    """Tell whether most of the screen is paper white."""
    return float((pixels.min(axis=2) > 240).mean()) > 0.5


def wait_until(true: Callable[[], bool], page: Page, seconds: float = 20.0) -> bool:
    """Wait for something to become true while the page lives on."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() >= end:
            return False
        page.wait_for_timeout(30)
    return True


def silence(desk: StandInDesk) -> Callable[[], None]:
    """Let the desk's answers hang, as a daemon that does not come to speak; return what ends it."""
    wait, silent = desk.wait, [True]

    def hang(after: int, timeout_s: float) -> Any:
        while silent[0]:
            time.sleep(0.02)
        return wait(after, timeout_s)

    desk.wait = hang  # type: ignore[method-assign]

    def end() -> None:
        silent[0] = False

    return end
