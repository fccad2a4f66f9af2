"""The other pages: sheets and their records, settings, the start card, and the practice darkroom."""

from __future__ import annotations

import re
from typing import Any, Literal

import pytest
from tools.history import Pages, whole_sheet
from tools.in_the_trays import lies_in
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import PLAN, FakePractice, StandInDesk

from controller.foot.acts import ChangeRemark
from controller.recipe.compile_strip import compile_strip
from controller.recipe.plan import Plan, Step, StepKind, StripPlan
from controller.recipe.strip import StopTimes, Strip
from controller.store.entries import Entry, FootRow
from controller.store.folding import fold
from controller.store.records import PartRecord, RemarkRecord, SheetRecord, StepRecord, TrayRecord, When
from controller.store.said_of_sheets import Picked
from controller.store.sessions import SessionLine, SheetLine, SheetsPage, Thread, ThreadEnd
from controller.store.settings import Settings, choices, limits
from controller.store.tray_rows import TrayEntered
from controller.words import say
from webui.forms.settings import FOLDS, OPEN, entries, read_form
from webui.frame.practice_sight import Sole
from webui.pages.record import lines_of, picture_of
from webui.wording import moment

S = 1_000_000_000
WHEN = When(row=1, boot="b", at_ns=0, wall="2024-03-01T20:15:00+00:00", synchronised=True)


def _part(light: str, step: int, part: int, on_s: float, lit_s: float, **changes: Any) -> PartRecord:
    values = {
        "light": light,
        "part": part,
        "filter": PLAN.steps[step - 1].filter,
        "ordered_ms": 10100,
        "on_ns": int(on_s * S),
        "least_ns": int(lit_s * S),
        "most_ns": int(lit_s * S),
        "why": "complete",
        "lag_ms": 0,
        "came": WHEN,
    }
    return PartRecord(**{**values, **changes})


def _record(**changes: Any) -> SheetRecord:
    """Return a sheet: a whole base, a burn in two parts, and a last step that was left out."""
    steps = (
        StepRecord(step=PLAN.steps[0], parts=(_part("a", 1, 1, 2, 10.1),), given_least_ms=10100, given_most_ms=10100),
        StepRecord(
            step=PLAN.steps[1],
            parts=(_part("b", 2, 1, 20, 5.5, why="foot"), _part("c", 2, 2, 30, 4.6)),
            given_least_ms=10100,
            given_most_ms=10100,
        ),
        StepRecord(step=PLAN.steps[2], left_out=True),
    )
    feet = (
        FootRow(sheet="s1", gesture="press", at_ns=int(25.5 * S)),
        FootRow(sheet="s1", gesture="wait", at_ns=int(25.9 * S)),
        FootRow(sheet="s1", gesture="press", at_ns=int(28 * S)),
        FootRow(sheet="s1", gesture="page stop", at_ns=int(31 * S)),
        FootRow(sheet="s1", gesture="hold", at_ns=int(40 * S)),
    )
    values: dict[str, Any] = {
        "id": "s1",
        "number": 5,
        "plan": PLAN,
        "steps": steps,
        "outcome": "complete",
        "opened": WHEN,
        "ended": WHEN,
        "feet": feet,
        "remarks": ("a touch <more>",),
        "all_remarks": (RemarkRecord(number=1, said=("a touch <more>",)),),
    }
    return SheetRecord(**{**values, **changes})


def test_a_record_says_what_each_step_got(phone: Paired, desk: StandInDesk) -> None:
    """Planned, given and what became of each step can be read without scripts, remarks as they were written."""
    desk.records["s1"] = _record()
    answer = phone.look("/sheets/s1")
    assert answer.status_code == 200
    words = words_of(answer)
    for text in ("Sheet 5: Harbour crane", moment(WHEN.wall), "complete", "A sky, burn", "left out", "a touch <more>"):
        assert text in words
    assert "5.5 s, stopped with the pedal" in words


def _trays(*rows: Entry) -> tuple[TrayRecord, ...]:
    pages = Pages()
    pages.write(*whole_sheet("s1", 5), *rows)
    return fold(pages.rows)[0].trays


