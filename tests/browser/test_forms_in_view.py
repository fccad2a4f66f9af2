"""The forms as a thumb finds them: what is in view at opening, how many taps and fields it takes, what Enter does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page
from tools.stand_in_desk import PLAN, StandInDesk, next_step, step_lines
from tools.visit import LOST

from controller.words import say
from webui.forms.usual_strips import USUAL

pytestmark = pytest.mark.browser

SEEN = """() => [...document.querySelectorAll('main :is(input, select, textarea, button, summary)')]
  .filter((one) => one.type !== 'hidden' && !one.matches('.unheard') && one.checkVisibility())
  .filter((one) => one.matches('[type=radio], [type=checkbox]') || one.getBoundingClientRect().width > 1)
  .map((one) => one.matches('[type=radio], [type=checkbox]') ? `choice ${one.name}` : `${one.tagName} ${one.name}`)"""
"""The controls of a page that can be seen without unfolding anything; the choices of one question are one."""
HEIGHT = "document.querySelector('main').getBoundingClientRect().height"
FORMS = (
    "/shelf/{crane}/edit",
    "/shelf/{strip}/edit",
    "/shelf/new/recipe",
    "/shelf/new/strip",
    "/pick/s2?band=4",
    "/sheets/s1",
    "/papers/new",
)
SHEET: dict[str, Any] = {
    "plan": PLAN,
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "place": "ready",
    "headline": "Press when ready.",
    "day_until_ns": None,
    "can": ("call given", "leave out", "more burn", "no light", "close"),
}


@pytest.fixture
def desk(desk: StandInDesk) -> StandInDesk:
    """The desk by day, with a print's and a strip's sheet."""
    desk.work(desk.crane, "s1")
    desk.work(desk.strip, "s2")
    desk.say_day()
    return desk


def _named(desk: StandInDesk, addresses: tuple[str, ...]) -> list[str]:
    return [address.format(crane=desk.crane.id, strip=desk.strip.id) for address in addresses]


def _open(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_selector("html.day")


def _questions(page: Page) -> list[str]:
    return list(dict.fromkeys(page.evaluate(SEEN)))


# ---- a recipe


@pytest.mark.parametrize(
    ("address", "controls", "height"),
    [
        ("/shelf/{crane}/edit", 18, 2000),  # before: 39 controls, 4557 px
        ("/shelf/new/recipe", 15, 1300),
        ("/shelf/new/strip", 14, 1500),
        ("/shelf/{strip}/edit", 16, 1500),
    ],
)
def test_a_form_opens_short(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str, controls: int, height: int
) -> None:
    """At opening few controls are in view, and the whole page is a few screens of a phone, not five."""
    page = open_phone(390, 844)
    _open(page, _named(desk, (address,))[0])
    seen = _questions(page)
    assert len(seen) <= controls, seen
    assert page.evaluate(HEIGHT) <= height


def test_local_work_opens_one_row_at_a_time(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Each area is a row of one line that says what it is; a tap opens it and shuts the one before."""
    page = open_phone(390, 844)
    _open(page, f"/shelf/{desk.crane.id}/edit")
    rows = page.locator("details.work > summary")
    assert [" ".join(words.split()) for words in rows.all_inner_texts()] == [
        "A sky · burn +1 · soft 10.1 s",
        "C under the cab · dodge −1/3 · hard 1.7 s",
        "B wet stones · burn +2/3 · hard 4.7 s",
    ]
    assert all(row.bounding_box()["height"] <= 76 for row in rows.all())  # type: ignore[index]
    for number in (0, 2):
        rows.nth(number).click()
        assert page.locator("details.work[open]").count() == 1
        assert page.locator(f"[name=local-{number}-what]").is_visible()
    page.fill("[name=local-2-what]", "kerb")
    page.locator("#in-local-2-act").get_by_text("dodge", exact=True).click()
    page.wait_for_selector("details.work b:text-is('B kerb · dodge −2/3 · hard')")


