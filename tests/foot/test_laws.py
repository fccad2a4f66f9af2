"""The laws of the foot switch over random evenings in virtual time, and proof that breaking the code breaks them."""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import FrozenInstanceError, replace
from typing import Any

import pytest
import tools.laws as laws
from tools import setting_up
from tools.check_laws import is_reading
from tools.evenings import play
from tools.foot_bench import sheet_plan
from tools.laws import History, broken

from controller import model
from controller.daemon.performer import Performer
from controller.foot import gestures as foot_moves
from controller.foot import keeper_events, turn
from controller.foot import sheet_changes as sheet_moves
from controller.foot import table as pedal
from controller.foot.places import AskWhite, Place, Ready
from controller.foot.state import State, Work
from controller.foot.table import Rule
from controller.foot.turn import Turn
from controller.recipe.plan import Plan
from controller.store.entries import Intent, LightCame, StoodAtEnlarger
from hardware.clock import NS_PER_MS
from hardware.keeper import keeper
from hardware.keeper.debounce import Debounce, Hold
from hardware.keeper.keeper import Keeper

EDGES = 70_000
"""Raw edges of `tests/run`; the long run plays a million."""
EACH = 300
FIRST_SEED = 1


Cell = tuple[type[Place], str]


def watch_cells(patch: pytest.MonkeyPatch) -> Counter[Cell]:
    """Have every cell of the table that has a move counted when it runs, by its own gesture."""
    ran: Counter[Cell] = Counter()
    for cell, rule in list(pedal.TABLE.items()):
        if rule.do is not None:
            patch.setitem(pedal.TABLE, cell, Rule(rule.words, _counted(cell, rule.do, ran)))
    return ran


def _counted(cell: Cell, do: Callable[[Turn, int], None], ran: Counter[Cell]) -> Callable[[Turn, int], None]:
    def counted(turn: Turn, at_ns: int) -> None:
        ran[cell] += 1
        do(turn, at_ns)

    return counted


def missing_cells(ran: Counter[Cell]) -> list[str]:
    """Return the cells with a move that never ran."""
    return [
        f"{place.__name__}, {gesture}"
        for (place, gesture), rule in pedal.TABLE.items()
        if rule.do and not ran[place, gesture]
    ]


def evenings(edges: int, first: int = FIRST_SEED, *, measuring: bool = False) -> Counter[str]:
    """Play so many raw edges, hold each evening to the laws, and return what happened in all of them."""
    seen: Counter[str] = Counter()
    seed = first
    while seen["edges"] < edges:
        history = play(seed, EACH, measuring=measuring)
        found = broken(history)
        assert not found, "\n".join(found)
        count(history, seen)
        seed += 1
    return seen


def set_ups(edges: int, first: int) -> Counter[str]:
    """Play so many raw edges of evenings with other set-ups, as `evenings`."""
    seen: Counter[str] = Counter()
    for seed in itertools.count(first):
        history = setting_up.play(seed, EACH)
        found = setting_up.broken(history)
        assert not found, "\n".join(found)
        count(history, seen)
        if seen["edges"] >= edges:
            break
    return seen


def count(history: History, seen: Counter[str]) -> None:
    seen["edges"] += len(history.raw)
    seen["downs"] += len(history.downs)
    seen["holds"] += sum(down.hold is not None for down in history.downs)
    seen["slow"] += history.slow
    assert history.journal is not None
    kinds = {entry.light: entry.light_kind for entry in history.journal.of(Intent)}
    asked = {entry.light: entry.lit_ms * NS_PER_MS for entry in history.journal.of(Intent) if entry.longest_ms}
    for came in history.journal.of(LightCame):
        if came.why == "complete" and (plan_ns := asked.get(came.light)):
            seen["longer by its dose"] += came.most_ns > plan_ns + NS_PER_MS
            seen["shorter by its dose"] += came.most_ns < plan_ns - NS_PER_MS
        seen[f"{kinds[came.light]} {came.why}"] += 1
    for intent in history.journal.of(Intent):
        seen["readings"] += is_reading(intent)
    for row in history.journal.rows:
        seen[row.entry.kind] += 1
        if row.entry.kind == "no light":
            seen[f"no light {row.entry.why}"] += 1
    seen["lids"] += len(history.lid)
    seen["parts"] += sum(len(step.parts) > 1 for sheet in history.sheets for step in sheet.steps)
    seen["added"] += sum(step.added for sheet in history.sheets for step in sheet.steps)
    seen["complete"] += sum(sheet.outcome == "complete" for sheet in history.sheets)


