"""A walk through the pages of the real command in a real Chromium: what it serves, and a thumb on its treadle."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
_HURRIED = Path(__file__).with_name("hurried")
HURRIED = int(re.findall(r"^TIMES.*= (\d+)$", (_HURRIED / "sitecustomize.py").read_text("utf-8"), re.M)[0])
"""So many seconds go by in one where time flies."""
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


class ServedShelf:
    """The daemon of the README's first command, with two short things on its shelf, or what lies there at first."""

    def __init__(self, folder: Path, *, samples: bool = False, hurried: bool = False) -> None:
        """With `hurried` time flies in it, by `hurried/sitecustomize.py`."""
        for name, form in () if samples else (("strip", STRIP), ("recipe", RECIPE)):
            place = folder / f"{name}.json"
            place.write_text(json.dumps(form), encoding="utf-8")
            subprocess.run([*_TREADLE, "import", str(place), "--data", str(folder / "data")], check=True, cwd=ROOT)
        self.errors = folder / "errors"
        """What the daemon complained of."""
        command = [
            *_TREADLE,
            "serve",
            "--simulate",
            "--data",
            str(folder / "data"),
            "--host",
            "127.0.0.1",
            "--port",
            "0",
        ]
        with self.errors.open("w") as errors:
            self.process = subprocess.Popen(
                command,
                cwd=ROOT,
                env={**os.environ, "PYTHONPATH": str(_HURRIED)} if hurried else None,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        assert self.process.stdout is not None
        self.port = self.code = self.link = ""
        for line in self.process.stdout:
            if port := re.search(r"http://(?:localhost|127\.0\.0\.1):(\d+)", line):
                self.port = port.group(1)
            if link := re.search(r"http://\S+/pair\?code=\d+", line):
                self.link = link.group(0)
            if code := re.search(r"(\d{4}) (\d{4})", line):
                self.code = code.group(1) + code.group(2)
                return

    def close(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(10)
        assert self.process.stdout is not None
        self.process.stdout.close()


_TREADLE = [sys.executable, "treadle.py"]


def until_place(page: Page, place: str, seconds: float = 12.0) -> None:
    """Wait until the daemon stands at `place`."""
    until = time.monotonic() + seconds
    while (now := page.request.get("/status.json").json()["place"]) != place:
        assert time.monotonic() < until, f"stands at {now!r}, not at {place!r}"
        time.sleep(0.05)


def tread(page: Page, seconds: float = 0.15) -> None:
    page.hover(".treadle")
    page.mouse.down()
    time.sleep(seconds)
    page.mouse.up()


def light(page: Page, then: str) -> None:
    time.sleep(0.7)  # a press within half a second of a light starts nothing
    tread(page)
    until_place(page, "lead-in")
    until_place(page, "light")
    until_place(page, then)


def load(page: Page, title: str) -> None:
    page.goto("/")
    page.click(f"button:has-text('{title}')")
    page.wait_for_url("**/*")
    page.goto("/practice")
    page.wait_for_selector(".treadle")
    time.sleep(0.3)
    if page.request.get("/status.json").json()["place"] == "set-up asked":  # nothing is known of how it stands yet
        tread(page)
    until_place(page, "change filter")


def close_sheet(page: Page, then: str) -> None:
    time.sleep(0.6)
    tread(page, 1.0)
    until_place(page, then)
