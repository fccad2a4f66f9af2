"""The two faces in a real browser, by pixel: black and dim red in every doubt, paper white on the daemon's word."""

from __future__ import annotations

import base64
import io
import time
from collections.abc import Callable
from typing import Any, get_args

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, Route
from tools.browser import Pixels, is_dark, is_day, look, silence, wait_until
from tools.stand_in_desk import CODE, PLAN, FakePractice, StandInDesk, next_step, step_lines

from controller.errors import WrongMoment
from controller.foot.acts import MoreBurn
from controller.foot.status import Doubt, LitNow, PlaceName
from controller.practice.stage import Stage, Tool
from controller.words import say
from webui.server import Server

pytestmark = pytest.mark.browser

PLACES: tuple[PlaceName, ...] = get_args(PlaceName)
SHEET: dict[str, Any] = {
    "plan": PLAN,
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "just_given": "Given: soft base, 10.1 s.",
    "safe_left_s": 190,
    "day_until_ns": None,
    "day_refused": "Sheet 5 is open. Hold to close it.",
    "can": ("call given", "leave out", "more burn", "no light", "close", "assume", "start"),
    "doubt": Doubt(light="l1", step=2, least_ms=2100, most_ms=4600),
    "troubles": ("No sounder answers: the lead-in is 4 s.",),
}
LIT: dict[str, Any] = {"lit": LitNow(kind="step", on_ns=0, lit_ms=10100), "stop_possible": True, "can": ()}
SMALL = """() => [...document.querySelectorAll('button, summary, a.way, .nav a, label:has(input[type=radio])')]
  .filter((thing) => thing.checkVisibility({visibilityProperty: true}))
  .map((thing) => [thing.textContent.trim(), thing.getBoundingClientRect()])
  .filter(([, box]) => box.height < 48 || box.width < 48)
  .map(([words, box]) => `${words} ${box.width}×${box.height}`)"""

SEEN = """() => [...document.querySelectorAll('body *')].filter((one) => {
    const box = one.getBoundingClientRect();
    return one.checkVisibility({visibilityProperty: true}) && box.width > 1 && box.height > 1
      && [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  }).map((one) => one.innerText.trim())"""
"""Each piece of text that has a place on the screen; what is for a screen reader alone has none."""


def _show_sheet(desk: StandInDesk, place: PlaceName, **changes: Any) -> None:
    desk.show(**{**SHEET, "place": place, "headline": f"Now: {place}.", **changes})


def _wait_for(page: Page, number: int) -> None:
    """Wait until the page has taken snapshot `number` in."""
    page.wait_for_selector(f'[data-panel] input[name=number][value="{number}"]', state="attached")


@pytest.mark.parametrize("width", [390, 320])
def test_the_dark_face_is_black_and_dim_red_everywhere(
    open_phone: Callable[..., Page], desk: StandInDesk, width: int
) -> None:
    """At every place, all folds open, nothing is outside the red channel, too bright, too wide or too small."""
    page = open_phone(width, 640)
    page.goto("/")
    for place in PLACES:
        changes = LIT if place in {"light", "focus light"} else {}
        if place == "nothing chosen":
            changes = {"can": ("load", "put down", "paper away"), "open": False}
        _show_sheet(desk, place, **changes)
        page.wait_for_function("words => document.querySelector('.lead').textContent === words", arg=f"Now: {place}.")
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.name = ''; one.open = true; })")
        assert is_dark(look(page, whole=True)), place
        assert page.evaluate("document.documentElement.scrollWidth") <= width, place
        assert page.evaluate(SMALL) == [], place


@pytest.mark.parametrize(
    "address", ["/", "/choose", "/sheets", "/phone", "/settings", "/practice", "/nowhere", "/pair"]
)
@pytest.mark.parametrize("scripts", [True, False])
def test_no_page_is_bright_without_the_word(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str, scripts: bool
) -> None:
    """Every page, refusals included, with scripts and without, is dark while the daemon does not say day."""
    page = open_phone(java_script_enabled=scripts)
    _show_sheet(desk, "ready")
    page.goto(address)
    assert is_dark(look(page, whole=True))


