"""The laws of light with steps that have none: composites over random evenings, and proof that the laws bite."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from tools.composing import compose
from tools.laws import History, broken

from controller.daemon import recovery
from controller.foot import asks as asks_of
from controller.foot import gestures as foot_moves
from controller.foot import sheet_changes as sheet_moves
from controller.foot import table as pedal
from controller.foot import turn as turns
from controller.foot.asks import NOTHING_ASKED
from controller.foot.places import HandsAsked
from controller.foot.state import Work
from controller.foot.table import Rule
from controller.foot.turn import Turn
from controller.store.entries import HandsDone

EDGES = 2_000
EACH = 300


def evenings(edges: int, first: int = 1) -> Counter[str]:
    """Play so many raw edges, hold each evening to the laws, and return what happened in all of them."""
    seen: Counter[str] = Counter()
    for seed in itertools.count(first):
        if seen["edges"] >= edges:
            return seen
        history = compose(seed, EACH)
        found = broken(history)
        assert not found, "\n".join(found)
        count(history, seen)
    raise AssertionError


def count(history: History, seen: Counter[str]) -> None:
    assert history.journal is not None
    rows = history.journal.of(HandsDone)
    seen["edges"] += len(history.raw)
    seen["answered"] += len(rows)
    seen["undone"] += sum(row.undone for row in rows)
    for kind in ("hands", "carrier", "tool"):
        seen[kind] += sum(row.ask.kind == kind for row in rows)
    seen["at the end"] += sum(row.step == 0 for row in rows)
    seen["complete"] += sum(sheet.outcome == "complete" and bool(sheet.hands) for sheet in history.sheets)
    seen["restarts"] += len(history.restarts)


def test_the_laws_hold_over_evenings_of_composites() -> None:
    """Whatever was pressed, left out, put back, closed or lost, no light went past an ask; and every kind was asked."""
    seen = evenings(EDGES)
    for what in ("undone", "hands", "carrier", "tool", "at the end", "complete", "restarts"):
        assert seen[what], f"{what} never happened in {seen}"


@pytest.mark.long
def test_the_laws_hold_over_a_hundred_thousand_edges_of_composites() -> None:
    """Over a hundred thousand raw edges no law is broken."""
    print(dict(evenings(100_000, first=10_000)))


# ---- the laws bite

Patch = pytest.MonkeyPatch


def nothing_is_asked(patch: Patch) -> None:
    patch.setattr(turns, "next_ask", lambda work: None)


def own_asks_alone(patch: Patch) -> None:
    patch.setattr(asks_of, "_before", lambda work: work.step.asks)


def no_carrier_is_held_against_its_step(patch: Patch) -> None:
    real = asks_of._next

    def unasked(work: Work) -> Any:
        return real(replace(work, asked=replace(work.asked, carrier=work.step.carrier)))

    patch.setattr(asks_of, "_next", unasked)


def no_mask_is_put_right(patch: Patch) -> None:
    patch.setattr(asks_of, "_put_right", lambda work, needed: None)


def the_next_sheet_knows_of_no_mask(patch: Patch) -> None:
    patch.setattr(sheet_moves, "still_in", lambda work: NOTHING_ASKED)


def a_restart_knows_of_no_mask(patch: Patch) -> None:
    patch.setattr(recovery, "after_restart", lambda work, done: NOTHING_ASKED)


def an_answer_is_not_taken_back(patch: Patch) -> None:
    real = foot_moves.back_from_settling

    def back(turn: Turn, place: Any, at_ns: int) -> None:
        work = turn.state.loaded
        real(turn, place, at_ns)
        turn.state = replace(turn.state, work=work)

    patch.setattr(foot_moves, "back_from_settling", back)


def an_answer_begins_its_light(patch: Patch) -> None:
    def done(turn: Turn, at_ns: int) -> None:
        foot_moves.hands_done(turn, at_ns)
        turn.begin_light(at_ns)

    patch.setitem(pedal.TABLE, (HandsAsked, "press"), Rule("light", done))


def an_answer_leaves_no_row(patch: Patch) -> None:
    patch.setattr(foot_moves, "_file_hands", lambda turn, at_ns, undone=False: None)


CHANGES: tuple[tuple[Callable[[Patch], None], str, int], ...] = (
    (nothing_is_asked, "", 1),
    (own_asks_alone, "before", 22),
    (no_carrier_is_held_against_its_step, "carrier", 12),
    (no_mask_is_put_right, "in place of", 1),
    (the_next_sheet_knows_of_no_mask, "in place of", 2),
    (a_restart_knows_of_no_mask, "in place of", 1),
    (an_answer_is_not_taken_back, "", 2),
    (an_answer_begins_its_light, "began a light", 1),
    (an_answer_leaves_no_row, "", 1),
)
"""Each change, what is told of it, and an evening that is known to break by it: that one is tried first."""


@pytest.mark.parametrize(("change", "told", "known"), CHANGES, ids=[change.__name__ for change, _, _ in CHANGES])
def test_a_change_of_the_code_is_caught(
    change: Callable[[Patch], None], told: str, known: int, monkeypatch: Patch
) -> None:
    """Within some evenings the laws catch this change, and name what it breaks."""
    change(monkeypatch)
    edges = 0
    for seed in itertools.chain([known], itertools.count(1)):
        history = compose(seed, EACH)
        if any(told in found for found in broken(history)):
            return
        edges += len(history.raw)
        if edges >= 30 * EACH:
            break
    pytest.fail(f"not caught within {edges} raw edges")
