"""The shelf in a real browser: what is typed is seen at once, fits a narrow phone, and turns dark with the room."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page
from tools.shelf_browser import must_fit, narrow_phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.words import say

pytestmark = pytest.mark.browser


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk(clock=time.monotonic_ns) as made:
        made.work(made.strip, "sheet")
        made.work(made.proof, "bare")
        yield made


@pytest.fixture
def phone(desk: StandInDesk, browser: Browser) -> Iterator[Page]:
    with narrow_phone(desk, browser) as page:
        yield page


def test_every_page_fits_the_narrowest_phone(phone: Page, desk: StandInDesk) -> None:
    """At 320 pixels nothing runs over the edge, no word of a picture lies on another, every target is big enough."""
    for address in (
        "/shelf",
        f"/shelf/{desk.crane.id}",
        f"/shelf/{desk.strip.id}",
        f"/shelf/{desk.crane.id}/edit",
        f"/shelf/{desk.strip.id}/edit",
        "/shelf/new/recipe",
        "/pick/sheet?band=4&between=1",
        "/pick/bare?band=4",
        "/reckon?of=size&negative_mm=120&from_mm=240&to_mm=330&time=10",
    ):
        phone.goto(address)
        phone.wait_for_selector("html.day")
        must_fit(phone, address)


def test_what_a_strip_lacks_is_typed_under_its_band(phone: Page, desk: StandInDesk) -> None:
    """Aperture and head height are typed where the band was tapped, a slip is told there, and the pick goes on."""
    phone.goto("/pick/bare?band=4")
    phone.fill("[name=lens-aperture]", "f8")
    phone.fill("[name=head-height]", "620")
    phone.get_by_role("button", name=say("shelf.pick-take")).click()
    phone.wait_for_selector("#lens-aperture-no:not(:empty)")
    assert phone.input_value("[name=head-height]") == "620"
    must_fit(phone, "what lacks, refused")
    phone.fill("[name=lens-aperture]", "8")
    phone.get_by_role("button", name=say("shelf.pick-take")).click()
    phone.wait_for_url("**/pick/bare?band=4&between=0&done=1")
    phone.locator(".bar").get_by_role("link", name=say("shelf.pick-go")).click()
    phone.wait_for_url(f"**/shelf/{desk.records['bare'].picks[-1].recipe}?version=1")


def test_what_is_typed_is_seen_at_once(phone: Page, desk: StandInDesk) -> None:
    """A new base time changes the pictures, the table and the seconds beside the stops, and nothing is kept."""
    phone.goto(f"/shelf/{desk.crane.id}/edit")
    phone.fill("[name=light-0-seconds]", "20")
    phone.wait_for_selector("#look .much:text-is('20.0 s')")
    assert phone.inner_text("[data-worth=local-0]") == "20.0 s"
    assert "+1/3 · 5.2 s" in (phone.text_content("[name=local-0-dose]") or "")
    assert desk.saves == 0


def test_a_mistake_is_told_beside_its_field_and_forgotten_when_mended(phone: Page, desk: StandInDesk) -> None:
    """The sentence comes beside the field while it is typed and goes with the mistake; the text stays."""
    phone.goto(f"/shelf/{desk.crane.id}/edit")
    phone.fill("[name=light-1-seconds]", "8..0")
    phone.wait_for_selector("#light-1-seconds-no:not(:empty)")
    assert "8..0" in phone.inner_text("#light-1-seconds-no")
    assert phone.input_value("[name=light-1-seconds]") == "8..0"
    phone.fill("[name=light-1-seconds]", "8,5")
    phone.wait_for_selector("#light-1-seconds-no:empty", state="attached")
    # 8.5 s with a third held back: 8.5 · (1 − 2^(−1/3)) = 1.8 s, and 6.7 s stay open (derived).
    assert phone.locator("#look .much").all_inner_texts()[2:4] == ["1.8 s", "6.7 s"]


def test_choices_open_what_belongs_to_them(phone: Page, desk: StandInDesk) -> None:
    """A dodge asks how, an edge burn which edges, own stops for their text, and nothing else is in the way."""
    phone.goto(f"/shelf/{desk.crane.id}/edit")
    line = phone.locator("#local-0")
    line.locator("summary").click()
    assert not line.locator(".for-dodge").is_visible()
    line.get_by_text("dodge", exact=True).click()
    assert line.locator(".for-dodge").is_visible()
    line.get_by_text("edge burn").click()
    assert line.locator(".edges").is_visible()
    assert not line.locator(".for-dodge").is_visible()
    assert not phone.locator("[name=local-0-dose-own]").is_visible()
    phone.select_option("[name=local-0-dose]", "own")
    assert phone.locator("[name=local-0-dose-own]").is_visible()


def test_the_card_is_turned_by_a_button(phone: Page, desk: StandInDesk) -> None:
    """One tap lets the card come from the other end, and the picture's pulses turn round."""
    phone.goto(f"/shelf/{desk.strip.id}/edit")
    before = phone.locator("#look-strip text").all_inner_texts()[9:]
    phone.click("#making > summary")
    phone.locator("[data-turn]").click()
    phone.wait_for_selector("#look-strip text:text-is('card uncovers')")
    assert phone.locator("#look-strip text").all_inner_texts()[9:] == before[::-1]
    assert desk.saves == 0


