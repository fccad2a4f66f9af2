"""See it before the paper, in a real Chromium against the real daemon: scan, two taps, 25 to choose from.

That the sheet which is printed then is the one that was seen, `tests/preview/test_seen_and_printed.py` holds.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.preview_scans import fitted_one, invented
from tools.walk import ROOT, ServedShelf

from controller.paper.paper import Setup, write_paper
from controller.words import say
from hardware.practice.practice_darkroom import PracticeDarkroom

PHONE = {"width": 390, "height": 844}
QUICK = {"format": "treadle/settings/1", "lead_in_seconds": 1.2, "settle_seconds": 1.0}
HOME = "/negatives/practice-sheets/frame/1"
WIDTHS = (390, 320, 1280)


class Printer:
    """Taps what is written, and counts."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def tap(self, words: str) -> None:
        """Tap the first control in view that says so."""
        controls = self.page.locator("button:visible, a:visible, summary:visible")
        found = controls.filter(has_text=re.compile(rf"^\s*{re.escape(words)}")).first
        found.wait_for(timeout=60_000)
        found.click(force=True)
        self.taps += 1
        self.page.wait_for_load_state()


def tap_tone(page: Page, printer: Printer, name: str) -> None:
    """Choose the densitometer, and tap where a tone of the crane lies on the scan."""
    printer.tap(say("preview.offer-read"))
    tone = invented("crane").tone(name)
    scan = page.locator("input[type=image]")
    scan.scroll_into_view_if_needed()
    box = scan.bounding_box()
    assert box is not None
    with page.expect_navigation():
        page.mouse.click(box["x"] + tone.x * box["width"], box["y"] + tone.y * box["height"])
    printer.taps += 1


@pytest.mark.browser
def test_a_print_is_seen_by_a_few_taps(browser: Browser, tmp_path: Path) -> None:
    """The practice negative scans itself, two tones are tapped, one of 25 is taken; a tap says its density."""
    (tmp_path / "settings.json").write_text(json.dumps(QUICK), encoding="utf-8")
    paper = fitted_one().model_copy(update={"setup": Setup(magnification=2.0, aperture=8.0)})
    (tmp_path / "paper.json").write_text(write_paper(paper), encoding="utf-8")
    data = ["--simulate", "--data", str(tmp_path / "data")]
    darkroom = None
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    try:
        for name in ("settings.json", "paper.json"):
            command = [sys.executable, "treadle.py", "import", str(tmp_path / name), *data]
            subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
        darkroom = ServedShelf(tmp_path, samples=True)
        with PracticeDarkroom(tmp_path / "data" / "run"):
            page, lost = context.new_page(), list[str]()
            page.on("response", lambda answer: lost.append(answer.url) if answer.status == 404 else None)
            page.goto(darkroom.link)
            printer = Printer(page)
            for words in ("pair", "done"):
                printer.tap(words)
            base = f"http://127.0.0.1:{darkroom.port}"
            page.goto(f"{base}/")
            for words in ("paper is away", "all paper is away"):
                printer.tap(words)
            page.goto(f"{base}{HOME}")
            printer.tap(say("negatives.put-in"))
            page.goto(f"{base}{HOME}")

            printer.taps = 0
            printer.tap(say("preview.to-scan"))
            printer.tap(say("preview.scan-practice"))
            tap_tone(page, printer, "cloud")
            tap_tone(page, printer, "under_cab")
            assert say("preview.under", paper="paper one") in page.inner_text("main")
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 844})
                assert page.evaluate("document.documentElement.scrollWidth") <= width
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            printer.tap(say("preview.to-grid"))
            page.locator(".grid-of a").nth(6).click(force=True)  # a third less of either light
            page.wait_for_load_state()
            printer.taps += 1
            page.locator(".seen-before img").click(position={"x": 100, "y": 60})
            page.wait_for_load_state()
            assert re.search(r"Density \d\.\d\d there, ± \d\.\d\d", page.inner_text("main"))
            assert printer.taps <= 10, printer.taps

            printer.tap(say("preview.to-areas"))
            with page.expect_navigation():
                page.locator("a", has_text=re.compile(r"^Draw A anew$")).click()
            shown = page.locator("[data-draws] input")
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 844})
                assert page.evaluate("document.documentElement.scrollWidth") <= width
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            shown.scroll_into_view_if_needed()
            box = shown.bounding_box()
            assert box is not None
            round_it = [(0.2, 0.2), (0.6, 0.2), (0.6, 0.5), (0.4, 0.6), (0.2, 0.5), (0.2, 0.25)]
            for n, (x, y) in enumerate(round_it):
                page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=6)
                if n == 0:
                    page.mouse.down()
            with page.expect_navigation():
                page.mouse.up()
            assert page.locator("button", has_text=say("preview.rub-area", letter="A")).count() == 1
            assert page.locator("g.area polygon").count() >= 2, "it lies on the picture"
            assert lost == [], "what is tapped is seen"
    finally:
        context.close()
        if darkroom is not None:
            darkroom.close()
    assert darkroom is not None
    assert "Traceback" not in darkroom.errors.read_text()
