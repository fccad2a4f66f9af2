"""What a page asks for: one address a verb, decided on a numbered snapshot, answered with how things stand."""

from __future__ import annotations

from typing import Any, get_args

import pytest
from tools.phone import Paired, words_of
from tools.stand_in_desk import PLAN, StandInDesk, next_step

from controller.errors import ControllerError, Impossible, KeeperGone, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.foot import acts
from controller.foot.acts import (
    AskFocus,
    Assume,
    CallGiven,
    ChangeRemark,
    CloseSheet,
    LeaveOut,
    Load,
    Looked,
    MoreBurn,
    NoLight,
    PaperAway,
    PaperOut,
    Pick,
    PutBack,
    PutDown,
    StartStep,
    TakeBackRemark,
    WriteRemark,
)
from controller.foot.status import Status
from controller.words import say
from webui.pages.acts import BY_ADDRESS, back_to

SENT: list[tuple[str, dict[str, Any], acts.Act]] = [
    ("load", {"source": "crane"}, Load(source="crane")),
    ("load", {"source": "crane", "version": "1"}, Load(source="crane", version=1)),
    ("put-down", {}, PutDown()),
    ("call-given", {}, CallGiven()),
    ("leave-out", {}, LeaveOut()),
    ("put-back", {}, PutBack()),
    ("more-burn", {"filter": "soft", "amount": "stops 1/4", "area": ""}, MoreBurn(filter="soft", stops="1/4")),
    ("more-burn", {"filter": "00", "amount": "seconds 4", "area": "A"}, MoreBurn(filter="00", seconds=4, area="A")),
    ("no-light", {}, NoLight()),
    ("close", {}, CloseSheet()),
    ("assume", {"light": "l1", "which": "middle"}, Assume(light="l1", which="middle")),
    ("ask-focus", {}, AskFocus()),
    ("start", {}, StartStep()),
    ("paper-away", {}, PaperAway()),
    ("paper-out", {}, PaperOut()),
    ("pick", {"sheet": "s1", "band": "3", "between": "1"}, Pick(sheet="s1", band=3, between=True)),
    ("looked", {"sheet": "s1", "light": "-1", "dark": "0"}, Looked(sheet="s1", light=-1, dark=0)),
    (
        "looked",
        {"sheet": "s1", "light": "0", "dark": "-3", "dark_density": "1.2"},
        Looked(sheet="s1", light=0, dark=-3, dark_density=1.2),
    ),
    ("pick", {"sheet": "s1", "band": "3", "title": "crane"}, Pick(sheet="s1", band=3, title="crane")),
    ("remark", {"sheet": "s1", "text": "a touch more"}, WriteRemark(sheet="s1", text="a touch more")),
    (
        "change-remark",
        {"sheet": "s1", "remark": "2", "text": "less"},
        ChangeRemark(sheet="s1", remark=2, text="less"),
    ),
    ("take-back-remark", {"sheet": "s1", "remark": "2"}, TakeBackRemark(sheet="s1", remark=2)),
]


@pytest.mark.parametrize(("address", "fields", "act"), SENT, ids=lambda value: value if isinstance(value, str) else "")
def test_each_verb_has_its_address(
    phone: Paired, desk: StandInDesk, address: str, fields: dict[str, Any], act: acts.Act
) -> None:
    """A form's fields become exactly the act that was meant, decided on the number the form carries."""
    number = desk.status().number
    answer = phone.send(f"/act/{address}", {"number": number, **fields})
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/"
    assert desk.acts == [(act, number)]


def test_no_verb_is_left_out() -> None:
    """Every act of the controller has an address, and each address is named after its verb."""
    union = get_args(get_args(acts.Act)[0])
    assert set(BY_ADDRESS.values()) == set(union)
    assert all(kind.model_fields["verb"].default == address.replace("-", " ") for address, kind in BY_ADDRESS.items())


def test_an_act_on_an_old_snapshot_is_refused_with_the_fresh_page(phone: Paired, desk: StandInDesk) -> None:
    """409: nothing is done, the sentence says so, and the page shows how things stand now, with the present number."""
    old = desk.status().number
    now = desk.show(place="ready", plan=PLAN, next=next_step(2), can=("close",), open=True, headline="Press to begin.")
    answer = phone.send("/act/close", {"number": old})
    assert answer.status_code == 409
    assert desk.acts == []
    assert "Something has changed since." in words_of(answer)
    assert "burn A" in words_of(answer)
    assert f'name="number" value="{now.number}"' in answer.text


def test_a_number_counts_within_its_run(phone: Paired, desk: StandInDesk) -> None:
    """Numbers begin anew with the daemon, so a page of an earlier run is refused even where its number fits."""
    number = desk.status().number
    answer = phone.send("/act/close", {"number": number, "run": "an earlier one"})
    assert answer.status_code == 409
    assert say("page.refused-run") in words_of(answer)
    assert desk.acts == []
    run = phone.look("/status.json").get_json()["run"]
    assert f'name="run" value="{run}"' in phone.look("/").text
    assert phone.send("/act/close", {"number": number, "run": run}).status_code == 303


def test_what_happens_meanwhile_is_on_the_fresh_page(phone: Paired, desk: StandInDesk) -> None:
    """The page that comes with a refusal shows how things stand after it, not as they stood when the tap arrived."""

    def overtaken(act: acts.Act, number: int) -> Status:
        desk.show(place="ready", plan=PLAN, next=next_step(2), headline="Press to begin.", open=True, can=("close",))
        raise WrongMoment("Something has changed since.")

    desk.do = overtaken  # type: ignore[method-assign]
    answer = phone.send("/act/put-down", {"number": desk.status().number})
    assert answer.status_code == 409
    assert "burn A" in words_of(answer)


