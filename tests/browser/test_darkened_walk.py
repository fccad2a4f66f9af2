"""The practice darkroom darkens paper, in a real Chromium against the real daemon: fogged, developed, tapped."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Browser, Page
from tools.walk import ServedShelf, close_sheet, light, load, tread, until_place


def _day(page: Page) -> None:
    page.goto("/")
    page.click("summary:has-text('paper is away')")
    page.click("form[action='/act/paper-away'] button")
    page.wait_for_timeout(1500)


def _hand(page: Page, what: str) -> None:
    page.goto("/practice")
    page.click("details.hands summary")
    with page.expect_response("**/practice/hand"):
        page.click(f"button[value='{what}']")


@pytest.mark.browser
def test_a_fogged_strip_is_developed_and_picked_by_tap(browser: Browser, served: ServedShelf) -> None:
    """A strip worked beside a lit phone, with stray light, is developed and says it is fogged; a tap picks a band."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{served.port}")
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    try:
        page.goto(f"/pair?code={served.code}")
        page.click("main button")
        page.wait_for_url("**/phone*")
        _hand(page, "paper-out")
        _hand(page, "phone-on")
        load(page, "Short strip")
        assert page.locator(".falls[href]").count() == 1
        tread(page)
        until_place(page, "ready")
        for then in ("ready", "ready", "finished"):
            light(page, then)
        close_sheet(page, "nothing chosen")
        time.sleep(0.5)
        _day(page)
        page.goto("/practice")
        page.click("details.scene summary")
        page.click("details.scene details summary")
        page.fill("input[name=stray_percent]", "30")
        page.click("form[action='/practice/scene'] button")
        page.wait_for_url("**/practice#scene")
        page.goto("/sheets")
        page.click("a:has-text('Short strip')")
        page.click("form[action='/practice/develop'] button")
        page.wait_for_url("**/practice/print/*wet=1")
        assert page.locator(".darkened img").evaluate("one => one.complete && one.naturalWidth > 0")
        assert "fogged" in page.inner_text("main")
        page.click("a:has-text('See it dry')")
        page.click("svg.print a[href*='band=2']")
        page.wait_for_url("**/pick/*band=2*")
        page.click("button[form=pick]")
        page.wait_for_url("**done=1")
        page.goto("/wall")
        assert page.locator("svg image[href^='/practice/print/']").count() == 1
        assert complaints == []
        assert served.errors.read_text(encoding="utf-8") == ""
    finally:
        context.close()
