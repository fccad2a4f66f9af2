"""Rows fold into true records: what each sheet, step and light got, whatever was corrected and however it ended."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.history import HOUR_NS, FakeWall, Pages, came, intent, plan, step, strip, through_trays, whole_sheet

from controller.errors import NotThere
from controller.exposure import lag
from controller.recipe.plan import Ask
from controller.store.archive import Archive
from controller.store.entries import (
    Added,
    Assumed,
    CalledGiven,
    Closed,
    Entry,
    FilterSaid,
    FootRow,
    LeftOut,
    NoLightCame,
    PutBack,
    SheetPlanned,
    Struck,
    Trouble,
)
from controller.store.folding import fold, next_number, open_sheet, unfinished
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.records import SheetRecord
from controller.store.rows import Row
from controller.store.said_of_sheets import HandsDone, Picked, Remark, RemarkChanged
from controller.store.sessions import SessionLine, SheetsPage, outline, session_lines
from controller.store.shelf import Shelf
from controller.store.threads import threads_among
from controller.store.tray_rows import TrayEntered
from controller.trays.process import TrayName
from hardware.clock import NS_PER_MS, ManualClock


def record_of(*entries: Entry) -> SheetRecord:
    pages = Pages()
    pages.write(*entries)
    (record,) = fold(pages.rows)
    return record


def planned(sheet: str = "s", number: int = 1) -> SheetPlanned:
    return SheetPlanned(sheet=sheet, number=number, plan=plan())


# ---- worked examples


def test_a_whole_sheet_got_what_was_planned() -> None:
    """A sheet whose steps were each given in one light got its plan, and is complete."""
    record = record_of(*whole_sheet("s", 7))
    assert (record.id, record.number, record.outcome, record.closed_by) == ("s", 7, "complete", "foot")
    assert [(s.given_least_ms, s.given_most_ms, s.lit_ms) for s in record.steps] == [(10_100,) * 3, (8_000,) * 3]
    assert record.lit_ms == 18_100
    assert record.closed is not None
    assert record.opened.row < record.closed.row
    assert record.opened_wall == record.closed.wall == "2025-03-01T19:00:00.000Z"


def test_a_held_step_with_lamp_lag_counts_as_its_uninterrupted_light() -> None:
    """Two lights of a 10 s base with 0.12 s of lag, 4.0 s and then 6.12 s, count as 10 s given and 10.12 s lit.

    Source: the share rule for lamp lag (derived): a light of t gives t − d, what is missing is lit for itself
    + d; the base stands for N − d. 10 − 0.12 = 9.88; 4.0 − 0.12 = 3.88; 9.88 − 3.88 = 6.00; 6.00 + 0.12 = 6.12.
    """
    base = step(planned_ms=10_000)
    record = record_of(
        SheetPlanned(sheet="s", number=1, plan=plan(base)),
        intent("a", "s", lit_ms=10_000, lag_ms=120),
        came("a", 4_000, why="foot"),
        intent("b", "s", part=2, lit_ms=6_120, lag_ms=120),
        came("b", 6_120),
    )
    (got,) = record.steps
    assert (got.given_least_ms, got.given_most_ms, got.lit_ms) == (10_000, 10_000, 10_120)
    assert got.full_ns == (9_880 * NS_PER_MS,) * 2
    assert [part.why for part in got.parts] == ["foot", "complete"]
    assert [part.part for part in got.parts] == [1, 2]


def test_a_power_cut_books_the_step_between_nothing_and_its_order() -> None:
    """A light of which only the order is known counts as nothing at least and the whole at most."""
    record = record_of(planned(), intent("a", "s"), came("a", 0, 10_100, why="fault"))
    got = record.steps[0]
    assert (got.given_least_ms, got.given_most_ms) == (0, 10_100)
    assert got.full_ns == (0, 10_100 * NS_PER_MS)
    assert record.outcome == "open"


def test_what_is_assumed_stands_for_both_least_and_most() -> None:
    """Once the printer has said what to assume of a light, least and most are that; the last word counts."""
    doubt = (planned(), intent("a", "s"), came("a", 0, 10_100, why="fault"))
    record = record_of(
        *doubt,
        Assumed(sheet="s", light="a", given_ns=9_000 * NS_PER_MS),
        Assumed(sheet="s", light="a", given_ns=5_000 * NS_PER_MS),
    )
    got = record.steps[0]
    assert (got.given_least_ms, got.given_most_ms, got.lit_ms) == (5_000,) * 3
    assert (got.parts[0].least_ns, got.parts[0].most_ns) == (0, 10_100 * NS_PER_MS)


def test_a_struck_light_counts_nothing_and_stays_on_record() -> None:
    """A light that gave nothing is struck: it counts nothing for the paper, and the line was on all the same."""
    record = record_of(planned(), intent("a", "s"), came("a"), Struck(sheet="s", light="a"))
    got = record.steps[0]
    assert (got.given_least_ms, got.given_most_ms, got.lit_ms) == (0, 0, 10_100)
    assert got.parts[0].struck
    assert record.number == 1


def test_what_the_printer_settled_is_told_apart() -> None:
    """Called given, left out and added are said of their own steps only."""
    extra = step(3, 2_500)
    record = record_of(
        planned(),
        intent("a", "s"),
        came("a", 9_900, why="foot"),
        CalledGiven(sheet="s", step=1, by="foot"),
        LeftOut(sheet="s", step=2),
        Added(sheet="s", step=extra),
        intent("b", "s", 3, lit_ms=2_500),
        came("b", 2_500),
        Closed(sheet="s", outcome="complete", by="page"),
    )
    assert [(s.called_given, s.left_out, s.added) for s in record.steps] == [
        (True, False, False),
        (False, True, False),
        (False, False, True),
    ]
    assert record.steps[2].given_most_ms == 2_500
    assert record.closed_by == "page"


RC_WAY: tuple[tuple[TrayName, int], ...] = (
    ("on its way", 10_000),
    ("developer", 90_000),
    ("drain", 10_000),
    ("stop", 20_000),
    ("fix", 60_000),
    ("wash", 120_000),
)


def test_a_sheet_tells_its_way_through_the_trays() -> None:
    """Each tray has its in and out, how long the print lay there, how warm it was, and what took it out."""
    record = record_of(*whole_sheet("s", 7), *through_trays("s", 7, *RC_WAY, celsius=20.5))
    assert [(each.tray, each.in_ns // NS_PER_MS, each.out_ns, each.lay_ms) for each in record.trays[:2]] == [
        ("on its way", 0, 10_000 * NS_PER_MS, 10_000),
        ("developer", 10_000, 100_000 * NS_PER_MS, 90_000),
    ]
    assert [each.lay_ms for each in record.trays] == [ms for _, ms in RC_WAY]
    assert [each.celsius for each in record.trays if each.celsius] == [20.5]
    assert [each.ended for each in record.trays] == [False] * 5 + [True]
    assert record.lay_ms("fix", "fix 1", "fix 2") == 60_000
    assert record.lay_ms("aid") is None


def test_a_print_that_is_not_followed_to_its_end_says_how_far_it_was() -> None:
    """After a restart, or once no paper was in the trays, what is known stands, and no more."""
    rows = through_trays("s", 1, *RC_WAY[:2])
    followed = record_of(*whole_sheet("s", 1), *rows[:-1]).trays
    assert [(each.tray, each.lay_ms, each.left) for each in followed[1:]] == [("developer", None, None)]
    ended = record_of(*whole_sheet("s", 1), *rows[:-1], rows[-1].model_copy(update={"by": "page"})).trays
    assert (ended[-1].lay_ms, ended[-1].taken_out_by, ended[-1].ended) == (90_000, "page", True)


def test_a_first_appearance_and_a_bath_stand_at_their_tray() -> None:
    """The row that takes a print out of the developer says when it showed; the row into a tray which bath it was."""
    into = TrayEntered(sheet="s", number=1, tray="developer", at_ns=0, by="foot", bath="b7", prints=12)
    out = TrayEntered(sheet="s", number=1, tray="drain", at_ns=1, before_ms=135_000, appearance_ms=9_000)
    developer, drain = record_of(*whole_sheet("s", 1), into, out).trays
    assert (developer.appearance_ms, developer.bath, developer.prints) == (9_000, "b7", 12)
    assert (drain.appearance_ms, drain.bath, drain.prints) == (None, "", 0)


def test_remarks_gestures_and_troubles_are_kept_with_their_sheet() -> None:
    """What was written, pressed and went wrong on a sheet is in its record, in order."""
    foot = FootRow(sheet="s", gesture="wait", at_ns=5)
    trouble = Trouble(sheet="s", what="keeper.away")
    record = record_of(
        *whole_sheet("s", 1),
        foot,
        trouble,
        Remark(sheet="s", text="sky too light"),
        Remark(sheet="s", text="dry now: good"),
    )
    assert record.remarks == ("sky too light", "dry now: good")
    assert (record.feet, record.troubles) == ((foot,), (trouble,))


def test_a_remark_that_was_changed_or_taken_back_keeps_what_it_said() -> None:
    """A remark says the last that was written of it, or nothing; all that it said stays, each with its own number."""
    record = record_of(
        *whole_sheet("s", 1),
        Remark(sheet="s", text="sky too light"),
        RemarkChanged(sheet="s", remark=2, text="of a remark that is not there yet"),
        Remark(sheet="s", text="dry"),
        RemarkChanged(sheet="s", remark=2, text=""),
        RemarkChanged(sheet="s", remark=1, text="sky too dark"),
        Remark(sheet="s", text="toned"),
        RemarkChanged(sheet="s", remark=3, text=""),
        RemarkChanged(sheet="s", remark=3, text="toned"),
    )
    assert record.remarks == ("sky too dark", "toned")
    assert [(remark.number, remark.text, remark.before) for remark in record.all_remarks] == [
        (1, "sky too dark", "sky too light"),
        (2, "", "dry"),
        (3, "toned", ""),
    ]
    assert record.all_remarks[0].said == ("sky too light", "sky too dark")


def test_a_step_that_was_put_back_is_left_out_no_longer() -> None:
    """What was left out and put back wants its light again; left out once more, it is left out."""
    rows = (planned(), intent("a", "s"), came("a"), LeftOut(sheet="s", step=2))
    assert [step.left_out for step in record_of(*rows, PutBack(sheet="s", step=2)).steps] == [False, False]
    again = record_of(*rows, PutBack(sheet="s", step=2), LeftOut(sheet="s", step=2))
    assert [step.left_out for step in again.steps] == [False, True]


# ---- which sheets are real


def test_a_lead_in_that_brought_no_light_leaves_neither_sheet_nor_number() -> None:
    """A plan without light, or with light of no length, is no sheet, and its number is free."""
    pages = Pages()
    pages.write(*whole_sheet("a", 1))
    pages.write(planned("b", 2), intent("l", "b"), NoLightCame(light="l", why="foot"))
    pages.write(planned("c", 2), intent("m", "c"), came("m", 0, 0, why="foot"))
    assert [record.id for record in fold(pages.rows)] == ["a"]
    assert next_number(pages.rows) == 2
    assert open_sheet(pages.rows) is None


def test_a_plan_that_brings_light_at_the_second_press_is_one_sheet() -> None:
    """A sheet opens with its first light, not with its plan."""
    pages = Pages()
    pages.write(planned(), intent("a", "s"), NoLightCame(light="a", why="foot"))
    pages.wait(1)
    pages.write(intent("b", "s"), came("b"))
    found = open_sheet(pages.rows)
    assert found is not None
    assert found.opened.at_ns == pages.at_ns
    assert [part.light for part in found.steps[0].parts] == ["b"]


def test_the_plan_that_light_opened_is_the_sheets_plan() -> None:
    """A sheet planned anew before any light has its last plan; once light has come, its plan stays."""
    again = SheetPlanned(sheet="s", number=1, plan=plan(version=2))
    late = SheetPlanned(sheet="s", number=1, plan=plan(version=3))
    record = record_of(
        planned(), intent("a", "s"), NoLightCame(light="a", why="foot"), again, intent("b", "s"), came("b"), late
    )
    assert record.plan.version == 2


def test_a_fact_that_stands_twice_counts_once() -> None:
    """Where two rows tell of one light, the first one counts."""
    record = record_of(planned(), intent("a", "s"), came("a", 500), came("a", 700))
    assert (len(record.steps[0].parts), record.steps[0].given_most_ms) == (1, 500)


def test_a_strip_is_complete_once_its_printer_picked_from_it() -> None:
    """A strip closed before its last band counts as complete from the pick on; a recipe's sheet does not."""
    pick = Picked(sheet="s", band=2, filter="hard", seconds=6.0)
    begun = [SheetPlanned(sheet="s", number=1, plan=strip()), intent("a", "s", lit_ms=3000), came("a", 3000)]
    closed = Closed(sheet="s", outcome="spoiled")
    assert record_of(*begun, pick).outcome == "open"
    assert record_of(*begun, closed).outcome == "spoiled"
    assert record_of(*begun, closed, pick).outcome == "complete"
    assert record_of(*begun, closed, pick).picks == (pick,)
    paper = [planned(), intent("a", "s"), came("a", 3000, why="foot"), closed, pick]
    assert record_of(*paper).outcome == "spoiled"