def test_a_record_tells_the_trays(phone: Paired, desk: StandInDesk) -> None:
    """Each tray with its minutes, how warm it was, when the image first showed, and which print of its bath it was."""
    into = TrayEntered(sheet="s1", number=5, tray="developer", at_ns=0, celsius=20.5, bath="b", prints=12)
    out = TrayEntered(sheet="s1", number=5, tray="drain", at_ns=1, before_ms=135_000, appearance_ms=9_000)
    last = TrayEntered(sheet="s1", number=5, tray="", at_ns=2, before_ms=15_000)
    desk.records["s1"] = _record(trays=_trays(into, out, last))
    words = words_of(phone.look("/sheets/s1"))
    assert "In the trays, FB" in words
    assert "developer 20.5 °C · first showed at 0:09 · print 12 of this bath 2:15 drain 0:15" in words
    for rows, end in (
        ((into, out), "trays.had-unknown"),
        ((into, last.model_copy(update={"by": "page"})), "trays.had-page"),
    ):
        desk.records["s1"] = _record(trays=_trays(*rows))
        assert say(end) in words_of(phone.look("/sheets/s1"))
    desk.show(prints=(lies_in("drain", 0, number=5),))
    desk.records["s1"] = _record(trays=_trays(into, out))
    assert say("trays.had-still") in words_of(phone.look("/sheets/s1"))
    desk.records["s1"] = _record()
    assert "In the trays" not in words_of(phone.look("/sheets/s1"))


def test_a_record_is_drawn_with_the_foot_beneath() -> None:
    """Every press stands where it fell: into its light, or before the step it led to; the page's stop is no foot."""
    record = _record()
    assert [line.fate for line in lines_of(record)] == ["", "", "left out"]
    assert lines_of(record)[1].lights == ("5.5 s, stopped with the pedal", "4.6 s, complete")
    drawn = picture_of(record)
    assert "<svg" in str(drawn.svg)


def test_a_struck_light_counts_nothing() -> None:
    """A light that gave nothing is said as such."""
    parts = (_part("a", 1, 1, 2, 10.1, struck=True), _part("b", 1, 2, 20, 10.1))
    step = StepRecord(step=PLAN.steps[0], parts=parts, given_least_ms=10100, given_most_ms=10100)
    (line,) = lines_of(_record(steps=(step,)))
    assert line.lights == (say("page.part-struck"), "10.1 s, complete")


def test_a_doubtful_step_is_a_span() -> None:
    """Where least and most differ, both are shown."""
    step = StepRecord(step=PLAN.steps[0], parts=(), given_least_ms=2100, given_most_ms=4600)
    assert lines_of(_record(steps=(step,)))[0].given == "2.1 to 4.6"


def test_a_step_without_light_is_told_by_whether_it_may_still_come() -> None:
    """While the sheet is open its light is yet to come; on a closed sheet it is simply none."""
    step = StepRecord(step=PLAN.steps[0])
    assert lines_of(_record(steps=(step,), closed=None))[0].fate == say("page.fate-to-come")
    assert lines_of(_record(steps=(step,), closed=WHEN))[0].fate == say("page.fate-none")


def test_a_strips_record_leads_to_its_pick(phone: Paired, desk: StandInDesk) -> None:
    """What was picked stands on the strip's record."""
    band = Step(number=1, name="band 1 of 2", act=StepKind.BAND, filter="hard", planned_ms=5000)
    strip = StripPlan(
        filter="hard", kind="seconds", card="cover", pace="press", totals_ms=(5000, 10000), pulses_ms=(5000, 5000)
    )
    plan = Plan(source="x", version=1, kind="strip", title="Hard strip", steps=(band,), strip=strip)
    picked = Picked(sheet="s1", band=1, between=True, filter="hard", seconds=7.1)
    desk.records["s1"] = _record(plan=plan, steps=(StepRecord(step=band),), feet=(), picks=(picked,))
    assert "between bands 1 and 2, 7.1 s through hard" in words_of(phone.look("/sheets/s1"))


@pytest.mark.parametrize(
    ("card", "said"),
    [
        ("cover", ["", "7.6", "9.5", "12.0", "15.1", "19.0", "24.0"]),
        ("uncover", ["24.0", "19.0", "15.1", "12.0", "9.5", "7.6", ""]),
        ("window", [""] * 7),
    ],
)
def test_a_strips_record_says_what_each_band_has_had(
    card: Literal["cover", "uncover", "window"], said: list[str]
) -> None:
    """Under each exposure stands what its band has had in all, which is what a printer picks by.

    Check values: 12 s by thirds of a stop, 12 · 2^(n/3) (arithmetic). A window gives each band all of it at once.
    """
    times = StopTimes(kind="stops", centre=12.0, step="1/3", bands=7)
    strip = Strip(format="treadle/strip/1", title="By thirds", filter="2", times=times, card=card, pace="press")
    plan = compile_strip(strip, source="x", version=1)
    got = tuple(StepRecord(step=s, given_least_ms=s.planned_ms, given_most_ms=s.planned_ms) for s in plan.steps)
    lines = lines_of(_record(plan=plan, steps=got, feet=(), closed=WHEN))
    assert [line.said for line in lines] == [(say("page.record-band-total", value=s),) if s else () for s in said]
    unsure = got[1].model_copy(update={"given_least_ms": 0})
    first = lines_of(_record(plan=plan, steps=(got[0], unsure, *got[2:]), feet=(), closed=WHEN))
    assert all(line.said == () for line in (first[2:] if card == "cover" else first[:1])), "nobody knows the sum"


