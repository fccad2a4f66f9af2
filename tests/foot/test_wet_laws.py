"""The laws of all light, and those of the wet side, over random evenings with trays; and proof that each bites."""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import tools.evenings as evenings
from tools.laws import History, broken
from tools.wet_evenings import play_wet
from tools.wet_laws import WET_LAWS, wet_broken

from controller.foot import legal_acts, sheet_changes, trays
from controller.foot import table as pedal
from controller.foot.state import State
from controller.foot.turn import Turn
from controller.store.entries import Intent, LightCame
from controller.store.tray_rows import TrayEntered
from controller.trays import journey
from controller.trays.journey import Print

EDGES = 24_000
"""Raw edges of `tests/run`; the long run plays a million."""
EACH = 300
Patch = pytest.MonkeyPatch

HAPPENS = (
    *("step complete", "step foot", "focus foot", "check complete", "room"),
    *("developer foot", "developer time", "developer hold", "drain time", "drain hold", "fix time", "fix hold"),
    *("fix 1 time", "fix 2 time", "wash time", "aid time", " time", " page", "appearance", "restarts"),
    *("rock the tray", "lift and drain", "next tray", "tray understood", "tray asks", "white light is safe"),
)


def play(seed: int) -> History:
    return play_wet(seed, EACH, lines=seed % 3 == 0)


def judged(history: History) -> list[str]:
    return broken(history) + wet_broken(history)


def wet_evenings(edges: int, first: int) -> Counter[str]:
    """Play so many raw edges, hold each evening to every law, and return what happened in all of them."""
    seen: Counter[str] = Counter()
    seed = first
    while seen["edges"] < edges:
        history = play(seed)
        found = judged(history)
        assert not found, "\n".join(found)
        _count(history, seen)
        seed += 1
    return seen


def _count(history: History, seen: Counter[str]) -> None:
    assert history.journal is not None
    seen["edges"] += len(history.raw)
    seen["room"] += len(history.room)
    seen["restarts"] += len(history.restarts)
    kinds = {entry.light: entry.light_kind for entry in history.journal.of(Intent)}
    for came in history.journal.of(LightCame):
        seen[f"{kinds[came.light]} {came.why}"] += 1
    for row in history.journal.of(TrayEntered):
        seen[f"{row.tray} {row.by}"] += 1
        seen["appearance"] += row.appearance_ms is not None
    for _, cue in history.cues:
        seen[cue] += 1


def test_the_laws_hold_with_prints_in_the_trays() -> None:
    """Whatever was pressed, said, shut, loaded or lost, light keeps its laws and no print is fogged."""
    seen = wet_evenings(EDGES, first=1)
    for what in HAPPENS:
        assert seen[what], f"{what} never happened in {seen}"


@pytest.mark.long
def test_the_laws_hold_with_prints_in_the_trays_over_a_million_raw_edges() -> None:
    """Over a million raw edges no law is broken."""
    begun = time.perf_counter()
    seen = wet_evenings(1_000_000, first=100_000)
    print(f"{seen['edges']} raw edges in {time.perf_counter() - begun:.0f} s: {dict(seen)}")


# ---- the laws bite


def nothing_guards(patch: Patch) -> None:
    patch.setattr(journey, "white_from_ns", lambda print_: 0)


def a_hold_shortens_the_guard(patch: Patch) -> None:
    def planned(print_: Print) -> Print:
        if print_.until_ns is None or print_.fix_ns is not None:
            return replace(print_, planned_fix_ns=0)
        rest = print_.way[print_.at + 1 : print_.process.first_fix]
        return replace(print_, planned_fix_ns=print_.until_ns + sum(print_.span_ns(tray.ms) for tray in rest))

    patch.setattr(journey, "_planned", planned)
    keep = trays._guard

    def guard(turn: Turn, at_ns: int) -> None:
        turn.state = replace(turn.state, white_floor_ns=0)
        keep(turn, at_ns)

    patch.setattr(trays, "_guard", guard)


def light_waits_for_nothing(patch: Patch) -> None:
    patch.setattr(State, "light_waits", property(lambda self: False))


def trays_are_heard_at_once(patch: Patch) -> None:
    patch.setattr(trays, "_lit", lambda place: False)