def test_intents_without_an_answer_are_unfinished() -> None:
    """After a crash the intents that neither brought light nor none are found, in order."""
    pages = Pages()
    pages.write(intent("a", "s"), came("a"), intent("b", "s"), NoLightCame(light="b", why="foot"), intent("c", "s"))
    assert [one.light for one in unfinished(pages.rows)] == ["c"]


# ---- laws


@st.composite
def sheet_entries(draw: st.DrawFn, sheet: str, number: int) -> list[Entry]:
    """Draw the rows of one sheet in an order that can happen."""
    lag_ms = draw(st.sampled_from([0, 80, 120]))
    entries: list[Entry] = [planned(sheet, number)]
    lights: list[str] = []
    for part in range(1, 1 + draw(st.integers(0, 4))):
        light = f"{sheet}.{part}"
        number_ = draw(st.integers(1, 2))
        entries.append(intent(light, sheet, number_, part=part, lag_ms=lag_ms))
        least = draw(st.integers(0, 10_000))
        answer = draw(st.sampled_from(["light", "doubt", "none", "twice", "none, then light"]))
        if answer.startswith("none"):
            entries.append(NoLightCame(light=light, why="foot"))
        if answer != "none":
            most = least + (draw(st.integers(0, 500)) if answer == "doubt" else 0)
            entries.append(came(light, least, most, why="foot"))
            lights.append(light)
        correction = draw(
            st.sampled_from(["", "", "strike", "assume", "call", "leave", "put back", "remark", "change"])
        )
        if correction == "strike" and lights:
            entries.append(Struck(sheet=sheet, light=draw(st.sampled_from(lights))))
        elif correction == "assume" and lights:
            given_ns = draw(st.integers(0, 10_000)) * NS_PER_MS
            entries.append(Assumed(sheet=sheet, light=draw(st.sampled_from(lights)), given_ns=given_ns))
        elif correction == "call":
            entries.append(CalledGiven(sheet=sheet, step=number_, by="page"))
        elif correction == "leave":
            entries.append(LeftOut(sheet=sheet, step=number_))
        elif correction == "put back":
            entries.append(PutBack(sheet=sheet, step=number_))
        elif correction == "remark":
            entries.append(Remark(sheet=sheet, text="so"))
        elif correction == "change":
            entries.append(RemarkChanged(sheet=sheet, remark=number_, text=draw(st.sampled_from(["", "or so"]))))
    if draw(st.booleans()):
        entries.append(Closed(sheet=sheet, outcome=draw(st.sampled_from(["complete", "spoiled"]))))
    return entries


