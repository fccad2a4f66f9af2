"""The prints in the trays, on both faces: first where no light is possible, in one line where it is."""

from __future__ import annotations

import re
import zlib
from typing import Any

import pytest
from tools.in_the_trays import IDLE, S, lies_in
from tools.phone import Paired, words_of
from tools.stand_in_desk import PLAN, StandInDesk, next_step

from controller.foot.status import PlaceName, Status
from controller.trays.journey import WAITS_NS
from controller.words import say
from webui.frame.panel import panel_of
from webui.frame.trays import safe_of, safe_words, trays_of, white_refused

AT = 1_000 * S


def _status(**changes: Any) -> Status:
    values = {"number": 1, "at_ns": AT, "place": "ready", "headline": "Press.", "plan": PLAN, "next": next_step(1)}
    return Status(**{**values, **changes})


@pytest.mark.parametrize(
    ("tray", "leads"),
    [("on its way", True), ("developer", True), ("drain", True), ("stop", True), ("fix", False), ("wash", False)],
)
def test_the_tray_leads_until_the_print_is_in_the_fix(tray: Any, leads: bool) -> None:
    """Nothing can be lit before that: the tray is the large thing. From the fix on the easel's line comes first."""
    status = _status(prints=(lies_in(tray, AT),))
    assert trays_of(status).leads is leads
    panel = panel_of(status, lambda _: ())
    assert panel.sheet == ("sheet 4" if leads else "")
    assert panel.given == ""


def test_with_nothing_to_do_at_the_easel_the_tray_leads_to_the_end() -> None:
    """Nothing chosen, or a strip that is all given away: the wash is what there is to look at."""
    status = _status(prints=(lies_in("wash", AT),), plan=None, next=None, place="nothing chosen")
    assert trays_of(status).leads


@pytest.mark.parametrize("place", ["lead-in", "white light?", "white-light warning", "focus light", "fault"])
def test_light_and_questions_stand_before_every_tray(place: PlaceName) -> None:
    """What is lit, announced or asked is never made small by a tray."""
    assert not trays_of(_status(prints=(lies_in("developer", AT),), place=place)).leads
    assert not trays_of(_status(prints=(lies_in("developer", AT),), open=True, sheet_number=5)).leads


def test_a_tray_says_its_name_its_time_and_what_comes_next() -> None:
    """Such as “developer 1:05, then drain”: never a number alone; the way there is no tray of its own."""
    (lies,) = trays_of(_status(prints=(lies_in("developer", AT),))).prints
    assert lies.span is not None
    assert (lies.tray, lies.span.left, lies.span.share, lies.then) == ("developer", "1:05", 27, "then drain")
    assert [(dish.name, dish.state) for dish in lies.dishes] == [
        ("developer", "now"),
        ("drain", "ahead"),
        ("stop bath", "ahead"),
        ("fix", "ahead"),
        ("wash", "ahead"),
    ]
    (last,) = trays_of(_status(prints=(lies_in("wash", AT),))).prints
    assert last.then == say("trays.then-out")
    (first,) = trays_of(_status(prints=(lies_in("on its way", AT),))).prints
    assert (first.tray, first.then) == ("to the developer", "")


def test_a_hurried_clock_tells_the_process_s_own_seconds() -> None:
    """In a practice darkroom that is twenty times as fast, 4 s of the wall are 1:20 of the developer."""
    lies, *_ = trays_of(
        _status(prints=(lies_in("developer", AT, left_s=4),), hurry=20, white_from_ns=AT + 8 * S)
    ).prints
    assert lies.span is not None
    assert (lies.span.left, lies.span.hurry) == ("1:20", 20)
    assert white_refused(_status(prints=(lies_in("fix", AT),), hurry=20, white_from_ns=AT + 8 * S)).endswith("2:40.")
    # what waits for no print is hurried as well: five minutes are a quarter of one on the wall
    assert white_refused(_status(hurry=20, white_from_ns=AT + 15 * S)).endswith("5:00.")


def test_the_newest_print_stands_first() -> None:
    """White light waits for it; those before it follow in a line each."""
    status = _status(prints=(lies_in("wash", AT, number=3), lies_in("fix", AT, number=4)))
    assert [lies.number for lies in trays_of(status).prints] == [4, 3]


def test_a_press_that_is_awaited_stands_above_its_tray(phone: Paired, desk: StandInDesk) -> None:
    """Without a time, for nobody knows it; and white light waits for the press."""
    ask = "Press when the image first shows."
    status = dict(**IDLE, at_ns=AT, prints=(lies_in("developer", AT, ask=ask),), white_from_ns=WAITS_NS)
    desk.show(**status, plan=PLAN, next=next_step(1), day_refused="no")
    text = phone.look("/").text
    assert text.index(ask) < text.index("<b>developer</b>")
    assert "lies-left" not in text
    assert say("trays.face-waits") in text


