"""The laws of the asked set-up, and of a sheet that begins with the filter that is in, bite: each change is caught."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from tools import setting_up
from tools.setting_up import SET_UP_LAWS

from controller.foot import gestures, keeper_events
from controller.foot import table as pedal
from controller.foot.places import SetUpAsked
from controller.foot.state import Work
from controller.foot.table import Rule
from controller.foot.turn import Turn
from controller.recipe.plan import Plan
from controller.recipe.set_up import SetUp

EACH = 300
MOST_EDGES = 12_000
FIRST_SEED = 800_000

Patch = pytest.MonkeyPatch


def nothing_is_asked(patch: Patch) -> None:
    patch.setattr(Turn, "set_up_wanted", property(lambda self: False))


def it_is_set_by_itself(patch: Patch) -> None:
    patch.setitem(pedal.TABLE, (SetUpAsked, "by itself"), Rule("set", gestures.set_up_made))


def it_is_asked_in_the_midst_of_a_sheet(patch: Patch) -> None:
    def wanted(self: Turn) -> bool:
        work = self.state.work
        set_up = None if work is None else work.plan.set_up
        return set_up is not None and set_up.to_be_made(
            SetUp() if work is not None and work.open else self.state.set_up
        )

    patch.setattr(Turn, "set_up_wanted", property(wanted))


def focus_light_changes_no_order(patch: Patch) -> None:
    real = Work.following

    def following(self: Work, filter_in: str) -> Work:
        return real(self, filter_in) if filter_in or not self.follows else self

    patch.setattr(Work, "following", following)


def every_sheet_begins_with_what_is_in(patch: Patch) -> None:
    real = Plan.standing
    patch.setattr(Plan, "standing", lambda self, bench: real(self, bench).beginning_with("hard"))


def another_order_is_told_than_given(patch: Patch) -> None:
    patch.setattr(Plan, "order", property(lambda self: tuple(range(len(self.steps)))))


def what_was_made_is_not_filed(patch: Patch) -> None:
    real = keeper_events.make_set_up
    patch.setattr(gestures, "make_set_up", lambda turn: (real(turn), turn.effects.pop()))


CHANGES: tuple[tuple[Callable[[Patch], None], str, int], ...] = (
    (nothing_is_asked, "began set up as", FIRST_SEED),
    (it_is_set_by_itself, "nobody said so", FIRST_SEED),
    (it_is_asked_in_the_midst_of_a_sheet, "was open", FIRST_SEED),
    (focus_light_changes_no_order, "white light or a restart lay between", 800_042),
    (every_sheet_begins_with_what_is_in, "follows no sheet", FIRST_SEED),
    (another_order_is_told_than_given, "was to begin with", FIRST_SEED),
    (what_was_made_is_not_filed, "stood at the enlarger", FIRST_SEED),
)
"""Each change, what is told of it, and an evening that is known to break by it: that one is tried first."""


@pytest.mark.parametrize(("change", "told", "known"), CHANGES, ids=[change.__name__ for change, _, _ in CHANGES])
def test_a_change_of_the_code_is_caught(
    change: Callable[[Patch], None], told: str, known: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within a few evenings the laws catch this change, and name what it breaks."""
    change(monkeypatch)
    edges = 0
    for seed in itertools.chain([known], itertools.count(FIRST_SEED)):
        history = setting_up.play(seed, EACH)
        if any(told in found for found in setting_up.broken(history)):
            return
        edges += len(history.raw)
        if edges >= MOST_EDGES:
            break
    pytest.fail(f"not caught within {edges} raw edges")


def test_every_law_has_a_sentence() -> None:
    """Each law says in one sentence what it is."""
    assert all((law.__doc__ or "").endswith(".") for law in SET_UP_LAWS)
