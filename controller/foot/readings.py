"""Readings at the easel: lights of no sheet that a press begins and the next ends, a spot of the negative each.

They begin on the day face, all paper away, with the warning's sound in place of the tick. What was measured is told
by the sensor a moment after dark. They are over by a hold, which takes its own press back, or after a minute of dark.
"""

from __future__ import annotations

from typing import Final

from controller.foot.events import Event, SpotTold, moment
from controller.foot.places import Fault, LeadIn, is_dark
from controller.foot.sheet_changes import drop_check
from controller.foot.state import Given, Last, State
from controller.foot.turn import LAPSE_MS, Turn
from controller.model import replace
from controller.store.entries import LightCame
from controller.trials.easel_lights import ALIGNMENT
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue

DARK_MS: Final = 1_800
"""So long after a light its dark is counted, with the probe in place: presses start nothing."""


def light_over(turn: Turn, came: LightCame) -> None:
    """File a light; one that a press ended has measured its spot, unless the sensor says otherwise."""
    state, work = turn.state, turn.state.loaded
    turn.file(came)
    measured = came.why == "foot" and not work.ending
    if measured:
        work = work.with_given(work.index, replace(work.given[work.index], done=True))
        work = replace(work, last=Last(came.light, work.index, Given()))
        if work.plan.source == ALIGNMENT:
            turn.say(Cue.DONE)  # an eye has looked, and no sensor tells of it later
    else:
        turn.say(Cue.STOPPED)  # the keeper sounds the ends of steps alone
    turn.state = replace(state, work=work)
    end_ns = came.on_ns + came.most_ns
    turn.wait_until(end_ns + (DARK_MS if measured else state.habits.timing.wait_after_stop_ms) * NS_PER_MS)
    if not isinstance(state.place, Fault):
        turn.rest(end_ns)


def told(turn: Turn, event: SpotTold) -> None:
    """Sound that a spot is measured, or that it is not and is asked for again; what is taken back is of no interest."""
    work = turn.state.work
    if work is None or not work.readings or work.last is None or work.last.light != event.light:
        return
    if event.taken:
        turn.say(Cue.DONE)
        return
    turn.say(Cue.NO)
    parts = work.given[work.last.index].parts
    work = replace(work.with_given(work.last.index, Given(parts=parts)), last=None)
    turn.state = replace(turn.state, work=work)
    if is_dark(turn.state.place):
        turn.rest(event.at_ns)


def held(turn: Turn) -> None:
    """End the readings by a hold: no question, and no white light. A light of its own press is no reading."""
    place = turn.state.place
    turn.state = replace(turn.state, work=replace(turn.state.loaded, ending=True))
    if isinstance(place, LeadIn):
        turn.take_back(place.order, turn.state.foot.first_ns)
        turn.go(turn.state.foot.undo or place)


def lapse(turn: Turn, at_ns: int) -> None:
    """End readings that have stood dark for a minute."""
    turn.state = replace(
        turn.state, work=replace(turn.state.loaded, ending=True), lapse_ns=at_ns + LAPSE_MS * NS_PER_MS
    )


def end_if_asked(turn: Turn, event: Event) -> None:
    """Put readings down that are to be over, once it is known what became of every order."""
    if _may_end(turn.state):
        turn.say(Cue.CLOSED)
        drop_check(turn, moment(event))


def _may_end(state: State) -> bool:
    work = state.work
    ending = work is not None and work.readings and work.ending
    return ending and state.outstanding is None and not state.withdrawn and is_dark(state.place)