@pytest.mark.parametrize("number", [None, "", "x", "1.5"])
def test_an_act_without_a_number_is_refused(phone: Paired, desk: StandInDesk, number: str | None) -> None:
    """An act that does not say what it was decided on is not done."""
    answer = phone.send("/act/close", {} if number is None else {"number": number})
    assert answer.status_code == 422
    assert say("page.refused-number") in words_of(answer)
    assert desk.acts == []


@pytest.mark.parametrize(
    ("address", "fields", "named"),
    [
        ("load", {}, "source"),
        ("load", {"source": "x", "version": "new"}, "version"),
        ("assume", {"light": "l", "which": "half"}, "which"),
        ("more-burn", {"amount": "stops 1"}, "filter"),
        ("more-burn", {"filter": "a name far too long", "amount": "stops 1"}, "filter"),
        ("pick", {"sheet": "s", "band": "0"}, "band"),
        ("pick", {"sheet": "s", "band": "1", "title": "x" * 201}, "title"),
        ("remark", {"sheet": "s", "text": "x" * 2001}, "text"),
        ("change-remark", {"sheet": "s", "remark": "0", "text": "x"}, "remark"),
        ("take-back-remark", {"sheet": "s"}, "remark"),
        (
            "at-the-enlarger",
            {"bench": "{" + ",".join(f'"{number}":1' for number in range(101)) + "}"},
            "done: at-the-enlarger is",
        ),
    ],
)
def test_a_field_that_is_wrong_is_named(
    phone: Paired, desk: StandInDesk, address: str, fields: dict[str, Any], named: str
) -> None:
    """422: the sentence names the field, and nothing is done."""
    answer = phone.send(f"/act/{address}", {"number": 1, **fields})
    assert answer.status_code == 422
    assert named in words_of(answer)
    assert desk.acts == []


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (WrongMoment("Sheet 5 is open; close it first."), 409),
        (NotThere("No recipe of that name is kept."), 404),
        (Unreadable("light[0].seconds is negative; give 0.1 s or more."), 422),
        (Impossible("The dodges take more than the base; give less."), 422),
        (StoreTrouble("The card is full; free some room."), 503),
        (KeeperGone("The keeper does not answer; wait for it."), 503),
    ],
)
def test_what_the_controller_refuses_is_told_in_its_words(
    phone: Paired, desk: StandInDesk, error: ControllerError, status: int
) -> None:
    """Each family of errors has its code, and its own sentence reaches the person, on a page and to a script."""
    desk.refuse = error
    answer = phone.send("/act/close", {"number": 1})
    assert answer.status_code == status
    assert str(error) in words_of(answer)
    assert (answer.headers.get("Retry-After") is not None) == (status == 503)
    told = phone.send("/act/close", {"number": 1}, Accept="application/json")
    assert told.status_code == status
    assert told.get_json()["refusal"] == str(error)


def test_a_script_is_answered_with_the_panel(phone: Paired, desk: StandInDesk) -> None:
    """Asked by a script, an act answers with the word after it, the panel included."""
    answer = phone.send("/act/put-down?part=now", {"number": 1}, Accept="application/json")
    assert answer.status_code == 200
    assert answer.get_json()["number"] == desk.status().number
    assert "Harbour crane" in answer.get_json()["html"]


def test_an_unknown_verb_is_404(phone: Paired) -> None:
    """There is no address for what is no act."""
    assert phone.send("/act/light", {"number": 1}).status_code == 404


@pytest.mark.parametrize(
    ("wish", "way"),
    [
        ("/sheets/x", "/sheets/x"),
        ("/pick/a?band=3", "/pick/a?band=3"),
        ("//evil.example", "/"),
        ("/\\evil.example", "/"),
        ("https://evil.example", "/"),
        ("/a\r\nX: y", "/"),
        ("", "/"),
    ],
)
def test_a_form_leads_on_within_this_page_only(wish: str, way: str) -> None:
    """The page that a form goes back to is one of ours, whatever the form says."""
    assert back_to(wish) == way


def test_a_page_that_is_used_says_so_and_one_that_is_looked_at_does_not(phone: Paired, desk: StandInDesk) -> None:
    """By day a post of a page, and the small one while it is typed on, count as use; looking never does."""
    desk.say_day()
    for address in ("/", "/shelf", "/settings", "/status.json", "/shelf/new/recipe"):
        phone.look(address)
    assert desk.uses == 0
    assert phone.send("/day/used").status_code == 204
    phone.send("/shelf/write/recipe", {"do": "add local"})
    assert desk.uses == 2
    desk.show(day_until_ns=None)
    phone.send("/shelf/write/recipe", {"do": "add local"})
    assert desk.uses == 2


def test_the_day_face_can_be_asked_for_on_the_spot(phone: Paired, desk: StandInDesk) -> None:
    """A page of the day face holds the button that asks for it again outside of what waits for it."""
    desk.say_day()
    text = phone.look("/shelf/new/recipe").text
    form = text[text.index('class="white-again"') : text.index("<main")]
    assert 'action="/act/paper-away"' in form
    assert say("page.act-paper-away-sure") in form
    assert "white-again" not in phone.look("/").text