@pytest.mark.parametrize("scripts", [True, False])
@pytest.mark.parametrize("by", ["link", "digits"])
def test_a_phone_is_let_in_by_hand(browser: Browser, server: Server, desk: StandInDesk, by: str, scripts: bool) -> None:
    """A link that brings its code takes one tap, a code that is typed one more field; all other tests' are let in."""
    base = f"http://127.0.0.1:{server.port}"
    context = browser.new_context(viewport={"width": 320, "height": 640}, base_url=base, java_script_enabled=scripts)
    try:
        page = context.new_page()
        before = len(desk.phones().listed())
        page.goto("/pair" if by == "digits" else f"/pair?code={CODE}")
        if by == "digits":
            page.fill("input[name=code]", CODE)
        page.click("main button")
        page.wait_for_url("**/phone?new=1")
        assert len(desk.phones().listed()) == before + 1
    finally:
        context.close()


def test_without_scripts_even_a_day_page_stays_dark(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """A page that cannot hear the word may never be bright; it can be read and used all the same."""
    page = open_phone(java_script_enabled=False)
    desk.say_day()
    page.goto("/settings")
    assert is_dark(look(page, whole=True))
    page.fill("input[name=settle_seconds]", "4")
    page.click(f"text={say('page.settings-keep')}")
    assert desk.settings().settle_seconds == 4


@pytest.mark.parametrize("address", ["/", "/practice", "/settings", "/nowhere"])
def test_the_very_first_frames_are_black(phone: Page, desk: StandInDesk, address: str) -> None:
    """Of all frames that Chromium paints on the way from one dark page to the next, none is anything but dark."""
    _show_sheet(desk, "ready")
    phone.goto("/")
    frames: list[Pixels] = []
    devtools = phone.context.new_cdp_session(phone)

    def keep(event: dict[str, Any]) -> None:
        frames.append(np.asarray(Image.open(io.BytesIO(base64.b64decode(event["data"]))).convert("RGB")))
        devtools.send("Page.screencastFrameAck", {"sessionId": event["sessionId"]})

    devtools.on("Page.screencastFrame", keep)
    devtools.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
    for _ in range(3):
        phone.goto(address)
        phone.wait_for_timeout(150)
    devtools.send("Page.stopScreencast")
    assert frames
    assert all(is_dark(frame) for frame in frames)


def test_while_lit_there_is_one_line_and_stop(phone: Page, desk: StandInDesk) -> None:
    """In light the screen is all but black: one line, and STOP under any thumb in the lower half."""
    _show_sheet(desk, "ready")
    phone.goto("/")
    _show_sheet(desk, "light", **LIT)
    phone.wait_for_selector("html.lit")
    pixels = look(phone)
    assert is_dark(pixels)
    assert float((pixels[:, :, 0] > 0).mean()) < 0.02
    assert phone.evaluate(SEEN) == ["light: burn A, soft", "STOP"]
    for x in (0.02, 0.5, 0.98):
        for y in (0.5, 0.75, 0.99):
            found = phone.evaluate(
                "([x, y]) => document.elementFromPoint(x * innerWidth, y * innerHeight).closest('.stopper') !== null",
                [x, y],
            )
            assert found, (x, y)


def test_stop_covers_the_lower_third_before_the_light(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """In the lead-in STOP is at least 34 hundredths of the screen's height, on the narrowest phone too."""
    page = open_phone(320, 568)
    page.goto("/")
    _show_sheet(desk, "lead-in", stop_possible=True, can=(), next=next_step(2, card="cover one band more"))
    page.wait_for_selector("html.stop")
    page.get_by_text("cover one band more", exact=True).wait_for()
    box = page.locator(".stopper button").bounding_box()
    assert box is not None
    assert box["height"] >= 0.34 * 568 - 1
    assert box["width"] == 320
    assert round(box["y"] + box["height"]) == 568
    for words in ("burn A", "10.1 s", "cover one band more"):
        seen = page.get_by_text(words, exact=True).bounding_box()
        assert seen is not None
        assert seen["y"] + seen["height"] < box["y"], words


def test_the_ways_stand_in_one_row_and_a_verb_with_its_letter(
    open_phone: Callable[..., Page], desk: StandInDesk
) -> None:
    """On a phone of the usual width the ways fill one row, and on the narrowest “dodge C” is one line."""
    page = open_phone(390, 844)
    page.goto("/practice")
    tops = page.eval_on_selector_all(".nav a", "ways => ways.map((way) => way.getBoundingClientRect().top)")
    assert len(tops) >= 4
    assert len(set(tops)) == 1
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        page.goto("/")
        _show_sheet(desk, "ready", next=next_step(2, verb="dodge", area="C"))
        verb = page.get_by_text("dodge C", exact=True)
        verb.wait_for()
        lines = verb.evaluate("one => one.getBoundingClientRect().height / parseFloat(getComputedStyle(one).fontSize)")
        assert lines < 1.5


@pytest.mark.parametrize("scripts", [True, False])
@pytest.mark.parametrize("address", ["/", "/sheets", "/phone", "/nowhere", "/settings", "/practice"])
def test_stop_works_on_every_page(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str, scripts: bool
) -> None:
    """One tap on STOP reaches the desk, from any page, with scripts and without."""
    page = open_phone(java_script_enabled=scripts)
    _show_sheet(desk, "light", **LIT)
    page.goto(address)
    page.click(".stopper button")
    assert wait_until(lambda: desk.stops > 0, page)


def test_stop_acts_when_the_thumb_comes_down(phone: Page, desk: StandInDesk) -> None:
    """STOP does not wait for the thumb to lift."""
    phone.goto("/")
    _show_sheet(desk, "light", **LIT)
    phone.wait_for_selector("html.lit")
    phone.hover(".stopper button")
    phone.mouse.down()
    assert wait_until(lambda: desk.stops > 0, phone, 2)


# ---- the day face


def test_the_day_face_comes_and_goes_with_the_word_on_all_phones(
    open_phone: Callable[..., Page], desk: StandInDesk
) -> None:
    """Paper white on every page while the word says so; black on all within a second of a sheet that opens."""
    pages = [open_phone(), open_phone(), open_phone()]
    desk.say_day()
    for page, address in zip(pages, ("/", "/settings", "/sheets"), strict=True):
        page.goto(address)
        assert wait_until(lambda page=page: is_day(look(page)), page)  # type: ignore[misc]
    _show_sheet(desk, "lead-in", stop_possible=True, can=())
    for page in pages:
        assert wait_until(lambda page=page: is_dark(look(page)), page, 1.0)  # type: ignore[misc]
        assert page.locator(".stopper button").is_visible()
    assert desk.status().day_refused in pages[1].inner_text("body")


def test_typed_words_outlive_the_day_face(phone: Page, desk: StandInDesk) -> None:
    """When the day face ends under a form it is kept as typed, cannot be typed in, and comes back with the day."""
    desk.say_day()
    phone.goto("/settings")
    phone.wait_for_selector("html.day")
    phone.fill("input[name=settle_seconds]", "7")
    _show_sheet(desk, "ready")
    phone.wait_for_selector("html:not(.day)")
    assert is_dark(look(phone, whole=True))
    assert phone.evaluate("document.querySelector('main').inert")
    assert phone.evaluate("document.activeElement === document.body")
    desk.show(place="nothing chosen", open=False, next=None, can=("load",))
    desk.say_day()
    phone.wait_for_selector("html.day")
    assert phone.input_value("input[name=settle_seconds]") == "7"
    phone.fill("input[name=settle_seconds]", "8")


@pytest.mark.parametrize("address", ["/", "/settings"])
def test_silence_turns_a_page_dark(phone: Page, desk: StandInDesk, address: str) -> None:
    """Two seconds without a word: dark, “no connection: use the foot”, and nothing that may be untrue; it recovers."""
    desk.say_day()
    phone.goto(address)
    phone.wait_for_selector("html.day")
    phone.context.set_offline(True)
    # Going offline does not break a stream that is open, so the daemon falls silent, too.
    silent = silence(desk)
    began = time.monotonic()
    phone.wait_for_selector("html.lost", timeout=4000)
    assert 1.0 < time.monotonic() - began < 3.5
    assert is_dark(look(phone, whole=True))
    assert say("page.no-connection") in phone.inner_text("body")
    if address == "/":
        assert not phone.locator(".lead").is_visible()
    silent()
    phone.context.set_offline(False)
    phone.wait_for_selector("html.day:not(.lost)", timeout=8000)
    assert is_day(look(phone))


def test_a_page_out_of_sight_comes_back_dark(phone: Page, desk: StandInDesk) -> None:
    """Back from another page, from the cache of pages too, a bright page is dark if the day ended meanwhile."""
    desk.say_day()
    phone.goto("/settings")
    phone.wait_for_selector("html.day")
    phone.goto("/sheets")
    _show_sheet(desk, "ready")
    phone.go_back()
    for _ in range(10):
        assert is_dark(look(phone))
        phone.wait_for_timeout(20)


def test_a_hidden_page_lets_go_of_its_stream_and_of_the_day(phone: Page, desk: StandInDesk) -> None:
    """A tab in the background holds no stream and is dark when it is seen again, until the word comes."""
    desk.say_day()
    phone.goto("/")
    phone.wait_for_selector("html.day")
    phone.evaluate(
        "Object.defineProperty(document, 'hidden', {value: true, configurable: true});"
        "document.dispatchEvent(new Event('visibilitychange'))"
    )
    assert is_dark(look(phone))
    assert wait_until(lambda: desk.snapshots.waiting == 0, phone)
    phone.evaluate("delete document.hidden; document.dispatchEvent(new Event('visibilitychange'))")
    phone.wait_for_selector("html.day")


# ---- living on


def test_the_panel_follows_the_daemon(phone: Page, desk: StandInDesk) -> None:
    """What is next changes on the page within half a second of its change, without a reload."""
    phone.goto("/")
    phone.evaluate("window.same = true")
    _show_sheet(desk, "ready")
    phone.wait_for_selector("text=burn A", timeout=1500)
    _show_sheet(desk, "change filter", next=next_step(3))
    phone.wait_for_selector(".next.hard", timeout=1500)
    assert phone.evaluate("window.same")


def test_what_the_sheet_gets_is_that_of_the_panel_above_it(phone: Page, desk: StandInDesk) -> None:
    """Whatever is loaded while the first page is shown by day, its lights are listed; of nothing there are none."""
    desk.say_day()
    phone.goto("/")
    phone.wait_for_selector("html.day")
    phone.evaluate("window.same = true")
    lights = phone.locator("[data-gets] .steps > li:not(.change)")
    for plan in (PLAN, PLAN.model_copy(update={"steps": PLAN.steps[:1]}), None, PLAN):
        desk.show(plan=plan)
        planned = len(plan.steps) if plan else 0
        assert wait_until(lambda expected=planned: lights.count() == expected, phone), planned  # type: ignore[misc]
    assert phone.evaluate("window.same")


def test_without_a_stream_the_page_asks_each_second(phone: Page, desk: StandInDesk) -> None:
    """Where there is no room for a stream the page lives by polling, and is never taken for lost."""
    phone.route("**/live?*", lambda route: route.fulfill(status=503, body="full"))
    phone.goto("/")
    _show_sheet(desk, "ready")
    phone.wait_for_selector("text=burn A", timeout=3000)
    for _ in range(15):
        phone.wait_for_timeout(200)
        assert "lost" not in (phone.get_attribute("html", "class") or "")


@pytest.mark.parametrize("scripts", [True, False])
def test_acts_take_two_taps_and_no_keyboard(open_phone: Callable[..., Page], desk: StandInDesk, scripts: bool) -> None:
    """One more burn: unfold, choose, press; the desk hears exactly that; the page then shows how things stand."""
    page = open_phone(java_script_enabled=scripts)
    _show_sheet(desk, "finished")
    page.goto("/")
    sure = page.get_by_text(say("page.act-more-burn-sure"))
    assert not sure.is_visible()
    page.get_by_text(say("page.act-more-burn"), exact=True).click()
    page.get_by_text("+1/2 stop", exact=True).click()
    page.locator(".burn label", has_text="soft").click()
    page.locator(".burn label", has_text="A").last.click()
    number = desk.status().number
    sure.click()
    assert wait_until(lambda: bool(desk.acts), page)
    assert desk.acts == [(MoreBurn(filter="soft", stops="1/2", area="A"), number)]
    _wait_for(page, number + 1)


def test_a_refused_act_is_told_in_place(phone: Page, desk: StandInDesk) -> None:
    """A refusal appears as a sentence on the page, in the dark, and the next tap is decided on the present state."""
    _show_sheet(desk, "ready")
    phone.goto("/")
    desk.refuse = WrongMoment("The sheet was closed by foot meanwhile. Load the next one.")
    phone.get_by_text(say("page.something-else"), exact=True).click()
    phone.get_by_text(say("page.act-close"), exact=True).click()
    phone.get_by_text(say("page.act-close-sure")).click()
    phone.wait_for_selector("text=The sheet was closed by foot meanwhile.")
    assert is_dark(look(phone, whole=True))


# ---- the practice darkroom


def _contacts(desk: StandInDesk) -> list[bool]:
    """Return how the contact changed; a foot that is lifted twice, by the page and by its absence, is up once."""
    room = desk.practice()
    assert isinstance(room, FakePractice)
    return [closed for at, closed in enumerate(room.contacts) if at == 0 or closed != room.contacts[at - 1]]


def _tread(page: Page) -> None:
    page.hover(".treadle")
    page.mouse.down()


@pytest.mark.parametrize(
    "lift",
    [
        "mouse.up",
        "document.querySelector('.treadle').dispatchEvent(new PointerEvent('pointercancel', {pointerId: 1}))",
        "document.querySelector('.treadle').dispatchEvent(new PointerEvent('lostpointercapture', {pointerId: 1}))",
        "dispatchEvent(new Event('blur'))",
        "Object.defineProperty(document, 'hidden', {value: true});"
        "document.dispatchEvent(new Event('visibilitychange'))",
        "goto",
    ],
    ids=["up", "cancelled", "lost", "blur", "hidden", "left"],
)
def test_the_pointer_is_the_foot(phone: Page, desk: StandInDesk, lift: str) -> None:
    """Down closes the contact at once; up opens it, and whatever loses the pointer counts as up."""
    phone.goto("/practice")
    _tread(phone)
    assert wait_until(lambda: _contacts(desk) == [True], phone)
    if lift == "mouse.up":
        phone.mouse.up()
    elif lift == "goto":
        phone.goto(
            "/sheets"
        )  # not by a script: one that leaves its page may never answer, and nothing limits that wait
    else:
        phone.evaluate(lift)
    assert wait_until(lambda: _contacts(desk) == [True, False], phone)


def test_a_page_that_goes_lifts_its_foot_itself(phone: Page, desk: StandInDesk) -> None:
    """A page sends word as it goes, in the one way that outlives a page; that others would notice too is no reason."""
    phone.goto("/practice")
    _tread(phone)
    assert wait_until(lambda: _contacts(desk) == [True], phone)
    with phone.expect_request(lambda asked: asked.url.endswith("/practice/contact") and asked.resource_type == "ping"):
        phone.evaluate("dispatchEvent(new PageTransitionEvent('pagehide'))")
    assert wait_until(lambda: _contacts(desk) == [True, False], phone)


def test_the_space_bar_is_the_foot_too(phone: Page, desk: StandInDesk) -> None:
    """Holding the space bar is one foot-down, however often the keyboard repeats it."""
    phone.goto("/practice")
    phone.keyboard.down("Space")
    phone.keyboard.down("Space")
    phone.keyboard.up("Space")
    assert wait_until(lambda: _contacts(desk) == [True, False], phone)


def test_enter_and_a_screen_readers_click_are_the_foot(phone: Page, desk: StandInDesk) -> None:
    """Enter held down is one foot-down; a click that brings neither pointer nor key is one short press."""
    phone.goto("/practice")
    phone.keyboard.down("Enter")
    phone.keyboard.down("Enter")
    assert wait_until(lambda: _contacts(desk) == [True], phone)
    phone.keyboard.up("Enter")
    assert wait_until(lambda: _contacts(desk) == [True, False], phone)
    phone.wait_for_timeout(800)
    phone.evaluate("document.querySelector('.treadle').click()")
    assert wait_until(lambda: _contacts(desk) == [True, False] * 2, phone)
    phone.wait_for_timeout(800)
    phone.hover(".treadle")
    phone.mouse.down()
    phone.mouse.up()
    assert wait_until(lambda: _contacts(desk) == [True, False] * 3, phone)
    phone.wait_for_timeout(400)
    assert _contacts(desk) == [True, False] * 3, "the click after a pointer is no second press"


def test_typing_a_space_is_no_foot(phone: Page, desk: StandInDesk) -> None:
    """In a field the space bar and Enter are the field's."""
    phone.goto("/practice")
    phone.click("details.hands summary")
    phone.click("input[name=place]")
    phone.keyboard.press("Space")
    phone.wait_for_timeout(200)
    assert _contacts(desk) == []


def test_the_space_bar_is_the_foot_after_a_click_elsewhere(phone: Page, desk: StandInDesk) -> None:
    """A filter that was just put in by mouse does not take the space bar away from the foot."""
    phone.goto("/practice")
    phone.click("button.chip[value=soft]")
    room = desk.practice()
    assert isinstance(room, FakePractice)
    assert wait_until(lambda: room.filter == "soft", phone)
    room.filter = ""
    phone.keyboard.press("Space", delay=50)
    assert wait_until(lambda: _contacts(desk) == [True, False], phone)
    assert room.filter == ""
    phone.keyboard.press("Tab")
    phone.keyboard.press("Space")
    assert wait_until(lambda: room.filter == "hard" or len(_contacts(desk)) == 4, phone)
    assert _contacts(desk) == [True, False], "whoever walks by Tab presses buttons with the space bar"


def test_the_filters_of_a_sheet_are_at_hand_as_soon_as_it_is_loaded(phone: Page, desk: StandInDesk) -> None:
    """A strip that asks for filter 2, loaded on the practice page itself, finds a 2 beside the drawer; it goes in."""
    phone.goto("/practice")
    chips = phone.locator("[data-rack] button")
    assert "2" not in chips.evaluate_all("all => all.map((one) => one.value)")
    desk.show(plan=desk.recipes().plan(desk.proof.id, 1), place="change filter", filter_wanted="2")
    phone.click("[data-rack] button[value='2']", timeout=3000)
    phone.wait_for_selector("[data-rack] button[value='2'][aria-pressed=true]")
    room = desk.practice()
    assert isinstance(room, FakePractice)
    assert room.filter == "2"
    assert chips.evaluate_all("all => all.map((one) => one.value)") == ["soft", "hard", "2", ""]


def test_quick_treads_arrive_in_order(phone: Page, desk: StandInDesk) -> None:
    """A double press is two downs and two ups, in order, however fast, and however slow the first one travels."""
    slow = [True]

    def travel(route: Route) -> None:
        if slow:
            slow.clear()
            phone.wait_for_timeout(300)
        route.continue_()

    phone.route("**/practice/contact", travel)
    phone.goto("/practice")
    phone.hover(".treadle")
    for _ in range(6):
        phone.mouse.down()
        phone.mouse.up()
    assert wait_until(lambda: _contacts(desk) == [True, False] * 6, phone)


def test_a_page_that_vanishes_lifts_its_foot(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """A tab that is closed with the foot down opens the contact."""
    page = open_phone()
    page.goto("/practice")
    page.wait_for_timeout(200)
    _tread(page)
    assert wait_until(lambda: _contacts(desk) == [True], page)
    page.context.close()
    end = time.monotonic() + 4
    while _contacts(desk) != [True, False] and time.monotonic() < end:
        time.sleep(0.02)
    assert _contacts(desk) == [True, False]


def test_the_practice_foot_never_moves(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """By day, in the dark and in light the foot switch stays under the thumb, on a phone and on a laptop."""
    for width, height in ((390, 844), (1200, 800)):
        page = open_phone(width, height)
        desk.show(open=False, lit=None, stop_possible=False)
        desk.say_day()
        page.goto("/practice")
        page.wait_for_selector("html.day")
        by_day = page.locator(".treadle").bounding_box()
        _show_sheet(desk, "light", **LIT)
        page.wait_for_selector("html.lit:not(.day)")
        assert page.locator(".treadle").bounding_box() == by_day
        assert is_dark(look(page))
        assert page.evaluate(
            "(() => { const box = document.querySelector('.stopper').getBoundingClientRect();"
            "return document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2)"
            ".closest('.stopper') !== null })()"
        )


def test_what_would_be_heard_is_listed_and_the_lamp_is_seen(phone: Page, desk: StandInDesk) -> None:
    """Cues appear in words, newest first, and the lamp, drawer and lid follow the simulated darkroom."""
    phone.goto("/practice")
    phone.wait_for_timeout(200)
    for cue in ("lead-in", "tick", "tick", "tick"):
        desk.sound(cue)
    desk.sound("number", 3)
    phone.wait_for_selector(".heard li >> text=step 3")
    ticks = f"{say('page.cue-tick')} × 3"
    assert phone.locator(".heard li").all_inner_texts() == ["step 3", ticks, say("page.cue-lead-in")]
    room = desk.practice()
    assert isinstance(room, FakePractice)
    room.lit = True
    phone.wait_for_selector("[data-lamp=lit]")
    phone.click("button.chip[value=hard]")
    phone.wait_for_selector("button.chip[value=hard][aria-pressed=true]")
    assert room.filter == "hard"


def test_what_is_drawn_is_touched_where_it_is(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Box, easel, carrier, card and tools do what they say at a tap, and at Enter for whoever walks by Tab."""
    page = open_phone(1280, 800)
    room = desk.practice()
    assert isinstance(room, FakePractice)
    room.staged = Stage(bands=7, card=("cover", 5), tools=(Tool(act="dodge", area="C"), Tool(act="burn", area="A")))
    page.goto("/practice")
    _touch(page, "lid")
    assert wait_until(lambda: room.open, page)
    for what in ("paper", "negative", "card"):
        _touch(page, what)
    page.locator("[data-press=tool][data-act=dodge]").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    page.locator("[data-press=tool][data-act=burn]").dispatch_event("click")
    wanted = [("paper", True), ("negative", False, "A"), ("card on", desk.status().number)]
    wanted += [("tool", "C", "dodge", True), ("tool", "A", "burn", True)]
    assert wait_until(lambda: len(room.hands) == len(wanted), page), room.hands
    assert room.hands == wanted
    assert _contacts(desk) == [], "none of it was the foot"


def _touch(page: Page, what: str) -> None:
    """Tap a thing of the picture in its middle, one after the other: requests may overtake each other."""
    one = page.locator(f"[data-press={what}] .hit, [data-press={what}] .card-face").first
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        box = one.bounding_box()
        assert box is not None
        page.mouse.click(box["x"] + box["width"] * 0.55, box["y"] + box["height"] * 0.55)


BOXES = """(all) => {
  const found = all.map((what) => [what, document.querySelector(what)?.getBoundingClientRect()]);
  return found.every(([what, box]) => box && box.width) && Object.fromEntries(found);
}"""
"""Where each is, all at one moment: a page that is painted anew between two looks would be two pages."""


@pytest.mark.parametrize(("width", "height"), [(390, 844), (320, 568), (844, 390), (1024, 768), (1280, 800)])
def test_what_to_do_now_stands_first(
    open_phone: Callable[..., Page], desk: StandInDesk, width: int, height: int
) -> None:
    """At every width what to do now, the filter and the foot switch are in view together, and nothing is too narrow."""
    page = open_phone(width, height, red=None)
    desk.show(plan=desk.recipes().plan(desk.proof.id, 1), place="change filter", filter_wanted="2")
    page.goto("/practice")
    shown = page.wait_for_function(BOXES, arg=[".lead-words", "[data-rack] [data-wanted]", ".treadle"])
    boxes = shown.json_value()
    for what, box in boxes.items():
        assert box["x"] >= 0, what
        assert box["x"] + box["width"] <= width + 0.5, what
        assert box["y"] >= 0, what
        assert box["y"] + box["height"] <= height + 0.5, what
    assert (
        boxes["[data-rack] [data-wanted]"]["y"] + boxes["[data-rack] [data-wanted]"]["height"]
        <= boxes[".treadle"]["y"] + 0.5
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    words = page.eval_on_selector_all(
        "main p, main button, main li",
        "all => all.filter((one) => one.checkVisibility() && !one.matches('.unseen') && one.innerText.trim()"
        " && one.getBoundingClientRect().width < 40).map((one) => one.innerText)",  # what is seen of it
    )
    assert [text for text in words if len(text.strip()) > 4] == []


def test_focus_is_never_under_the_foot_switch(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Whoever walks by Tab sees where the focus is: the foot switch at the lower edge covers none of it."""
    desk.show(plan=desk.recipes().plan(desk.proof.id, 1), place="change filter", filter_wanted="2")
    for width, height in ((390, 844), (1280, 800)):
        page = open_phone(width, height)
        page.goto("/practice")
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        seen = 0
        for _ in range(70):
            page.keyboard.press("Tab")
            hidden = page.evaluate(
                "() => { const at = document.activeElement, box = at.getBoundingClientRect();"
                " const pedal = document.querySelector('.foot').getBoundingClientRect();"
                " if (at === document.body || at.closest('.foot')) return null;"
                " return box.height < pedal.top && box.top >= pedal.top - 4 && box.bottom <= pedal.bottom"
                " && box.left < pedal.right && box.right > pedal.left ? at.textContent : ''; }"
            )
            seen += hidden is not None
            assert not hidden, (hidden, width)
        assert seen > 20