@pytest.mark.parametrize("card", ["cover", "uncover"])
def test_one_long_exposure_says_what_each_band_has_had(card: Literal["cover", "uncover"]) -> None:
    """The same check values for a card that is moved in one light; of one that ended early they are not known."""
    times = StopTimes(kind="stops", centre=12.0, step="1/3", bands=7)
    strip = Strip(format="treadle/strip/1", title="In one", filter="2", times=times, card=card, pace="long")
    plan = compile_strip(strip, source="x", version=1)
    (step,) = plan.steps
    whole = StepRecord(step=step, given_least_ms=step.planned_ms, given_most_ms=step.planned_ms)
    (line,) = lines_of(_record(plan=plan, steps=(whole,), feet=(), closed=WHEN))
    assert line.said == (say("page.record-band-total", value="6.0 · 7.6 · 9.5 · 12.0 · 15.1 · 19.0 · 24.0"),)
    short = whole.model_copy(update={"given_least_ms": 9000, "given_most_ms": 9000})
    (line,) = lines_of(_record(plan=plan, steps=(short,), feet=(), closed=WHEN))
    assert line.said == ()


def test_remarks_are_typed_by_day_only(phone: Paired, desk: StandInDesk) -> None:
    """The field stands in the page for the day look alone, and what is written goes to the sheet's record."""
    desk.records["s1"] = _record()
    text = phone.look("/sheets/s1").text
    assert '<form method="post" action="/act/remark" class="dayonly" novalidate data-draft>' in text


def test_a_remark_can_be_changed_and_taken_back(phone: Paired, desk: StandInDesk) -> None:
    """Each remark has both by day; what it said before is told, and one that was taken back can be put back."""
    told = (RemarkRecord(number=1, said=("soft", "too soft")), RemarkRecord(number=2, said=("gone", "")))
    desk.records["s1"] = _record(remarks=("too soft",), all_remarks=told)
    page = phone.look("/sheets/s1")
    words = words_of(page)
    assert say("page.remark-before", text="soft") in words
    assert say("page.remark-taken", text="gone") in words
    forms = re.findall(r'action="/act/(change-remark|take-back-remark)".*?name="remark" value="(\d)"', page.text)
    assert forms == [("change-remark", "1"), ("take-back-remark", "1"), ("change-remark", "2")]
    number = desk.status().number
    sent = {"number": number, "sheet": "s1", "remark": "2", "text": "gone", "back": "/sheets/s1"}
    answer = phone.send("/act/change-remark", sent)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sheets/s1")
    assert desk.acts[-1] == (ChangeRemark(sheet="s1", remark=2, text="gone"), number)
    refused = phone.send("/act/change-remark", {**sent, "text": " "})
    assert (refused.status_code, len(desk.acts)) == (422, 1)
    assert say("page.refused-remark-change") in words_of(refused)


def test_sessions_list_their_sheets(phone: Paired, desk: StandInDesk) -> None:
    """Each evening's sheets stand under it, with what became of them and where they came from."""
    assert say("page.sheets-none") in words_of(phone.look("/sheets"))
    sheet = SheetLine(
        id="s1",
        number=5,
        title="Harbour crane",
        kind="recipe",
        outcome="spoiled",
        opened="",
        given_ms=10100,
        planned_ms=28200,
        thread=Thread(strip=ThreadEnd(id="s0", number=4)),
    )
    page = SheetsPage(sessions=(SessionLine(began="", sheets=(sheet,)),))
    desk.sheets = lambda **_: page  # type: ignore[method-assign]
    words = words_of(phone.look("/sheets"))
    for text in (
        "1 sheet",
        "Harbour crane",
        "spoiled",
        say("wall.from-strip", number=4),
        "10.1 s",
        say("page.clock-not-set"),
    ):
        assert text in words


# ---- settings