@st.composite
def histories(draw: st.DrawFn) -> list[Row]:
    """Draw a journal: some sheets' rows, each in its own order, shuffled into one another, with other rows."""
    count = draw(st.integers(0, 4))
    waiting = [draw(sheet_entries(f"s{n}", n + 1)) for n in range(count)]
    pages = Pages()
    while any(waiting):
        source = draw(st.sampled_from([entries for entries in waiting if entries]))
        pages.write(source.pop(0))
        if draw(st.integers(0, 5)) == 0:
            pages.write(FilterSaid(filter="00"))
    return pages.rows


@settings(max_examples=60)
@given(histories())
def test_a_sheets_own_rows_are_enough_for_its_record(rows: list[Row]) -> None:
    """Folding a sheet's own rows gives the record that folding the whole journal gives."""
    whole = fold(rows)
    apart = [record for sheet in {row.sheet for row in rows} for record in fold(_of(rows, sheet))]
    assert {record.id: record for record in apart} == {record.id: record for record in whole}


@settings(max_examples=60)
@given(histories())
def test_records_count_each_light_once_by_the_lag_rule(rows: list[Row]) -> None:
    """A step's full light is the sum over its lights, each counted once, struck as 0, assumed as said."""
    for record in fold(rows):
        own = _of(rows, record.id)
        facts = {row.entry.light: row.entry for row in own if row.entry.kind == "light"}
        struck = {row.entry.light for row in own if row.entry.kind == "struck"}
        assumed = {row.entry.light: row.entry.given_ns for row in own if row.entry.kind == "assumed"}
        for got in record.steps:
            least = most = 0
            for row in own:
                if row.entry.kind != "intent" or row.entry.step != got.step.number:
                    continue
                light = row.entry.light
                if light in facts and facts[light].most_ns > 0 and light not in struck:
                    least += lag.given_full_ns(assumed.get(light, facts[light].least_ns), row.entry.lag_ms)
                    most += lag.given_full_ns(assumed.get(light, facts[light].most_ns), row.entry.lag_ms)
            assert got.full_ns == (least, most)
            assert got.given_least_ms <= got.given_most_ms


