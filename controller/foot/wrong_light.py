"""A light that is wrong from its start: it ends, what of it counts is reckoned, and the sheet goes on with the rest.

Full light is proportional to what the sensor counts, so a light of which the line was lit for t gave (t − lag)·2^Δ of
what the step wants, Δ in stops over the last good level (derived: a stop is a doubling).
"""

from __future__ import annotations

import math
from typing import Final

from controller.exposure import lag
from controller.foot.effects import Darken
from controller.foot.events import DoseTold, LevelWrong
from controller.foot.places import Light
from controller.foot.state import State
from controller.foot.turn import Turn
from controller.model import replace
from controller.store.entries import LightCame, Trouble
from controller.store.levels import WrongLight
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.wire import Dose

UNSURE_STOPS: Final = 0.2
"""How far a single cycle of the sensor is trusted, either way."""
LEAST_OVER_STOPS: Final = 1 / 12
"""Less than this over its plan is not spoken of: nobody sees it (common practice)."""


def judged(turn: Turn, event: LevelWrong) -> None:
    """Take in that a light is wrong: dark where it is far too strong, else a sound; nothing where it is over."""
    state, place = turn.state, turn.state.place
    if not isinstance(place, Light) or place.order != event.order or state.loaded.check:
        return
    if event.found == "weak" or not event.too_much:
        turn.say(Cue.WEAK)
        what = "lamp.weak-light" if event.found == "weak" else "lamp.weak-filter"
        turn.file(Trouble(sheet=state.sheet, what=what, detail=event.filter))
        return
    turn.state = replace(
        state,
        wrong=WrongLight(
            sheet=state.sheet,
            light=event.order,
            found=event.found,
            stops=event.stops,
            filter=event.filter if event.found == "filter" else "",
            least_ns=0,
            most_ns=0,
        ),
    )
    turn.do(Darken("level"))


def dosed(turn: Turn, event: DoseTold) -> None:
    """Hand on when a light has its dose; nothing where that light is over, or is being ended already."""
    place, wrong = turn.state.place, turn.state.wrong
    if isinstance(place, Light) and place.order == event.order and (wrong is None or wrong.light != event.order):
        turn.do(Dose(event.order, event.lit_ms))


def counted(state: State, came: LightCame) -> WrongLight | None:
    """Return what counts of a light that has come, where it was found wrong; None where it was not.

    However it ended: a foot or the plan may have been quicker than the order to end it.
    """
    wrong, work, lag_ms = state.wrong, state.loaded, state.habits.lag_ms
    if wrong is None or wrong.light != came.light:
        return None
    full_ns = lag.given_full_ns(came.most_ns, lag_ms)
    match wrong.found:
        case "filter":
            return replaced(wrong, 0, 0, 0)
        case "open" if wrong.stops is not None:
            least, counts, most = (
                round(full_ns * 2.0 ** (wrong.stops + off)) for off in (-UNSURE_STOPS, 0.0, UNSURE_STOPS)
            )
            return replaced(wrong, least, counts, most)
        case _:
            return replaced(wrong, full_ns, None, max(full_ns, work.missing_ns(lag_ms)))


def replaced(wrong: WrongLight, least_ns: int, counts_ns: int | None, most_ns: int) -> WrongLight:
    """Return the row with what counts."""
    return wrong.model_copy(update={"least_ns": least_ns, "counts_ns": counts_ns, "most_ns": most_ns})


def over_stops(state: State) -> float:
    """Return by how much the wrong light's step has had more than its plan, in stops; 0 where it has not."""
    work, lag_ms = state.work, state.habits.lag_ms
    if work is None or work.last is None or state.wrong is None or state.wrong.light != work.last.light:
        return 0.0
    step, given = work.steps[work.last.index], work.given[work.last.index]
    plan_ns = lag.planned_full_ns(step.planned_ms, step.base_ms, lag_ms)
    return math.log2(given.most_ns / plan_ns) if given.most_ns > plan_ns > 0 else 0.0


def happened(state: State) -> str:
    """Return in words what was wrong with the last light of the open sheet; empty where nothing was."""
    work, wrong = state.work, state.wrong
    if work is None or work.last is None or wrong is None or wrong.light != work.last.light:
        return ""
    name = work.steps[work.last.index].name
    if wrong.found == "filter":
        return say("foot.wrong-filter", filter=wrong.filter, name=name)
    if wrong.counts_ns is None:
        return say("foot.wrong-dazzled", name=name)
    if (over := over_stops(state)) >= LEAST_OVER_STOPS:
        return say("foot.wrong-over", stops=f"{over:.1f}", name=name)
    return say("foot.wrong-open", seconds=f"{wrong.counts_ns / NS_PER_MS / 1000:.1f}", name=name)


def stood_open(state: State) -> bool:
    """Tell whether the last light of the present step was far too strong by an opened lens, as far as is known."""
    work, wrong = state.work, state.wrong
    last = None if work is None else work.last
    return wrong is not None and last is not None and wrong.light == last.light and wrong.found != "filter"
