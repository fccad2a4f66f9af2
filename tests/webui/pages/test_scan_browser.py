"""Table and scan in a real browser of 320 pixels, scripts on and off: there and back by thumb, and dark in the dark."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.browser import is_dark, let_in, look, wait_until
from tools.scans import CORNERS, HEIGHT, WIDTH, scanned
from tools.shelf_browser import must_fit
from tools.stand_in_desk import StandInDesk, day_desk

from webui.app import create_app
from webui.server import Server

pytestmark = pytest.mark.browser


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk(clock=time.monotonic_ns) as made:
        made.lay_scans(tmp_path / "scans")
        yield made
        made.scans().close()


@pytest.fixture(params=[True, False], ids=["scripts", "no scripts"])
def phone(desk: StandInDesk, browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
    server.start()
    base = f"http://127.0.0.1:{server.port}"
    context = browser.new_context(
        viewport={"width": 320, "height": 640},
        base_url=base,
        java_script_enabled=request.param,
    )
    context.set_default_timeout(20_000)
    let_in(context, base)
    yield context.new_page()
    context.close()
    server.close()


def press(page: Page, words: str) -> None:
    """Press a button and wait for the page that comes."""
    with page.expect_navigation(wait_until="load"):
        page.click(f"button:not(.unheard):has-text('{words}')")


def test_from_the_table_to_a_scan_and_back_by_thumb(phone: Page, desk: StandInDesk, tmp_path: Path) -> None:
    """Taps alone set corners; what is wrong is on the screen at once; name, box and set-up are back with the print."""
    file = tmp_path / "scan.png"
    file.write_bytes(scanned(labels=(8,)))
    phone.goto("/papers/new")
    must_fit(phone, "the table")
    phone.fill("[name=paper]", "Quay RC")
    phone.fill("[name=box]", "blue dot")
    phone.fill("[name=column-0-seconds]", "80")
    phone.click("summary")
    phone.fill("[name=aperture]", "8")
    press(phone, "a print from a scan")
    must_fit(phone, "before the scan")
    phone.set_input_files("[name=file]", file)
    press(phone, "Bring it in")
    for at in CORNERS.values():
        across, down = (int(part) for part in at.split())
        picture = phone.locator("input[type=image]:visible")
        box = picture.bounding_box()
        assert box is not None
        with phone.expect_navigation(wait_until="load"):
            picture.click(position={"x": across * box["width"] / WIDTH, "y": down * box["height"] / HEIGHT})
    must_fit(phone, "the scan, marked")
    phone.click("summary:has-text('Leave steps out')")
    must_fit(phone, "the steps to tick")
    steps = phone.locator(".ticks [name=left-out]")
    for step in range(2, steps.count() + 1):
        phone.locator(f".ticks label:has([value='{step}'])").click()
    press(phone, "Read the print")
    assert "too few steps" in phone.inner_text("#left-out-no")
    told = phone.locator("#left-out-no").bounding_box()
    assert told is not None
    assert 0 <= told["y"] <= 640 - told["height"]
    for step in range(2, steps.count() + 1):
        if step != 8:
            phone.locator(f".ticks label:has([value='{step}'])").click()
    press(phone, "Read the print")
    must_fit(phone, "what was read")
    assert "Step 8 was left out." in phone.inner_text("#answer")
    press(phone, "Right: to the table")
    must_fit(phone, "the table, filled")
    typed = {name: phone.input_value(f"[name={name}]") for name in ("paper", "box", "aperture", "column-0-seconds")}
    assert typed == {"paper": "Quay RC", "box": "blue dot", "aperture": "8", "column-0-seconds": "80"}
    assert phone.input_value("[name=column-0-cell-8]") == ""
    assert float(phone.input_value("[name=column-0-cell-9]")) > 1.0
    assert not desk.papers().kept()


@pytest.mark.parametrize("address", ["/papers", "/papers/new", "/papers/scan"])
def test_nothing_a_browser_draws_by_itself_is_bright_in_the_dark(phone: Page, desk: StandInDesk, address: str) -> None:
    """When the day face ends under a page, or it has no scripts, its file and date fields are as dim as all else."""
    phone.goto(address)
    desk.show(day_until_ns=None)
    assert wait_until(lambda: is_dark(look(phone, whole=True)), phone, 10.0)
