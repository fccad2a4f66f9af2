"""What a page may ask for now: one table, of all that may stand against each verb.

The snapshot offers what nothing stands against, and whatever else is asked for is refused with the first that does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from controller.errors import Impossible
from controller.foot.acts import Verb
from controller.foot.places import (
    AskClose,
    AskGiven,
    AskWhite,
    DarkPlace,
    Finished,
    Focus,
    Gap,
    Held,
    LeadIn,
    Light,
    Ready,
    SetUpAsked,
    WhiteWarning,
    is_dark,
)
from controller.foot.state import HARD, SOFT, Habits, State
from controller.recipe.plan import Plan
from controller.words import say

Objection = tuple[Callable[[State, int], bool], str]
"""What stands against an act at a moment, and the key of the sentence that says so."""


def refusal(state: State, verb: Verb, at_ns: int) -> str | None:
    """Return the key of the sentence that says why `verb` is refused at `at_ns`, or None where it may be done."""
    return next((key for wrong, key in OBJECTIONS[verb] if wrong(state, at_ns)), None)


def offered(state: State, at_ns: int) -> tuple[Verb, ...]:
    """Return the verbs that may be done at `at_ns`: those that are not refused."""
    return tuple(verb for verb in OBJECTIONS if refusal(state, verb, at_ns) is None)


def changes_ns(state: State, at_ns: int) -> int | None:
    """Return the next moment after `at_ns` at which something is offered because of the time alone, or None."""
    day = state.day_until_ns is not None
    start = state.habits.start_from_phone and isinstance(state.place, Ready | Held)
    moments = (
        state.hold_from_ns if day else at_ns,
        state.room_from_ns if day and state.habits.room_light else at_ns,
        state.wait_until_ns if start else at_ns,
    )
    return min([moment for moment in moments if moment > at_ns], default=None)


def _quiet(state: State) -> bool:
    """Tell whether nothing is lit or announced; a question is dropped."""
    return isinstance(state.place, DarkPlace | AskClose | AskGiven | AskWhite)


def _measuring(state: State) -> bool:
    """Tell whether spots are measured: all paper is away, and stays so."""
    return state.work is not None and state.work.readings


def _nothing_in_doubt(state: State) -> bool:
    work = state.loaded
    index = work.doubt(state.habits.lag_ms)
    return index is None or work.last is None or work.last.index != index


def _doubt(state: State) -> bool:
    return state.work is not None and state.work.doubt(state.habits.lag_ms) is not None


_LOAD: Final[tuple[Objection, ...]] = (
    (lambda state, _: state.sheet_open, "foot.sheet-open"),
    (lambda state, _: not _quiet(state) and not isinstance(state.place, Focus), "foot.not-now"),
    (lambda state, _: state.outstanding is not None and not isinstance(state.place, Focus), "foot.wait"),
)
_ON_SHEET: Final[tuple[Objection, ...]] = (
    (lambda state, _: not state.sheet_open or not _quiet(state), "foot.not-now"),
    # what became of its last order is not yet known
    (lambda state, _: state.outstanding is not None, "foot.wait"),
)
_UNFINISHED: Final[tuple[Objection, ...]] = (
    *_ON_SHEET,
    (lambda state, _: state.loaded.finished, "foot.nothing-to-do"),
)
_WHITE: Final[tuple[Objection, ...]] = (
    (lambda state, _: state.sheet_open, "foot.sheet-open"),
    (lambda state, _: state.check_begun, "lamp.check-begun"),
    (lambda state, _: bool(state.lid_open), "foot.box-open"),
    (lambda state, at_ns: at_ns < state.white_from_ns, "trays.white-not-yet"),
)

OBJECTIONS: Final[dict[Verb, tuple[Objection, ...]]] = {
    "remark": (),
    "change remark": (),
    "take back remark": (),
    "pick": (),
    "looked": (),
    "into recipe": (),
    "reference print": (),
    "take offer": _LOAD,
    "refuse offer": (),
    "load": _LOAD,
    "put down": (*_LOAD, (lambda state, _: state.work is None, "foot.nothing-to-do")),
    "at the enlarger": ((lambda state, _: state.sheet_open, "foot.enlarger-sheet-open"), *_LOAD),
    "set up made": (
        *_LOAD,
        (lambda state, _: not isinstance(state.place, SetUpAsked), "foot.nothing-to-do"),
    ),
    "paper away": (
        (lambda state, _: state.sheet_open, "foot.day-refused-open"),
        (
            lambda state, _: isinstance(state.place, LeadIn | Light | Gap) and not _measuring(state),
            "foot.day-refused-light",
        ),
        (lambda state, _: state.check_begun, "lamp.check-begun"),
        (lambda state, _: bool(state.lid_open), "foot.day-refused-box"),
        (lambda state, at_ns: at_ns < state.white_from_ns, "trays.white-not-yet"),
    ),
    "paper out": ((lambda state, _: state.day_until_ns is None, "foot.nothing-to-do"),),
    "room light off": (
        (lambda state, _: not state.habits.room_light, "wiring.room-none"),
        (lambda state, _: not state.room_wanted and not state.room_on, "foot.nothing-to-do"),
    ),
    "room light on": (
        (lambda state, _: not state.habits.room_light, "wiring.room-none"),
        *_WHITE,
        (lambda state, _: isinstance(state.place, Focus | WhiteWarning), "wiring.room-focus"),
        (lambda state, _: state.day_until_ns is None, "wiring.room-day"),
        (lambda state, _: not is_dark(state.place), "foot.not-now"),
        (lambda state, _: state.room_wanted, "foot.nothing-to-do"),
        (lambda state, at_ns: at_ns < state.room_from_ns, "wiring.room-not-in-fix"),
        (lambda state, _: state.foot.down or state.outstanding is not None, "foot.wait"),
        (lambda state, _: state.room_on, "foot.wait"),  # it is still going off
    ),
    "no paper in the trays": (
        (lambda state, _: state.sheet_open, "foot.sheet-open"),
        (lambda state, at_ns: not state.prints and at_ns >= state.white_from_ns, "foot.nothing-to-do"),
    ),
    "ask focus": (
        *_WHITE,
        (lambda state, _: not state.habits.sounder, "foot.no-sounder"),
        (lambda state, _: state.day_until_ns is None, "foot.not-now"),
        (lambda state, at_ns: at_ns < state.hold_from_ns, "foot.paper-away-first"),
        (lambda state, _: not is_dark(state.place), "foot.not-now"),
    ),
    "call given": _UNFINISHED,
    "leave out": _UNFINISHED,
    "put back": (*_ON_SHEET, (lambda state, _: state.loaded.left_out is None, "foot.nothing-to-do")),
    "more burn": _ON_SHEET,
    "close": _ON_SHEET,
    "no light": (*_ON_SHEET, (lambda state, _: state.loaded.last is None, "foot.nothing-to-do")),
    "assume": (*_ON_SHEET, (lambda state, _: _nothing_in_doubt(state), "foot.nothing-to-do")),
    "start": (
        (lambda state, _: not state.habits.start_from_phone, "foot.start-by-foot"),
        (lambda state, _: isinstance(state.place, Finished), "foot.finished"),
        (lambda state, _: state.light_waits, "trays.light-not-yet"),
        (
            lambda state, _: (
                state.work is None or not isinstance(state.place, Ready | Held) or state.outstanding is not None
            ),
            "foot.not-now",
        ),
        (lambda state, at_ns: state.foot.down or at_ns < state.wait_until_ns, "foot.wait"),
        (lambda state, _: _doubt(state), "foot.doubt"),
    ),
}
"""Every verb of `controller.foot.acts`, with all that may stand against it; what is told first comes first."""


def must_have_lines(plan: Plan, habits: Habits) -> None:
    """Let a plan pass whose every filter has a lamp line; with filters in a drawer every plan does.

    Raises:
        Impossible: the sentence names the first step whose filter has none, and what would do.
    """
    _check(((step.name, step.filter) for step in plan.steps), habits)


def must_have_line(filter_name: str, habits: Habits) -> None:
    """Let one more light's filter pass; raises as `must_have_lines`."""
    _check([(say("foot.verb-burn"), filter_name)], habits)


def _check(lights: Iterable[tuple[str, str]], habits: Habits) -> None:
    if habits.filters == "drawer":
        return
    for name, filter_name in lights:
        if filter_name and filter_name not in (SOFT, HARD):
            raise Impossible(say("wiring.no-lamp-line", step=name, filter=filter_name))