def test_counts_and_bars_carry_the_moments_of_the_daemon_s_clock(phone: Paired, desk: StandInDesk) -> None:
    """What counts down on the page counts from what the daemon says, and the word says what time it is there."""
    desk.clock = lambda: AT
    desk.show(**IDLE, at_ns=AT, prints=(lies_in("fix", AT, lain_s=6, left_s=54),), plan=PLAN, next=next_step(1))
    text = phone.look("/").text
    assert f'data-until="{(AT + 54 * S) // 10**6}">0:54<' in text
    assert f'data-from="{(AT - 6 * S) // 10**6}" data-to="{(AT + 54 * S) // 10**6}" width="10"' in text
    assert phone.look("/status.json").json["clock_ms"] == AT // 10**6


def test_with_no_print_nothing_is_said_of_trays(phone: Paired) -> None:
    """An evening that begins shows the easel alone."""
    text = phone.look("/").text
    assert "wet-side" not in text
    assert say("trays.act-no-paper") not in text


# ---- the white page


def test_a_refused_white_page_tells_its_time_and_is_one_tap_from_its_end(phone: Paired, desk: StandInDesk) -> None:
    """What it waits for, how long, and “no paper in the trays”; the button for the white page stands by unseen."""
    waits = {"prints": (lies_in("stop", AT),), "white_from_ns": AT + 65 * S, "day_refused": "Not in the fix."}
    desk.show(**IDLE, at_ns=AT, **waits, can=("load", "no paper in the trays"))
    answer = phone.look("/settings")
    assert answer.status_code == 409
    words = words_of(answer)
    assert say("trays.day-refused") in words
    assert "White light in 1:05" in words
    assert re.findall(r'action="(/act/[a-z-]+)"', answer.text)[:2] == ["/act/no-paper-in-the-trays", "/act/paper-away"]
    assert 'data-if-white="1" hidden' in answer.text
    told = phone.look("/status.json").json
    assert (told["white"], told["no_paper"]) == (False, True)
    assert told["dark_why"] == f"{say('trays.day-refused')} White light in 1:05."


def test_after_a_restart_paper_may_still_lie_there(phone: Paired, desk: StandInDesk) -> None:
    """With no print to follow the page says no more than it knows."""
    desk.show(**IDLE, at_ns=AT, white_from_ns=AT + 300 * S, day_refused="no", can=("no paper in the trays",))
    assert f"{say('trays.day-refused-unknown')} White light in 5:00" in words_of(phone.look("/settings"))
    assert "White light in 5:00" in words_of(phone.look("/"))


def test_an_open_sheet_is_told_before_any_tray(phone: Paired, desk: StandInDesk) -> None:
    """While a sheet is open white light does not exist, and nobody is told when it would come."""
    open_ = {"open": True, "sheet_number": 5, "day_refused": "Sheet 5 is open. Hold to close it."}
    desk.show(at_ns=AT, **open_, prints=(lies_in("fix", AT),), white_from_ns=AT + 30 * S, can=())
    assert "Sheet 5 is open. Hold to close it." in words_of(phone.look("/settings"))
    assert "White light" not in words_of(phone.look("/"))


# ---- safe minutes


def test_safe_minutes_are_a_bar_as_well(phone: Paired, desk: StandInDesk) -> None:
    """How much of the tested time is left, beside its whole minutes."""
    safe = safe_of(_status(safe_left_s=190), 6.0)
    assert safe is not None
    assert (safe.words, safe.span.share) == ("3 min safe", 47)
    assert safe_of(_status(safe_left_s=None), 6.0) is None
    desk.show(at_ns=AT, safe_left_s=190)
    assert f'data-safe="{(AT + 190 * S) // 10**6}"' in phone.look("/").text


@pytest.mark.parametrize(
    ("left_s", "words"), [(3600, "60 min safe"), (60, "1 min safe"), (59, "under 1 min safe"), (0, "safe time is over")]
)
def test_the_last_safe_minute_is_told_apart_from_none(left_s: int, words: str) -> None:
    """Whole minutes, since nobody tested it to the second; and no minute that is not over is called none."""
    assert safe_words(left_s) == words


def test_prints_in_the_trays_make_no_large_page(phone: Paired, desk: StandInDesk) -> None:
    """Each adds under 2 kB to the panel that is sent at every change, by the longest way; packed, a tenth of that."""
    desk.show(**IDLE, at_ns=AT, plan=PLAN, next=next_step(1))
    plain = phone.look("/now").data
    prints = tuple(lies_in("aid", AT, support="FB", number=number) for number in range(1, 5))
    desk.show(prints=prints)
    full = phone.look("/now").data
    assert len(full) - len(plain) < 2_000 * len(prints)
    assert len(zlib.compress(full)) - len(zlib.compress(plain)) < 200 * len(prints)
