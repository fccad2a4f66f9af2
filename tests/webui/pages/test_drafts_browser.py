"""What is typed survives in a real browser: a reload, another page and Back, a wrong field, a second click."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from tools.fitted_papers import demo
from tools.shelf_browser import narrow_phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot.acts import PaperAway
from controller.words import say, say_many

pytestmark = pytest.mark.browser


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk(clock=time.monotonic_ns) as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk, browser: Browser) -> Iterator[Page]:
    with narrow_phone(desk, browser) as page:
        yield page


def wait_for(what: Callable[[], bool]) -> None:
    until = time.monotonic() + 5
    while not what() and time.monotonic() < until:
        time.sleep(0.05)
    assert what()


def _type(phone: Page, address: str) -> None:
    phone.goto(address)
    phone.wait_for_selector("html.day")
    phone.locator("[name=title]").press_sequentially("Boat slip")
    phone.wait_for_timeout(400)


@pytest.mark.parametrize("way", ["reload", "another page", "Back"])
def test_a_draft_is_put_back(phone: Page, way: str) -> None:
    """What was typed is there again after a reload, by the way through another page, and by Back; and it is said."""
    _type(phone, "/shelf/new/recipe")
    if way == "reload":
        phone.reload()
    else:
        phone.goto("/sheets")
        phone.go_back() if way == "Back" else phone.goto("/shelf/new/recipe")
    expect(phone.locator("[name=title]")).to_have_value("Boat slip")
    expect(phone.locator(".draft p").first).to_have_text(say("page.draft-back"))


def test_a_draft_is_discarded_or_done_with(phone: Page, desk: StandInDesk) -> None:
    """Discarded, the form is as it was kept; and once a form is kept its draft is gone."""
    _type(phone, "/shelf/new/recipe")
    phone.reload()
    phone.click("[data-discard]")
    expect(phone.locator("[name=title]")).to_have_value("")
    phone.reload()
    expect(phone.locator(".draft")).to_be_hidden()
    _type(phone, "/shelf/new/recipe")
    phone.fill("[name=light-0-seconds]", "12")
    phone.fill("[name=light-1-seconds]", "9")
    phone.click(".bar .sure")
    phone.wait_for_url("**said=kept")
    phone.goto("/shelf/new/recipe")
    expect(phone.locator("[name=title]")).to_have_value("")
    assert desk.saves == 1


def test_lines_that_were_added_are_put_back(phone: Page) -> None:
    """A draft with more lines than the page is offered, and one press brings the page with its lines and words."""
    _type(phone, "/shelf/new/recipe")
    phone.get_by_text("dodge or burn an area").click()
    phone.wait_for_selector("#local-0")
    phone.locator("[name=local-0-what]").press_sequentially("the slip")
    phone.wait_for_timeout(400)
    phone.goto("/shelf/new/recipe")
    expect(phone.locator(".draft p").first).to_have_text(say("page.draft-other"))
    phone.click("[data-put-back]")
    expect(phone.locator("[name=local-0-what]")).to_have_value("the slip")
    expect(phone.locator("[name=title]")).to_have_value("Boat slip")


def test_back_after_a_line_sends_nothing_again(phone: Page) -> None:
    """Back from a page that a button of a form led to shows the form, not the browser's question."""
    _type(phone, "/shelf/new/recipe")
    phone.get_by_text("dodge or burn an area").click()
    phone.wait_for_selector("#local-0")
    phone.goto("/sheets")
    phone.go_back()
    expect(phone.locator("#local-0")).to_be_visible()
    expect(phone.locator("[name=title]")).to_have_value("Boat slip")


def test_finding_another_recipe_for_two_tones_drops_no_title(phone: Page, desk: StandInDesk) -> None:
    """The title of a recipe to be made of two tones' light is there again after a search, and the answer still is."""
    paper = desk.papers().keep(demo()).id
    tones = f"paper={paper}&light-negative=1.25&dark-negative=0.22&light=first&dark=last"
    phone.goto(f"/contrast?go=1&by=negative&soft-pick=&{tones}")
    phone.wait_for_selector("html.day")
    phone.locator("#keeping [name=title]").press_sequentially("Quay")
    phone.fill("[name=q]", "crane")
    phone.press("[name=q]", "Enter")
    phone.wait_for_url("**q=crane**")
    expect(phone.locator("#keeping [name=title]")).to_have_value("Quay")
    expect(phone.locator("#answer")).to_be_visible()


def test_a_refusal_is_in_view_and_leads_to_its_field(phone: Page, desk: StandInDesk) -> None:
    """After a refusal the line that counts what is wrong is on the screen, and its link puts the cursor there."""
    phone.goto(f"/shelf/{desk.crane.id}/edit")
    phone.wait_for_selector("html.day")
    phone.click("details:has([name=head-height]) > summary")
    phone.fill("[name=head-height]", "about 62 cm")
    phone.click(".bar .sure")
    line = phone.locator(".to-correct a")
    expect(line).to_have_text(say_many("page.to-correct", 1, first="Head height"))
    expect(line).to_be_in_viewport()
    line.click()
    expect(phone.locator("[name=head-height]")).to_be_focused()
    assert phone.get_attribute("[name=head-height]", "aria-invalid") == "true"
    assert phone.get_attribute("[name=head-height]", "aria-describedby") == "head-height-no"


def test_a_double_click_keeps_one(phone: Page, desk: StandInDesk) -> None:
    """Two clicks on Keep make one recipe."""
    _type(phone, "/shelf/new/recipe")
    phone.fill("[name=light-0-seconds]", "12")
    phone.fill("[name=light-1-seconds]", "9")
    phone.dblclick(".bar .sure")
    phone.wait_for_url("**said=kept")
    assert desk.saves == 1


def test_the_end_of_the_white_page_is_told_and_put_off(phone: Page, desk: StandInDesk) -> None:
    """The last two minutes are counted down, before them nothing is; "stay white" and typing say the page is used."""
    phone.goto("/shelf/new/recipe")
    phone.wait_for_selector("html.day")
    expect(phone.locator(".day-left")).to_be_hidden()
    desk.show(day_until_ns=desk.now_ns() + 100_000_000_000)
    expect(phone.locator(".day-left span")).to_have_text(re.compile(r"Dark again in 1:(3|4)\d\."))
    phone.click(".day-left button")
    wait_for(lambda: desk.uses == 1)
    desk.show(day_until_ns=desk.now_ns() + 600_000_000_000)
    expect(phone.locator(".day-left")).to_be_hidden()


def test_typing_is_use(phone: Page, desk: StandInDesk) -> None:
    """The first key says that the page is used; further ones within a minute say nothing more."""
    _type(phone, "/shelf/new/recipe")
    wait_for(lambda: desk.uses == 1)


def test_the_white_page_is_asked_for_where_one_is(phone: Page, desk: StandInDesk) -> None:
    """After the day face has ended, one button on the page itself asks for it, and what was typed stays."""
    _type(phone, "/shelf/new/recipe")
    desk.show(day_until_ns=None, day_refused="")
    phone.wait_for_selector("html:not(.day)")
    phone.click(".white-again:not(.no-paper) button")
    wait_for(lambda: any(isinstance(act, PaperAway) for act, _ in desk.acts))
    desk.say_day()
    phone.wait_for_selector("html.day")
    expect(phone.locator("[name=title]")).to_have_value("Boat slip")
    expect(phone.locator(".white-again:not(.no-paper)")).to_be_hidden()