def test_every_setting_is_on_the_form(phone: Paired, desk: StandInDesk) -> None:
    """Each setting that leaves a choice has a name, a reason and its limits in words, and its value in the field."""
    desk.say_day()
    text = phone.look("/settings").text
    for key in Settings.model_fields:
        assert (f'name="{key}"' in text) == (limits(key)[0] is not None or len(choices(key)) > 1), key
    assert [entry.key for entry in entries(Settings())] == list(Settings.model_fields)


def test_settings_are_kept(phone: Paired, desk: StandInDesk) -> None:
    """What was typed is kept, with a decimal comma too; a switch that is not sent is off; the page says so."""
    desk.say_day()
    answer = phone.send(
        "/settings", {"settle_seconds": "4,5", "start_from_phone-shown": "1", "start_from_phone": "true"}
    )
    assert answer.status_code == 303
    assert desk.settings().settle_seconds == 4.5
    assert desk.settings().start_from_phone is True
    assert say("page.settings-kept") in words_of(phone.look(answer.headers["Location"]))
    phone.send("/settings", {"start_from_phone-shown": "1"})
    assert desk.settings().start_from_phone is False
    assert desk.settings().settle_seconds == 4.5


def test_a_bad_setting_changes_nothing_and_loses_nothing(phone: Paired, desk: StandInDesk) -> None:
    """422: the sentence names it, the form keeps what was typed, the settings stay as they were."""
    desk.say_day()
    answer = phone.send("/settings", {"settle_seconds": "99", "beat_seconds": "7"})
    assert answer.status_code == 422
    assert f"“{say('page.setting-settle_seconds')}”" in words_of(answer)
    assert "settle_seconds" not in words_of(answer)  # a key stands nowhere on the page
    assert re.search(r'name="settle_seconds" value="99"', answer.text)
    assert re.search(r'name="beat_seconds" value="7"', answer.text)
    assert desk.settings() == Settings()


def test_a_switch_put_off_stays_off_beside_a_refusal(phone: Paired, desk: StandInDesk) -> None:
    """What a refused form shows again is what was sent, a switch that was put off included."""
    desk.say_day()
    phone.send("/settings", {"start_from_phone-shown": "1", "start_from_phone": "true"})
    answer = phone.send("/settings", {"settle_seconds": "99", "start_from_phone-shown": "1"})
    assert answer.status_code == 422
    assert "checked" not in re.findall(r'<input id="in-start_from_phone"[^>]*>', answer.text)[0]
    assert desk.settings().start_from_phone is True


def test_saving_settings_does_not_need_the_day_face(phone: Paired, desk: StandInDesk) -> None:
    """Editing needs the day face; the act of saving does not, so nothing typed is lost when it ends meanwhile."""
    assert phone.send("/settings", {"settle_seconds": "5"}).status_code == 303
    assert desk.settings().settle_seconds == 5


def test_fields_that_are_no_settings_are_left_alone() -> None:
    """Token and other fields of a form are no changes."""
    assert read_form({"token": "x", "nonsense": "1"}, Settings) == ({}, {})


def test_the_start_card_speaks_of_the_phones_own_light(phone: Paired) -> None:
    """Auto-lock, messages, theme, brightness, full screen, LCD leaks, and the safelight test with the phone."""
    words = words_of(phone.look("/phone")).lower()
    for text in (
        "auto-lock",
        "do not disturb",
        "dark system theme",
        "brightness",
        "full screen",
        "lcd",
        "safelight test",
    ):
        assert text in words


# ---- the practice darkroom


def test_practice_pages_exist_with_practice_lines_only(phone: Paired, phone_with_practice: Paired) -> None:
    """With real lines there is no such page and no such button; with practice lines there is."""
    assert phone.look("/practice").status_code == 404
    for address in ("contact", "filter", "lid"):
        assert phone.send(f"/practice/{address}", {"closed": "1", "tread": 1, "lid": "open"}).status_code == 404
    assert phone_with_practice.look("/practice").status_code == 200


def _room(desk: StandInDesk) -> FakePractice:
    room = desk.practice()
    assert isinstance(room, FakePractice)
    return room