HAPPENS = (
    *("step complete", "step foot", "step page", "step keeper", "focus foot", "focus page", "focus limit", "focus lid"),
    *("check complete", "check foot", "check page", "check keeper"),
    *("no light foot", "no light page", "no light rest", "no light lid", "no light keeper"),
    *("no light foot moved on", "no light start has passed", "no light box is open"),
    *(
        "closed",
        "struck",
        "called given",
        "left out",
        "put back",
        "added",
        "filter",
        "assumed",
        "parts",
        "complete",
        "slow",
    ),
    "at the enlarger",
    "readings",
    *("longer by its dose", "shorter by its dose"),
)


def test_the_laws_hold_over_random_evenings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over tens of thousands of raw edges, whatever was pressed, stopped, loaded, shut or lost, no law is broken.

    Every outcome happens in them, and every cell of the table that has a move is run by its own gesture.
    """
    ran = watch_cells(monkeypatch)
    seen = evenings(EDGES)
    seen += evenings(EDGES // 7, first=500_000, measuring=True)
    seen += set_ups(EDGES // 7, first=600_000)
    for what in HAPPENS:
        assert seen[what], f"{what} never happened in {seen}"
    assert not missing_cells(ran)


@pytest.mark.long
def test_the_laws_hold_over_a_million_raw_edges() -> None:
    """Over a million raw edges no law is broken."""
    begun = time.perf_counter()
    seen = evenings(1_000_000, first=100_000)
    seen += set_ups(100_000, first=700_000)
    print(f"{seen['edges']} raw edges in {time.perf_counter() - begun:.0f} s: {dict(seen)}")


# ---- the laws bite: each change of the code below is caught within the count of an ordinary run

Patch = pytest.MonkeyPatch


def one_hold_is_enough(patch: Patch) -> None:
    def ask_white(self: Turn, at_ns: int, back: Any) -> None:
        self.begin_warning(at_ns - self.state.habits.timing.hold_ms * NS_PER_MS, back)

    patch.setattr(Turn, "ask_white", ask_white)


def no_ignore_window(patch: Patch) -> None:
    patch.setattr(Turn, "wait_until", lambda self, at_ns: None)


def a_shorter_lead_in(patch: Patch) -> None:
    patch.setattr(turn, "lead_in_ms", lambda habits: 1300)


def no_foot_seq_check(patch: Patch) -> None:
    real = keeper.refusal
    patch.setattr(
        keeper,
        "refusal",
        lambda o, at, span, *, seen: real(replace(o, foot_seq=at.foot_seq), at, span, seen=seen),
    )


def always_at_rest(patch: Patch) -> None:
    patch.setattr(Debounce, "rest_ns", lambda self: 0)


def a_foot_ends_no_light(patch: Patch) -> None:
    real = Keeper._drop_order

    def drop(self: Keeper, why: str, now_ns: int) -> None:
        if not (self.lit and why == "foot"):
            real(self, why, now_ns)

    patch.setattr(Keeper, "_drop_order", drop)


def a_remainder_is_the_whole(patch: Patch) -> None:
    real = Work.missing_ns

    def missing(self: Work, lag_ms: int) -> int:
        given = replace(self.given[self.index], least_ns=0, most_ns=0)
        return real(self.with_given(self.index, given), lag_ms)

    patch.setattr(Work, "missing_ns", missing)


def lag_is_counted_twice(patch: Patch) -> None:
    real = sheet_moves.lag.given_full_ns
    patch.setattr(sheet_moves.lag, "given_full_ns", lambda lit, lag: real(lit, 2 * lag))


def white_light_with_a_sheet_open(patch: Patch) -> None:
    patch.setattr(Turn, "ask_close", lambda self, at_ns, back: self.ask_white(at_ns, back))


def a_hold_right_after_a_close(patch: Patch) -> None:
    real = sheet_moves.close_sheet

    def close(turn: Turn, by: Any, at_ns: int) -> None:
        real(turn, by, at_ns)
        turn.state = replace(turn.state, hold_from_ns=0)

    patch.setattr(foot_moves, "close_sheet", close)


def a_stop_leaves_what_is_pending(patch: Patch) -> None:
    real = Keeper._drop_order

    def drop(self: Keeper, why: str, now_ns: int) -> None:
        if self.lit or why != "page":
            real(self, why, now_ns)

    patch.setattr(Keeper, "_drop_order", drop)
    patch.setattr(keeper_events, "page_stopped", lambda turn, event: None)


def a_hold_leaves_its_light(patch: Patch) -> None:
    real = Keeper._heard

    def heard(self: Keeper, known: Any, now_ns: int) -> None:
        if isinstance(known, Hold):
            drop, self._drop_order = self._drop_order, lambda why, now: None  # type: ignore[method-assign]
            real(self, known, now_ns)
            self._drop_order = drop  # type: ignore[method-assign]
            self._held_ns = 0
        else:
            real(self, known, now_ns)

    patch.setattr(Keeper, "_heard", heard)


def an_open_lid_ends_nothing(patch: Patch) -> None:
    patch.setattr(Keeper, "_opened", lambda self, now_ns: None)


def a_dose_has_no_longest(patch: Patch) -> None:
    def dose(self: Keeper, id_: str, lit_ms: int) -> None:
        if self._order is not None and self._order.id == id_ and self._on_ns is not None:
            self._end_ns = self._lease_ns = self._on_ns + lit_ms * NS_PER_MS

    patch.setattr(Keeper, "_dose", dose)


def a_double_starts(patch: Patch) -> None:
    patch.setitem(pedal.TABLE, (Ready, "double"), Rule("start", foot_moves.start))


def a_record_that_is_off(patch: Patch) -> None:
    real = Turn.file

    def off(entry: Any) -> Any:
        return entry.model_copy(update={"most_ns": entry.most_ns + 1}) if isinstance(entry, LightCame) else entry

    def file(self: Turn, *entries: Any) -> None:
        real(self, *map(off, entries))

    patch.setattr(Turn, "file", file)


def facts_are_dropped_when_the_card_is_full(patch: Patch) -> None:
    real = Performer.file

    def file(self: Performer) -> bool:
        done = real(self)
        if not done:
            self._unfiled.clear()
        return done

    patch.setattr(Performer, "file", file)


def light_comes_before_its_intent(patch: Patch) -> None:
    real = Performer.file

    def file(self: Performer) -> bool:
        return True if self._unfiled and isinstance(self._unfiled[-1], Intent) else real(self)

    patch.setattr(Performer, "file", file)


def a_stopped_step_is_forgotten(patch: Patch) -> None:
    real = sheet_moves.light_came

    def halved(turn: Turn, came: LightCame) -> None:
        real(turn, came if came.why == "complete" else came.model_copy(update={"most_ns": came.most_ns // 2}))

    patch.setattr(keeper_events, "light_came", halved)


def any_hold_answers_a_question(patch: Patch) -> None:
    patch.setitem(pedal.TABLE, (AskWhite, "hold"), Rule("yes", foot_moves.warn))


def a_check_is_never_begun(patch: Patch) -> None:
    patch.setattr(State, "check_begun", property(lambda self: False))


def a_check_cut_short_goes_on(patch: Patch) -> None:
    patch.setattr(sheet_moves, "drop_check", lambda turn, at_ns: turn.rest(at_ns))


def a_check_is_lit_for_the_lag_too(patch: Patch) -> None:
    real = turn.remainder_ms
    patch.setattr(turn, "remainder_ms", lambda work, habits: real(work, habits) + habits.lag_ms * work.check)


def a_change_at_the_enlarger_stamps_nothing(patch: Patch) -> None:
    patch.setattr(Work, "standing", lambda self, bench: self)


def what_is_loaded_is_not_stamped(patch: Patch) -> None:
    patch.setattr(Plan, "standing", lambda self, bench: self)


def a_change_at_the_enlarger_leaves_no_row(patch: Patch) -> None:
    real = Turn.file

    def file(self: Turn, *entries: Any) -> None:
        real(self, *(entry for entry in entries if not isinstance(entry, StoodAtEnlarger)))

    patch.setattr(Turn, "file", file)


def a_check_is_a_sheet(patch: Patch) -> None:
    patch.setattr(Work, "check", property(lambda self: False))


CHANGES: tuple[tuple[Callable[[Patch], None], str, int], ...] = (
    (one_hold_is_enough, "focus light", 1),
    (no_ignore_window, "step light", 5),
    (a_shorter_lead_in, "step light", 4),
    (no_foot_seq_check, "light", 11),
    (always_at_rest, "not at rest", 5),
    (a_foot_ends_no_light, "went on after a down", 1),
    (a_remainder_is_the_whole, " of ", 10),
    (lag_is_counted_twice, " of ", 10),
    (white_light_with_a_sheet_open, "was open", 3),
    (a_hold_right_after_a_close, "after a close", 12),
    (a_stop_leaves_what_is_pending, "begun by nothing", 1),
    (a_hold_leaves_its_light, "begun by nothing", 47),
    (an_open_lid_ends_nothing, "box", 49),
    (a_double_starts, "begun by nothing", 1),
    (a_dose_has_no_longest, "lasted", 1),
    (a_record_that_is_off, "filed", 1),
    (facts_are_dropped_when_the_card_is_full, "", 19),
    (light_comes_before_its_intent, "intended", 1),
    (a_stopped_step_is_forgotten, "", 1),
    (any_hold_answers_a_question, "focus light", 46),
    (a_check_is_never_begun, "white light", 1),
    (a_check_cut_short_goes_on, "check light", 1),
    (a_check_is_lit_for_the_lag_too, "loaded were", 1),
    (a_check_is_a_sheet, "planned as a check", 1),
    (a_change_at_the_enlarger_stamps_nothing, "stood at the enlarger", 1),
    (what_is_loaded_is_not_stamped, "stood at the enlarger", 1),
    (a_change_at_the_enlarger_leaves_no_row, "stood at the enlarger", 1),
)
"""Each change, what is told of it, and an evening that is known to break by it: that one is tried first."""


@pytest.mark.parametrize(("change", "told", "known"), CHANGES, ids=[change.__name__ for change, _, _ in CHANGES])
def test_a_change_of_the_code_is_caught(
    change: Callable[[Patch], None], told: str, known: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within the edges of an ordinary run the laws catch this change, and name what it breaks."""
    change(monkeypatch)
    edges = 0
    for seed in itertools.chain([known], itertools.count(FIRST_SEED)):
        history = play(seed, EACH)
        if any(told in found for found in broken(history)):
            return
        edges += len(history.raw)
        if edges >= EDGES:
            break
    pytest.fail(f"not caught within {edges} raw edges")


def test_every_law_has_a_sentence() -> None:
    """Each law says in one sentence what it is."""
    assert all((law.__doc__ or "").endswith(".") for law in laws.LAWS)


def test_a_changed_state_is_what_it_was_but_for_the_change() -> None:
    """The grammar's own way to change a frozen value comes to what the library's does, and knows no field more."""
    state = State(Ready(), work=Work.fresh(sheet_plan()), filter_in="soft")
    for value, changes in (
        (state, {"place": AskWhite(1, 2, Ready()), "orders": 3}),
        (state.loaded, {"index": 1, "open": True}),
        (state.foot, {"seq": 7}),
        (state.loaded.given[0], {"most_ns": 5}),
        (AskWhite(1, 2, Ready()), {"seq": 4}),
    ):
        changed = model.replace(value, **changes)
        assert changed == replace(value, **changes) != value
        with pytest.raises(TypeError):
            model.replace(value, **changes, no_such_field=1)
    with pytest.raises(FrozenInstanceError):
        model.replace(state, orders=4).orders = 5  # type: ignore[misc]