def two_read_a_press(patch: Patch) -> None:
    real = trays.pressed

    def pressed(turn: Turn, first_ns: int, *, double: bool) -> bool:
        real(turn, first_ns, double=double)
        return False

    patch.setattr(trays, "pressed", pressed)
    light_waits_for_nothing(patch)


def holds_follow_each_other(patch: Patch) -> None:
    patch.setattr(trays, "HOLD_AGAIN_MS", 0)


def a_hold_takes_out_of_the_fix(patch: Patch) -> None:
    patch.setattr(Print, "in_fix", property(lambda self: self.at >= len(self.way) - 1))


def a_late_clock_stays_late(patch: Patch) -> None:
    real = trays._goes
    patch.setattr(trays, "_goes", lambda turn, print_, at_ns: real(turn, print_, at_ns + 1))


def by_time_nothing_waits(patch: Patch) -> None:
    patch.setattr(trays, "by_time", lambda state, at_ns: state)


def a_restart_forgets_the_trays(patch: Patch) -> None:
    patch.setattr(evenings, "white_lay_ns", lambda *args: (0, 0))


def the_room_light_needs_no_minute(patch: Patch) -> None:
    patch.setattr(journey, "room_in_fix_ms", lambda process: process.least_fix_seconds * 1000)


def a_day_face_in_spite_of_it(patch: Patch) -> None:
    objections = legal_acts.OBJECTIONS
    patch.setitem(
        objections, "paper away", tuple(one for one in objections["paper away"] if one[1] != "trays.white-not-yet")
    )


def anybody_empties_the_trays(patch: Patch) -> None:
    real = pedal.room_light.tick

    def tick(turn: Turn, at_ns: int) -> None:
        real(turn, at_ns)
        if turn.state.prints and not turn.state.sheet_open:
            trays.none_there(turn, at_ns)

    patch.setattr(pedal.room_light, "tick", tick)


def a_spoiled_sheet_is_not_followed(patch: Patch) -> None:
    real = trays.begin

    def begin(turn: Turn, work: Any, number: int, by: Any, at_ns: int) -> None:
        if work.finished:
            real(turn, work, number, by, at_ns)

    patch.setattr(sheet_changes.trays, "begin", begin)


CHANGES: tuple[tuple[Callable[[Patch], None], str, int], ...] = (
    (nothing_guards, "closed at", 1),
    (a_hold_shortens_the_guard, "closed at", 8),
    (light_waits_for_nothing, "in the fix at", 1),
    (trays_are_heard_at_once, "was heard", 1),
    (two_read_a_press, "into the developer, and light", 1),
    (holds_follow_each_other, "two holds", 3),
    (a_hold_takes_out_of_the_fix, "out of", 1),
    (a_late_clock_stays_late, "lay", 1),
    (by_time_nothing_waits, "closed at", 2),
    (a_restart_forgets_the_trays, "closed at", 84),
    (the_room_light_needs_no_minute, "room light", 18),
    (a_day_face_in_spite_of_it, "the day face", 1),
    (anybody_empties_the_trays, "nobody said so", 1),
    (a_spoiled_sheet_is_not_followed, "closed at", 2),
)
"""Each change, what is told of it, and an evening that is known to break by it: that one is tried first."""


@pytest.mark.parametrize(("change", "told", "known"), CHANGES, ids=[change.__name__ for change, _, _ in CHANGES])
def test_a_change_of_the_code_is_caught(
    change: Callable[[Patch], None], told: str, known: int, monkeypatch: Patch
) -> None:
    """Within the edges of an ordinary run the laws catch this change, and name what it breaks."""
    change(monkeypatch)
    edges = 0
    for seed in itertools.chain([known], itertools.count(1)):
        history = play(seed)
        if any(told in found for found in wet_broken(history)):
            return
        edges += len(history.raw)
        if edges >= 2 * EDGES:
            break
    pytest.fail(f"not caught within {edges} raw edges")


def test_every_law_has_a_sentence() -> None:
    """Each law says in one sentence what it is."""
    assert all((law.__doc__ or "").endswith(".") for law in WET_LAWS)