def test_the_foot_the_drawer_and_the_lid_are_real(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """Each button does to the simulated darkroom what it says."""
    room = _room(practice_desk)
    for number, closed in ((1, "1"), (2, "0")):
        fields = {"closed": closed, "tread": number, "page": "p"}
        assert phone_with_practice.send("/practice/contact", fields).status_code == 303
    assert room.contacts == [True, False]
    phone_with_practice.send("/practice/filter", {"filter": "hard"})
    assert room.filter == "hard"
    phone_with_practice.send("/practice/filter", {"filter": ""})
    assert room.filter == ""
    phone_with_practice.send("/practice/lid", {"lid": "open"})
    assert room.open
    phone_with_practice.send("/practice/lid", {"lid": "shut"})
    assert not room.open


@pytest.mark.parametrize(
    ("address", "fields"),
    [
        ("contact", {"closed": "2", "tread": "1"}),
        ("contact", {"closed": "1"}),
        ("contact", {"tread": "1"}),
        ("filter", {"filter": "x" * 41}),
        ("filter", {"filter": "a\nb"}),
        ("lid", {"lid": "ajar"}),
        ("lid", {}),
    ],
)
def test_nonsense_moves_nothing(
    phone_with_practice: Paired, practice_desk: StandInDesk, address: str, fields: dict[str, str]
) -> None:
    """422: what is no foot, filter or lid leaves the darkroom as it was."""
    assert phone_with_practice.send(f"/practice/{address}", fields).status_code == 422
    room = _room(practice_desk)
    assert (room.contacts, room.filter, room.open) == ([], "", False)


def test_a_tread_that_was_overtaken_is_not_done() -> None:
    """A foot-down that arrives after its foot-up would leave the foot on the switch; it is dropped."""
    room = FakePractice()
    sole = Sole(room)
    sole.tread("p", 2, closed=False)
    sole.tread("p", 1, closed=True)
    assert room.contacts == [False]
    sole.tread("q", 1, closed=True)
    assert room.contacts == [False, True]


def test_a_page_that_goes_lifts_its_foot() -> None:
    """A page that is gone while it treads counts as a foot that came up; another page's foot stays."""
    room = FakePractice()
    sole = Sole(room)
    sole.tread("p", 1, closed=True)
    sole.gone("q")
    sole.gone("")
    assert room.contacts == [True]
    sole.gone("p")
    assert room.contacts == [True, False]
    sole.gone("p")
    assert room.contacts == [True, False]


def test_a_stream_that_breaks_lifts_the_foot(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """The browser hanging up is seen on its event stream, and opens the contact it held."""
    phone_with_practice.send("/practice/contact", {"closed": "1", "tread": 1, "page": "p"})
    gone = [False]
    answer = phone_with_practice.client.get(
        "/live?part=practice&page=p", environ_overrides={"waitress.client_disconnected": lambda: gone[0]}
    )
    next(answer.iter_encoded())
    gone[0] = True
    answer.close()
    assert _room(practice_desk).contacts == [True, False]


def test_the_foot_is_never_counted(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """A foot may tread as often as it likes."""
    for number in range(1, 121):
        fields = {"closed": str(number % 2), "tread": number, "page": "p"}
        assert phone_with_practice.send("/practice/contact", fields).status_code == 303
    assert len(_room(practice_desk).contacts) == 120


def test_a_strangers_foot_is_refused(practice_desk: StandInDesk, phone_with_practice: Paired) -> None:
    """Cookie and token are asked of the foot like of any act."""
    fields = {"closed": "1", "tread": "1", "page": "p", "token": "x"}
    answer = phone_with_practice.client.post("/practice/contact", data=fields, headers={"Origin": ORIGIN})
    assert answer.status_code == 403
    assert _room(practice_desk).contacts == []


def test_the_filters_of_the_sheet_are_at_hand(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """Beside soft and hard, whatever the loaded sheet asks for lies by the drawer, and what is in it is marked."""
    step = Step(number=1, name="base", act=StepKind.BASE, filter="2½", planned_ms=1000)
    practice_desk.show(plan=Plan(source="s", version=1, kind="recipe", title="t", steps=(step,)))
    _room(practice_desk).filter = "hard"
    text = phone_with_practice.look("/practice").text
    assert re.findall(r'name="filter" value="([^"]*)"', text) == ["soft", "hard", "2½", ""]
    assert re.search(r'value="hard"[^>]*aria-pressed="true"', text)


def test_four_settings_stand_open(phone: Paired, desk: StandInDesk) -> None:
    """Each choice stands once, four of them open and the others folded; a fold with a wrong figure comes open."""
    shown = [*OPEN, *(key for keys in FOLDS.values() for key in keys)]
    assert sorted([*shown, "filters"]) == sorted(Settings.model_fields)
    desk.say_day()
    text = phone.look("/settings").text
    before = text[text.index('id="settings"') : text.index('<details class="fold"')]
    assert re.findall(r'<(?:input id|select id)="in-(\w+)"', before) == list(OPEN)
    refused = phone.send("/settings", {"beat_seconds": "99"}).text
    assert [" open" in fold for fold in re.findall(r'<details class="fold"[^>]*>', refused)] == [
        True,
        False,
        False,
        False,
    ]