def test_a_whole_recipe_by_thumb(phone: Page, desk: StandInDesk) -> None:
    """A recipe is made from nothing with taps and figures, reviewed, kept, and loaded as the next sheet."""
    phone.goto("/shelf")
    phone.get_by_text("Make a recipe").click()
    phone.fill("[name=title]", "Boat slip")
    phone.fill("[name=light-0-seconds]", "12")
    phone.fill("[name=light-1-seconds]", "9.5")
    phone.get_by_text("dodge or burn an area").click()
    phone.wait_for_selector("#local-0")
    phone.fill("[name=local-0-what]", "the slip")
    phone.select_option("[name=local-0-dose]", "1/2")
    phone.locator(".bar .sure").click()
    phone.wait_for_selector("h1:text-is('Boat slip')")
    assert phone.locator("#look .much").all_inner_texts() == ["12.0 s", "5.0 s", "9.5 s"]
    phone.locator(".bar .sure").click()
    phone.wait_for_url("**/")
    plan = desk.status().plan
    assert plan is not None
    assert plan.title == "Boat slip"


def test_a_tap_on_the_strip_is_a_pick(phone: Page, desk: StandInDesk) -> None:
    """A band is tapped in the picture itself, its meaning is read, and one more tap takes it over."""
    phone.goto("/pick/sheet")
    phone.locator("svg a[aria-label^='band 5']").click()
    phone.wait_for_selector(".meaning:text-is('hard base 10.1 s')")
    phone.locator(".bar .sure").click()
    phone.wait_for_url("**done=1*")
    assert desk.records["sheet"].picks[-1].seconds == 10.1


def test_the_page_turns_dark_with_the_room(phone: Page, desk: StandInDesk) -> None:
    """When the day face ends, every pixel of a form is black or dim red, and what was typed is still there."""
    phone.goto(f"/shelf/{desk.crane.id}/edit")
    phone.wait_for_selector("html.day")
    phone.fill("[name=title]", "Half typed")
    desk.show(day_until_ns=None, day_refused="Sheet 5 is open.")
    phone.wait_for_selector("html:not(.day)")
    for _ in range(4):
        shot = Image.open(io.BytesIO(phone.screenshot())).convert("RGB")
        (_, red), green, blue = (channel for channel in shot.getextrema())
        assert red <= 90
        assert green == blue == (0, 0)
        phone.mouse.wheel(0, 640)
        phone.wait_for_timeout(60)
    desk.say_day()
    phone.wait_for_selector("html.day")
    assert phone.input_value("[name=title]") == "Half typed"