@settings(max_examples=60)
@given(histories())
def test_numbers_go_on_above_every_number_used(rows: list[Row]) -> None:
    """The next number is above every number that a sheet with light has, and at most one above the highest."""
    used = [record.number for record in fold(rows)]
    assert next_number(rows) == max(used, default=0) + 1
    assert all(record.opened.row <= record.ended.row for record in fold(rows))


@settings(max_examples=40)
@given(histories(), st.data())
def test_the_archive_says_what_folding_everything_says(rows: list[Row], data: st.DataObject) -> None:
    """Whenever it is asked, between any two appends, the archive gives the same records as a fold of all rows."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal:
        lookups = Lookups(None, Shelf.in_memory(), journal, {})
        archive, quick = Archive(journal), Archive(journal, lookups)
        for row in rows:
            journal.append(row.entry)
            if data.draw(st.booleans()):
                records = fold(journal.rows())
                assert archive.sheets() == records
                assert archive.open_sheet() == open_sheet(journal.rows())
                page = archive.page(least=99)
                assert page == SheetsPage(sessions=_lines(journal.rows()))
                assert quick.page(least=99) == page
        lookups.close()


def _of(rows: Iterable[Row], sheet: str) -> list[Row]:
    return [row for row in rows if row.sheet == sheet]


# ---- sessions and threads


def _evening(pages: Pages, *names: str) -> None:
    for name in names:
        pages.write(*whole_sheet(name, len(fold(pages.rows)) + 1))
        pages.wait(0.25)


def _lines(rows: Iterable[Row]) -> tuple[SessionLine, ...]:
    sheets = [outline(record) for record in fold(rows)]
    return session_lines(reversed(sheets), threads_among(enumerate(sheets)))


def _sessions(pages: Pages) -> list[list[str]]:
    return [[sheet.id for sheet in session.sheets] for session in reversed(_lines(pages.rows))]


@pytest.mark.parametrize(("hours", "together"), [(3.7, True), (4.0, False)])
def test_four_hours_without_light_begin_another_session(hours: float, together: bool) -> None:
    """Sheets less than four hours apart are one session, others are not."""
    pages = Pages()
    _evening(pages, "a", "b")
    pages.wait(hours - 0.25)
    _evening(pages, "c")
    assert _sessions(pages) == ([["a", "b", "c"]] if together else [["a", "b"], ["c"]])


def test_a_leaping_wall_clock_does_not_part_a_session() -> None:
    """Within a boot only the monotonic clock counts, whatever the wall's clock does."""
    pages = Pages(synchronised=False)
    _evening(pages, "a")
    pages.at += timedelta(days=9000)
    pages.synchronised = True
    _evening(pages, "b")
    assert _sessions(pages) == [["a", "b"]]


