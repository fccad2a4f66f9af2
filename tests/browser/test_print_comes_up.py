"""In a real Chromium a closed sheet is seen to come up in the developer, and to move on from tray to tray."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Browser
from tools.walk import ServedShelf, close_sheet, light, load, tread, until_place

SEEN = """() => [...document.querySelectorAll(".wet-print.there")]
  .map((one) => [one.dataset.where, Number(one.lastElementChild.style.opacity)])"""


@pytest.mark.browser
def test_a_print_comes_up_as_one_watches(browser: Browser, served: ServedShelf) -> None:
    """The image is nothing when it comes into the developer, grows from glance to glance, is whole in the stop bath."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{served.port}")
    page = context.new_page()
    try:
        page.goto(f"/pair?code={served.code}")
        page.click("main button")
        page.wait_for_url("**/phone*")
        load(page, "Short strip")
        tread(page)
        until_place(page, "ready")
        for then in ("ready", "ready", "finished"):
            light(page, then)
        close_sheet(page, "nothing chosen")
        seen: list[tuple[str, float]] = []
        until = time.monotonic() + 20.0  # the trays go 20 times as fast: all of it takes 8 s
        while time.monotonic() < until and not any(where == "fixes" for where, _ in seen):
            seen += [(where, share) for where, share in page.evaluate(SEEN)]
            time.sleep(0.1)
        growing = [share for where, share in seen if where == "develops"]
        assert growing == sorted(growing)
        assert growing[0] < 0.3
        assert any(0.3 < share < 0.9 for share in growing)
        assert growing[-1] > 0.97
        assert [where for n, (where, _) in enumerate(seen) if not n or seen[n - 1][0] != where] == [
            "develops",
            "stops",
            "fixes",
        ]
        assert all(share == 1 for where, share in seen if where == "stops")
        address = page.get_attribute(".wet-print[data-where=fixes] image", "href")
        assert page.request.get(str(address)).headers["content-type"] == "image/png"
        page.wait_for_selector("[data-lead] form[action='/practice/develop']")
        assert served.errors.read_text(encoding="utf-8") == ""
    finally:
        context.close()
