"""See it before the paper, in a real Chromium against the real daemon: scan, two taps, 25 to choose from, the print."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from browser.test_negative_leads import PHONE, QUICK, Printer
from PIL import Image
from playwright.sync_api import Browser, Page
from tools.densities import densities_of
from tools.preview_scans import fitted_one, invented
from tools.walk import ROOT, ServedShelf

from controller.paper.paper import Setup, write_paper
from controller.words import say
from hardware.practice.practice_darkroom import PracticeDarkroom

HOME = "/negatives/practice-sheets/frame/1"
WITHIN = 0.03
"""Mean of absolute differences of density: the design's own bound for a preview."""
WIDTHS = (390, 320, 1280)


def tap_tone(page: Page, printer: Printer, name: str) -> None:
    """Choose the densitometer, and tap where a tone of the crane lies on the scan."""
    printer.tap(say("preview.offer-read"))
    tone = invented("crane").tone(name)
    scan = page.locator("input[type=image]")
    scan.scroll_into_view_if_needed()
    box = scan.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + tone.x * box["width"], box["y"] + tone.y * box["height"])
    printer.taps += 1
    page.wait_for_load_state()


def seen(page: Page, base: str) -> np.ndarray:
    """The preview's own densities, as the page shows it."""
    address = page.locator(".seen-before img").get_attribute("src")
    assert address is not None
    return densities_of(page.request.get(f"{base}{address}").body())


def in_the_window(print_: np.ndarray) -> np.ndarray:
    """What the easel left open of a developed sheet of 8 × 10 in: the recipe's 240 × 192 mm in its middle."""
    height, width = print_.shape
    across, down = round(width * 240 / 254.0), round(height * 192 / 203.2)
    left, top = (width - across) // 2, (height - down) // 2
    return print_[top : top + down, left : left + across]


def as_large_as(small: np.ndarray, large: np.ndarray) -> np.ndarray:
    size = small.shape[1], small.shape[0]
    return np.asarray(Image.fromarray(large.astype(np.float32)).resize(size, Image.Resampling.BOX))


@pytest.mark.browser
def test_a_print_is_seen_taken_and_printed(browser: Browser, tmp_path: Path) -> None:
    """The practice negative scans itself, two tones are tapped, one of 25 prints is taken: what is printed is that."""
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
        with PracticeDarkroom(tmp_path / "data" / "run") as room:
            page = context.new_page()
            page.goto(darkroom.link)
            printer = Printer(page, room)
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
                (tmp_path / f"print-{width}.png").write_bytes(page.screenshot(full_page=True))
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            printer.tap(say("preview.to-grid"))
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 844})
                (tmp_path / f"grid-{width}.png").write_bytes(page.screenshot(full_page=True))
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            page.locator(".grid-of a").nth(6).click(force=True)  # a third less of either light
            page.wait_for_load_state()
            printer.taps += 1
            page.locator(".seen-before img").click(position={"x": 100, "y": 60})
            page.wait_for_load_state()
            assert re.search(r"Density \d\.\d\d there, ± \d\.\d\d", page.inner_text("main"))
            before = seen(page, base)
            printer.tap(say("preview.take"))
            printer.taps += 1
            assert printer.taps <= 10, printer.taps

            printer.work()
            page.goto(f"{base}/sheets")
            page.click("a[href^='/sheets/']")
            page.wait_for_url("**/sheets/*")
            sheet = page.url.rsplit("/", 1)[-1]
            page.click("form[action='/practice/develop'] button")
            page.wait_for_load_state()
            printed = densities_of(page.request.get(f"{base}/practice/print/{sheet}.png").body())
            wanted = in_the_window(printed)
            off = np.abs(as_large_as(wanted, before) - wanted)
            assert off.mean() <= WITHIN, off.mean()
    finally:
        context.close()
        if darkroom is not None:
            darkroom.close()
    assert darkroom is not None
    assert "Traceback" not in darkroom.errors.read_text()