@pytest.mark.parametrize(("synchronised", "together"), [(True, True), (False, False)])
def test_a_restart_parts_a_session_only_where_the_wall_clock_is_not_set(synchronised: bool, together: bool) -> None:
    """Across boots the wall's clock measures, where it was set on both sides; else a new boot is a new session."""
    pages = Pages()
    _evening(pages, "a")
    pages.boot, pages.at_ns, pages.synchronised = "boot-2", 10, synchronised
    _evening(pages, "b")
    assert _sessions(pages) == ([["a", "b"]] if together else [["a"], ["b"]])


# ---- the archive


class _Counting(Journal):
    """A journal that counts how often a sheet's rows were read."""

    read: list[str]

    def rows(self, **asked: object) -> tuple[Row, ...]:  # type: ignore[override]
        self.read.append(str(asked.get("sheet")))
        return super().rows(**asked)  # type: ignore[arg-type]


def test_the_archive_reads_only_the_sheets_it_is_asked_for() -> None:
    """Looking at the newest session reads its sheets' rows once, and again only for a sheet that was added to."""
    clock = ManualClock()
    with _Counting.in_memory(clock, FakeWall().stamp()) as journal:
        assert isinstance(journal, _Counting)
        journal.read = []
        for number in range(1, 41):
            journal.append(*whole_sheet(f"s{number}", number))
            clock.set(clock.now_ns() + (5 * HOUR_NS if number % 4 == 0 else HOUR_NS // 4))
        archive = Archive(journal)
        (newest,) = archive.page(least=1).sessions
        assert [sheet.id for sheet in newest.sheets] == ["s37", "s38", "s39", "s40"]
        assert sorted(journal.read) == ["s36", "s37", "s38", "s39", "s40"]
        journal.read.clear()
        assert archive.next_number() == 41
        archive.page(least=1)
        assert journal.read == []
        journal.append(Remark(sheet="s38", text="best so far"))
        assert archive.record("s38").remarks == ("best so far",)
        archive.page(least=1)
        assert journal.read == ["s38"]


def test_a_sheet_that_is_not_there_is_said() -> None:
    """Asking for a record that is none, or of a plan without light, is answered with a sentence."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal:
        journal.append(planned())
        for sheet in ("s", "nobody", ""):
            with pytest.raises(NotThere, match="no record of a sheet"):
                Archive(journal).record(sheet)


# ---- what was asked of the hands


def test_what_the_hands_did_is_of_its_sheet_those_before_its_plan_too() -> None:
    """Asks are answered before the first lead-in files the plan; what was taken back was not done."""
    ask, other = (Ask(words=words, kind="hands") for words in ("mask in", "fan on"))
    rows = [
        HandsDone(sheet="s", step=1, ask=ask, at_ns=1),
        HandsDone(sheet="x", step=1, ask=ask, at_ns=2),
        HandsDone(sheet="s", step=1, ask=ask, at_ns=3, undone=True),
        HandsDone(sheet="s", step=1, ask=ask, at_ns=4),
        *whole_sheet("s", 7),
        HandsDone(sheet="s", step=0, ask=other, at_ns=5),
        HandsDone(sheet="s", step=0, ask=other, at_ns=6, undone=True),
    ]
    assert [(row.step, row.at_ns) for row in record_of(*rows).hands] == [(1, 4)]
    assert "hands" not in record_of(*whole_sheet("s", 7)).model_dump()
