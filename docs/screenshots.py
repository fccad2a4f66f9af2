"""Makes the pictures of the tutorial: `.venv/bin/python docs/screenshots.py`. It works a real practice darkroom."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
IMAGES = ROOT / "docs" / "images"
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def main() -> None:
    """Serve, pair, load the first strip, give one band, and keep a picture of each stand."""
    IMAGES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data, sync_playwright() as play:
        command = [sys.executable, "treadle.py", "serve", "--simulate", "--data", data, "--host", "127.0.0.1"]
        daemon = subprocess.Popen([*command, "--port", "0"], cwd=ROOT, stdout=subprocess.PIPE, text=True)
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        try:
            assert daemon.stdout is not None
            said = "".join(line for line, _ in zip(daemon.stdout, range(3), strict=False))
            port = re.findall(r"localhost:(\d+)", said)[0]
            code = "".join(re.findall(r"(\d{4}) (\d{4})", said)[0])
            context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{port}")
            _walk(context.new_page(), code)
        finally:
            browser.close()
            daemon.send_signal(signal.SIGTERM)
            daemon.wait(10)


def _walk(page: Page, code: str) -> None:
    page.goto(f"/pair?code={code}")
    _keep(page, "1-pair")
    page.click("main button")
    page.wait_for_url("**/phone*")
    page.goto("/")
    _keep(page, "2-choose")
    page.click("button:has-text('First strip')")
    _keep(page, "3-change-filter")
    page.goto("/practice")
    page.wait_for_selector(".treadle")
    _keep(page, "4-practice")
    _tread(page)
    page.goto("/")
    time.sleep(3.5)
    _keep(page, "5-ready")
    page.goto("/practice")
    page.wait_for_selector(".treadle")
    time.sleep(0.5)
    _tread(page)
    page.goto("/")
    time.sleep(3.5)
    _keep(page, "6-light")
    time.sleep(5)
    _keep(page, "7-next-band")


def _tread(page: Page) -> None:
    page.hover(".treadle")
    page.mouse.down()
    time.sleep(0.15)
    page.mouse.up()
    time.sleep(0.2)


def _keep(page: Page, name: str) -> None:
    time.sleep(0.4)
    page.screenshot(path=IMAGES / f"{name}.png")


if __name__ == "__main__":
    main()
