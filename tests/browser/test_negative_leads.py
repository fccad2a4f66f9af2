"""From a contact sheet to the first split-grade print of a negative: few taps, nothing typed, by visible words."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.walk import ROOT, ServedShelf

from hardware.practice.practice_darkroom import PracticeDarkroom

PHONE = {"width": 390, "height": 844}
TAPS, PRESSES = 12, 29
"""At most, from the contact sheet to the closed print."""
LONGEST_S = 60.0
QUICK = {"format": "treadle/settings/1", "lead_in_seconds": 1.2, "settle_seconds": 1.0}


class Printer:
    """Taps what is written, treads when asked, and counts. There is no way to type: a form that asks stops the walk."""

    def __init__(self, page: Page, room: PracticeDarkroom) -> None:
        self.page, self.room = page, room
        self.taps = self.presses = 0

    def tap(self, words: str) -> None:
        """Tap the first control in view that says so."""
        pattern = re.compile(rf"^\s*{re.escape(words)}")
        found = self.page.locator(
            "button:visible, a:visible, summary:visible, svg text:visible", has_text=pattern
        ).first
        found.wait_for(timeout=LONGEST_S * 1000)
        found.click(force=True)
        self.taps += 1
        self.page.wait_for_timeout(400)

    def tread(self, held_ms: int = 120) -> None:
        self.room.press(held_ms)
        self.presses += 1

    def place(self) -> str:
        word = self.page.evaluate("fetch('/status.json').then((answer) => answer.json())")
        return str(word["place"])

    def until(self, *places: str) -> str:
        end = time.monotonic() + LONGEST_S
        while (place := self.place()) not in places:
            assert time.monotonic() < end, f"{place} instead of {places}"
            self.page.wait_for_timeout(60)
        return place

    def work(self) -> None:
        """Give every light of what is loaded, by foot, filters changed when they are asked for; and close the sheet."""
        while (place := self.until("change filter", "ready", "held", "finished")) != "finished":
            if place == "change filter":
                self.room.log_filter(self.page.locator(".big").first.inner_text().split()[-1].lower())
            self.page.wait_for_timeout(900)  # a press is heard again a moment after a light
            self.tread()
            self.until("settling", "lead-in", "light", "gap")
        self.page.wait_for_timeout(500)
        self.tread(1100)
        self.until("nothing chosen", "change filter", "ready")


@pytest.mark.browser
def test_from_a_contact_sheet_to_the_first_print(browser: Browser, tmp_path: Path) -> None:
    """A negative is put in, its strips are offered, picked and followed by its print: every time comes by itself."""
    settings = tmp_path / "settings.json"
    settings.write_text(json.dumps(QUICK), encoding="utf-8")
    serve = [sys.executable, "treadle.py"]
    data = ["--simulate", "--data", str(tmp_path / "data")]
    subprocess.run([*serve, "import", str(settings), *data], check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
    darkroom = ServedShelf(tmp_path, samples=True)
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    try:
        with PracticeDarkroom(tmp_path / "data" / "run") as room:
            page = context.new_page()
            page.goto(darkroom.link)
            printer = Printer(page, room)
            for words in ("pair", "done"):
                printer.tap(words)
            page.goto(f"http://127.0.0.1:{darkroom.port}/")
            for words in ("paper is away", "all paper is away", "films", "practice film 1"):
                printer.tap(words)

            printer.taps = 0
            for words in ("lighthouse", "Put it into the carrier", "First strip"):
                printer.tap(words)
            printer.work()
            for words in ("Pick a band", "all paper is away", "12.0", "Use this time"):
                printer.tap(words)
            printer.work()
            for words in ("Pick a band", "all paper is away", "8.0", "Use this time"):
                printer.tap(words)
            printer.work()

            assert printer.taps <= TAPS, printer.taps
            assert printer.presses <= PRESSES, printer.presses
            page.goto(f"http://127.0.0.1:{darkroom.port}/sheets")
            said = page.inner_text("main")
            assert said.count("complete") >= 3
            assert said.count("lighthouse, soft + hard (sheets 1, 2)") == 1, (
                "both picks are in one recipe, and it is printed"
            )
            assert "lighthouse, 8.0 s" not in said
    finally:
        context.close()
        darkroom.close()
    assert "Traceback" not in darkroom.errors.read_text()
