"""The tutorial in a real Chromium, against the real daemon: a strip, a pick, and a split-grade sheet, all by foot."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Browser, Page
from tools.walk import ServedShelf, close_sheet, light, load, tread, until_place


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
    assert "Done" in page.inner_text("main")
    page.goto("/sheets")
    page.click("a:has-text('Short strip')")
    assert "band 2" in page.inner_text("p.given")
    page.goto("/")
    page.click("form[action='/act/paper-out'] button")
    page.wait_for_timeout(500)


@pytest.mark.browser
def test_a_strip_and_a_whole_sheet_by_foot(whole_browser: Browser, served: ServedShelf) -> None:
    """A newcomer pairs, works a strip and a split-grade sheet with the foot alone, and finds both on record."""
    context = whole_browser.new_context(
        viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{served.port}"
    )
    page = context.new_page()
    try:
        page.goto(f"/pair?code={served.code}")
        page.click("main button")
        page.wait_for_url("**/phone*")
        load(page, "Short strip")
        tread(page)
        until_place(page, "settling")
        until_place(page, "ready")
        for then in ("ready", "ready", "finished"):
            light(page, then)
        close_sheet(page, "nothing chosen")  # nobody wants the same strip again
        _pick_the_second_band(page)
        load(page, "Short sheet")
        tread(page)
        until_place(page, "ready")
        light(page, "ready")
        light(page, "change filter")
        time.sleep(0.7)
        tread(page)
        until_place(page, "ready")
        light(page, "finished")
        close_sheet(page, "ready")  # the next sheet begins with the filter that is in
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
