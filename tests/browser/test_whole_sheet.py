"""The tutorial in a real Chromium, against the real daemon: a strip, a pick, and a split-grade sheet, all by foot."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

ROOT = Path(__file__).resolve().parents[2]
_SETUP = {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
STRIP = {
    "format": "treadle/strip/1",
    "title": "Short strip",
    "filter": "soft",
    "times": {"kind": "seconds", "step": 1.0, "bands": 3},
    "card": "cover",
    "pace": "press",
    **_SETUP,
}
RECIPE = {
    "format": "treadle/recipe/1",
    "title": "Short sheet",
    "light": [{"filter": "soft", "seconds": 1.0}, {"filter": "hard", "seconds": 4.5}],
    "local": [{"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1"}],
    **_SETUP,
}


class Served:
    """The daemon of the README's first command, with two short things on its shelf."""

    def __init__(self, folder: Path) -> None:
        for name, form in (("strip", STRIP), ("recipe", RECIPE)):
            place = folder / f"{name}.json"
            place.write_text(json.dumps(form), encoding="utf-8")
            subprocess.run([*_TREADLE, "import", str(place), "--data", str(folder / "data")], check=True, cwd=ROOT)
        self.errors = folder / "errors"
        """What the daemon complained of."""
        with self.errors.open("w") as errors:
            self.process = subprocess.Popen(
                [
                    *_TREADLE,
                    "serve",
                    "--simulate",
                    "--data",
                    str(folder / "data"),
                    "--host",
                    "127.0.0.1",
                    "--port",
                    "0",
                ],
                cwd=ROOT,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        assert self.process.stdout is not None
        self.port = self.code = ""
        for line in self.process.stdout:
            if port := re.search(r"localhost:(\d+)", line):
                self.port = port.group(1)
            if code := re.search(r"(\d{4}) (\d{4})", line):
                self.code = code.group(1) + code.group(2)
                return

    def close(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(10)
        assert self.process.stdout is not None
        self.process.stdout.close()


_TREADLE = [sys.executable, "treadle.py"]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    made = Served(tmp_path)
    yield made
    made.close()


def _until(page: Page, place: str, seconds: float = 12.0) -> None:
    """Wait until the daemon stands at `place`."""
    until = time.monotonic() + seconds
    while (now := page.request.get("/status.json").json()["place"]) != place:
        assert time.monotonic() < until, f"stands at {now!r}, not at {place!r}"
        time.sleep(0.05)


def _tread(page: Page, seconds: float = 0.15) -> None:
    page.hover(".treadle")
    page.mouse.down()
    time.sleep(seconds)
    page.mouse.up()


def _light(page: Page, then: str) -> None:
    time.sleep(0.7)  # a press within half a second of a light starts nothing
    _tread(page)
    _until(page, "lead-in")
    _until(page, "light")
    _until(page, then)


def _load(page: Page, title: str) -> None:
    page.goto("/")
    page.click(f"button:has-text('{title}')")
    _until(page, "change filter")
    page.goto("/practice")
    page.wait_for_selector(".treadle")
    time.sleep(0.3)


def _close(page: Page, then: str) -> None:
    time.sleep(0.6)
    _tread(page, 1.0)
    _until(page, then)


def _pick_the_second_band(page: Page) -> None:
    """By day, tap a band of the strip's record and take it into a new recipe."""
    page.goto("/")
    page.click("summary:has-text('paper is away')")
    page.click("form[action='/act/paper-away'] button")
    page.wait_for_timeout(1500)
    page.goto("/sheets")
    page.click("a:has-text('Short strip')")
    page.click("a:has-text('pick a band')")
    page.click("a[href*='band=2&between=0']")
    page.click("button[form=pick]")
    page.wait_for_url("**done=1")
    assert "Taken over" in page.inner_text("main")
    page.goto("/sheets")
    page.click("a:has-text('Short strip')")
    assert "band 2" in page.inner_text("p.given")
    page.goto("/")
    page.click("form[action='/act/paper-out'] button")
    page.wait_for_timeout(500)


@pytest.mark.browser
def test_a_strip_and_a_whole_sheet_by_foot(browser: Browser, served: Served) -> None:
    """A newcomer pairs, works a strip and a split-grade sheet with the foot alone, and finds both on record."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{served.port}")
    page = context.new_page()
    try:
        page.goto(f"/pair?code={served.code}")
        page.click("main button")
        page.wait_for_url("**/phone*")
        _load(page, "Short strip")
        _tread(page)
        _until(page, "settling")
        _until(page, "ready")
        for then in ("ready", "ready", "finished"):
            _light(page, then)
        _close(page, "ready")
        _pick_the_second_band(page)
        _load(page, "Short sheet")
        _tread(page)
        _until(page, "ready")
        _light(page, "ready")
        _light(page, "change filter")
        time.sleep(0.7)
        _tread(page)
        _until(page, "ready")
        _light(page, "finished")
        _close(page, "change filter")  # the first filter is asked for again
        page.goto("/sheets")
        words = page.inner_text("main")
        assert "Short strip" in words
        assert "Short sheet" in words
        page.click("a:has-text('Short sheet')")
        told = page.inner_text("main")
        assert told.count("1.0") >= 2, told
        assert "4.5" in told
        assert served.errors.read_text(encoding="utf-8") == ""
    finally:
        context.close()