def test_a_row_that_is_worked_on_stays_open(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """A new row comes open, one that is moved stays so, and one that was refused shows its sentence."""
    page = open_phone(390, 844)
    _open(page, f"/shelf/{desk.crane.id}/edit")
    page.click("text=another area")
    page.wait_for_selector("#local-3[open]")
    page.locator("#local-3").get_by_text(say("shelf.up"), exact=True).click()
    page.wait_for_selector("#local-2[open]")
    page.fill("[name=local-2-area]", "")
    page.fill("[name=local-2-what]", "roof")
    page.click(".bar .sure")
    page.wait_for_selector("#local-2[open] [data-beside=local-2-area]:not(:empty)")


def test_the_timeline_stays_in_view_while_one_types(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """However far down one is, the exposures stand in a low line on top, and follow what is typed."""
    page = open_phone(390, 844)
    _open(page, f"/shelf/{desk.crane.id}/edit")
    page.locator("details.work > summary").nth(2).click()
    page.select_option("[name=local-2-dose]", "1 1/2")
    page.locator("[name=local-2-filter]").scroll_into_view_if_needed()
    line = page.locator("#look-line")
    # 8.0 s and a stop and a half over it: 8.0 · (2^1.5 − 1) = 14.6 s (derived)
    page.wait_for_selector("#look-line text:text-is('B 14.6')")
    box = line.bounding_box()
    assert box is not None
    assert box["y"] == 0
    assert 40 <= box["height"] <= 64
    assert page.evaluate("scrollY") > 100


def test_a_mistake_in_a_shut_row_marks_the_row(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """What a figure elsewhere makes wrong in a row that is shut is seen on the row."""
    page = open_phone(390, 844)
    _open(page, f"/shelf/{desk.crane.id}/edit")
    page.select_option("[name=light-1-filter]", "2")
    page.wait_for_selector("#local-1.wrong")
    page.select_option("[name=light-1-filter]", "hard")
    page.wait_for_selector("#local-1:not(.wrong)")


# ---- a strip


@pytest.mark.parametrize("which", ["first", "finer", "over", "burn"])
def test_a_usual_strip_takes_two_taps_and_no_field(
    open_phone: Callable[..., Page], desk: StandInDesk, which: str
) -> None:
    """One tap fills the whole strip in and draws it, one more saves it; nothing is typed, and it can be loaded."""
    page = open_phone(390, 844)
    _open(page, "/shelf/new/strip")
    assert page.locator(".usual button").count() == 4
    page.locator(f".usual button[value='usual {which}']").click()
    page.wait_for_function(
        "template => document.querySelector('[name=template]').value === template && "
        "document.querySelector('[name=title]').value.endsWith(': harbour crane')",
        arg=USUAL[which],
    )
    assert page.locator("#look-strip svg").is_visible()
    assert not page.locator("#in-kind").is_visible(), "what is seldom changed stays folded"
    page.click(".bar .sure")
    page.wait_for_url("**said=kept")
    assert desk.saves == 1
    assert page.locator(".bar .sure").inner_text() == say("shelf.load")


def test_the_rest_of_a_strip_is_one_fold_away(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """One tap shows every choice of a strip: three ways to differ, three of the card, three paces."""
    page = open_phone(390, 844)
    _open(page, "/shelf/new/strip")
    page.click("#making > summary")
    for name in ("kind", "card", "pace"):
        assert page.locator(f"#in-{name} label:visible").count() == 3
    assert " ".join(page.inner_text("#making > summary").split()) == (
        f"{say('shelf.making')} 7 bands · usual (1/3) · card covers · a press for each band"
    )
    page.locator("#in-pace").get_by_text(say("shelf.pace-long")).click()
    page.wait_for_selector(f"#making small:has-text('{say('shelf.pace-long')}')")


# ---- every page


def test_enter_in_a_recipe_saves_it(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Enter in any field of a recipe keeps it as a new version, as the black button does."""
    page = open_phone(390, 844)
    _open(page, f"/shelf/{desk.crane.id}/edit")
    page.fill("[name=light-0-seconds]", "12.5")
    page.press("[name=light-0-seconds]", "Enter")
    page.wait_for_url("**said=kept")
    assert desk.recipes().fetch(desk.crane.id).version == 2


def test_a_wide_page_uses_its_width(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """At 1280 the picture stands beside the form, or beside what is done about it, and both are in view."""
    page = open_phone(1280, 800)
    for address, left, right in (
        (f"/shelf/{desk.crane.id}/edit", ".fields", "#look-line"),
        (f"/shelf/{desk.crane.id}/edit", ".fields", "#look"),
        ("/shelf/new/strip", ".fields", "#look-strip"),
        ("/pick/s2?band=4&between=0", ".standing", "#meaning"),
        ("/sheets/s1", ".of-sheet .pic", ".of-sheet .steps"),
    ):
        _open(page, address)
        one, two = page.locator(left).bounding_box(), page.locator(right).bounding_box()
        assert one is not None
        assert two is not None
        assert one["x"] + one["width"] <= two["x"], address
        assert two["y"] < 700, address
        assert two["x"] + two["width"] <= 1280, address
        assert min(one["width"], two["width"]) >= 400, address


@pytest.mark.parametrize("address", ["/papers/new", "/papers/by-eye", "/trays/process/FB"])
def test_the_narrowest_phone_bears_text_twice_as_large(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str
) -> None:
    """With text at 200 % a page of 320 px is no wider than the screen either, nor does a label lie over its field."""
    page = open_phone(320, 640, red=None)
    _open(page, address)
    page.evaluate("document.documentElement.style.fontSize = '32px'")
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.name = ''; fold.open = true; })")
    assert page.evaluate(LOST) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("address", FORMS)
def test_zoomed_twice_the_bars_leave_room(open_phone: Callable[..., Page], desk: StandInDesk, address: str) -> None:
    """A phone's page at 200 % is 195 by 422: what stays in view at its edges takes less than a third of the height."""
    page = open_phone(195, 422)
    _open(page, _named(desk, (address,))[0])
    assert page.evaluate("document.documentElement.scrollWidth") <= 195
    page.evaluate("scrollTo(0, document.body.scrollHeight / 2)")
    page.wait_for_timeout(50)
    taken = page.evaluate(
        "() => [...document.querySelectorAll('body *')].filter((one) => one.checkVisibility()"
        " && ['sticky', 'fixed'].includes(getComputedStyle(one).position)).map((one) => one.getBoundingClientRect())"
        ".filter((box) => box.bottom > 0 && box.top < innerHeight && (box.top <= 1 || box.bottom >= innerHeight - 1))"
        ".reduce((sum, box) => sum + Math.min(box.bottom, innerHeight) - Math.max(0, box.top), 0)"
    )
    assert taken < 422 / 3
    for words in page.locator(".bar:visible :is(button, a)").all():
        assert words.evaluate(
            "one => one.scrollWidth <= one.clientWidth + 1 && one.scrollHeight <= one.clientHeight + 1"
        )


def test_a_field_gone_to_by_key_stands_clear_of_the_bar(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """WCAG 2.2, 2.4.11 Focus Not Obscured: nothing that Tab reaches lies under the bar; of notes the line one is in."""
    page = open_phone(390, 640)
    for address in _named(desk, ("/settings", "/shelf/new/recipe", "/trays/process/FB", "/trays/baths")):
        _open(page, address)
        for _ in range(60):
            page.keyboard.press("Tab")
            told = page.evaluate(
                "() => { const one = document.activeElement, bar = document.querySelector('.bar');"
                " const box = one.getBoundingClientRect(), low = one.matches('textarea') ? box.top + 40 : box.bottom;"
                " return one.closest('main') && box.height > 2 ? low - bar.getBoundingClientRect().top : -1; }"
            )
            assert told <= 0, f"{address}: {page.evaluate('document.activeElement.outerHTML')[:120]} by {told}"
            if page.evaluate("!!document.activeElement.closest('.bar')"):
                break
        else:
            pytest.fail(f"Tab never comes to the bar: {address}")


# ---- in a sheet


def test_weighty_acts_are_folded_the_most_drastic_last(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """In a sheet one more burn is at hand; what is rare and weighty lies in one fold, each with what it means."""
    page = open_phone(390, 844)
    desk.show(**SHEET)
    page.goto("/")
    page.wait_for_selector(f"text={say('page.act-more-burn')}")
    acts = page.locator(".panel .acts details.act > summary:visible")
    assert [words.strip() for words in acts.all_inner_texts()] == [
        say("page.act-more-burn"),
        say("page.something-else"),
    ]
    acts.last.click()
    rare = page.locator(".rare details > summary")
    verbs = ("call-given", "no-light", "leave-out", "close")
    assert [words.split("\n") for words in rare.all_inner_texts()] == [
        [say(f"page.act-{verb}"), say(f"page.act-{verb}-means")] for verb in verbs
    ]
    rare.last.click()
    assert page.get_by_text(say("page.act-close-sure")).is_visible()
    rare.first.click()
    assert not page.get_by_text(say("page.act-close-sure")).is_visible()
    assert page.locator(".rare").get_attribute("open") is not None
