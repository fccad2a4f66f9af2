"""A form that is sent: its answer can be come back to without sending it again, and it counts once."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from flask import Flask
from tools.shelf_phone import ORIGIN, Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.words import say_many
from webui.frame.form_answers import PAGES_KEPT, RESULTS_KEPT, FormAnswers, PageKept

RECIPE = "/shelf/write/recipe"
AS_A_BROWSER = {"Origin": ORIGIN, "Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def _send(phone: Phone, page: Page, do: str, **typed: str) -> str:
    """Press a button as a browser does, and return where it leads."""
    answer = phone.client.post(RECIPE, data=dict([*page.typed(**typed), ("do", do)]), headers=AS_A_BROWSER)
    assert answer.status_code == 303, answer.text
    return str(answer.location)


def test_a_line_is_added_by_a_redirect(phone: Phone, desk: StandInDesk) -> None:
    """A button of a form leads to a page with an address, which can be had again and again with all that was typed."""
    page = phone.look("/shelf/new/recipe")
    where = _send(phone, page, "add local", title="Boat slip", light_0_seconds="12")
    for _ in range(2):
        fields = dict(phone.look(where).fields)
        assert (fields["title"], fields["light-0-seconds"], fields["local-0-area"]) == ("Boat slip", "12", "A")
    assert desk.saves == 0


def test_a_refusal_leads_to_its_page(phone: Phone, desk: StandInDesk) -> None:
    """A refused form has an address too, with its status, the field's own words, and the way to the field."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    after = phone.look(_send(phone, page, "keep", head_height="about 62 cm"), 422)
    assert after.told() == {"head-height": "Head height: type a number such as 620 mm. “about 62 cm” is none."}
    assert say_many("page.to-correct", 1, first="Head height") in after.words
    assert "#in-head-height" in after.links
    assert "in-head-height" in after.ids
    assert "head_height_mm" not in after.words


def test_a_kept_answer_is_painted_for_the_room_as_it_is(phone: Phone, desk: StandInDesk) -> None:
    """Come back to after the day face has ended, the page is dark and waits, with what was typed still in it."""
    where = _send(phone, phone.look("/shelf/new/recipe"), "add local", title="Boat slip")
    assert "data-day=" in phone.look(where).text
    desk.show(day_until_ns=None)
    page = phone.look(where)
    assert "data-day=" not in page.text
    assert "data-needs-day" in page.text
    assert dict(page.fields)["title"] == "Boat slip"


def test_an_answer_that_is_gone_leads_to_its_form(phone: Phone, desk: StandInDesk) -> None:
    """Where the answer is kept no longer, its address leads to the form it came from."""
    first = _send(phone, phone.look(f"/shelf/{desk.crane.id}/edit"), "add local")
    for _ in range(PAGES_KEPT):
        _send(phone, phone.look("/shelf/new/recipe"), "add local")
    assert phone.client.get(first).location == f"/shelf/{desk.crane.id}/edit"
    assert phone.client.get("/typed/nothing?home=//elsewhere").location == "/"


def test_a_form_sent_twice_keeps_one(phone: Phone, desk: StandInDesk) -> None:
    """A second tap leads where the first one led, and nothing is kept twice; changed words are another matter."""
    page = phone.look("/shelf/new/recipe")
    typed = {"title": "Boat slip", "light_0_seconds": "12", "light_1_seconds": "9"}
    first = _send(phone, page, "keep", **typed)
    assert _send(phone, page, "keep", **typed) == first
    assert desk.saves == 1
    assert _send(phone, page, "keep", **typed | {"title": "Boat slip, softer"}) != first
    assert desk.saves == 2


def test_a_kept_form_has_its_mark_told(phone: Phone, desk: StandInDesk) -> None:
    """The page after a form that was kept names its mark, so that the draft goes; a refused form's is not named."""
    page = phone.look("/shelf/new/recipe")
    mark = dict(page.fields)["once"]
    assert f"{mark}" not in phone.look(_send(phone, page, "keep", title=""), 422).text
    where = _send(phone, page, "keep", title="Boat slip", light_0_seconds="12", light_1_seconds="9")
    assert f'data-drafts-done="{mark}"' in phone.look(where).text


def test_two_taps_at_once_are_one(phone: Phone, desk: StandInDesk) -> None:
    """Two sendings that are under way together end at one address, with one thing kept."""
    page = phone.look("/shelf/new/recipe")
    body = dict([*page.typed(title="Boat slip", light_0_seconds="12", light_1_seconds="9"), ("do", "keep")])
    cookie = phone.client.get("/").request.headers["Cookie"]
    app: Flask = phone.client.application
    led: list[str | None] = []

    def tap() -> None:
        answer = app.test_client(use_cookies=False).post(RECIPE, data=body, headers={**AS_A_BROWSER, "Cookie": cookie})
        led.append(answer.location)

    taps = [threading.Thread(target=tap) for _ in range(2)]
    for one in taps:
        one.start()
    for one in taps:
        one.join()
    assert len(set(led)) == 1
    assert desk.saves == 1


def test_what_is_kept_is_bounded() -> None:
    """However many forms are sent, a fixed number of answers and results is kept, the newest, each for its phone."""
    answers = FormAnswers()
    keys = [answers.keep(PageKept("phone", "x.html", 200, "/", False, {})) for _ in range(PAGES_KEPT + 5)]
    assert [answers.page(key, "phone") is not None for key in keys] == [False] * 5 + [True] * PAGES_KEPT
    assert answers.page(keys[-1], "another") is None
    for number in range(RESULTS_KEPT + 5):
        assert answers.first(str(number)) is None
    assert answers.first("0") is None
    assert answers.first(str(RESULTS_KEPT + 4)) is not None
