"""Waits in the dark before a step's light: part of the paper lies under a card while a safelight or a phone may fog it.

A press begins a wait once the card lies where it was asked for, and a cue ends it. No light begins meanwhile, and the
sheet is open, so that there is no white light. Nothing shortens a wait but closing the sheet: another press says
“wait”, and a double or hold of the press that began it takes it back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.foot.places import AskClose, HandsAsked, Waiting
from controller.foot.turn import CUE_AFTER_MS, Turn
from controller.model import replace
from controller.store.trial_rows import Waited
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue

if TYPE_CHECKING:
    from controller.foot.places import Place
    from controller.foot.state import State, Work


def begin(turn: Turn, at_ns: int, asked: HandsAsked) -> None:
    """Begin the wait whose card lies in its place, at a press."""
    wait, foot = turn.state.loaded.wait, turn.state.foot
    assert wait is not None
    until_ns = at_ns + wait.ms * NS_PER_MS // turn.state.habits.hurry  # a practice darkroom has its minutes shorter
    turn.go(Waiting(until_ns, foot.seq, asked))
    turn.state = replace(turn.state, foot=replace(foot, undo=asked))
    turn.say(Cue.TICK)


def take_back(turn: Turn, place: Waiting, at_ns: int) -> None:
    """Stand before the wait again: its press was part of a hold or a double."""
    turn.go(replace(place.undo, remind_ns=at_ns + CUE_AFTER_MS * NS_PER_MS))


def over(turn: Turn, at_ns: int) -> None:
    """Note that a wait is over, and sound it: the card is moved on, or the light comes next."""
    place, work = turn.state.place, turn.state.loaded
    wait = work.wait
    assert isinstance(place, Waiting)
    assert wait is not None
    number = work.waited + 1
    turn.file(Waited(sheet=work.sheet, step=work.step.number, wait=number, until_ns=at_ns, ms=wait.ms))
    turn.state = replace(turn.state, work=replace(work, waited=number))
    turn.say(Cue.MOVE_CARD if number < len(work.step.waits) else Cue.DONE)
    turn.rest(at_ns)


def safelight_dark(state: State, *, dark: bool) -> bool:
    """Tell whether the safelight is to be off: a sheet with waits is worked, and none under the safelight runs.

    It goes dark once the printer has said that the negative is out, before any paper; and where it was `dark` by the
    close it stays so, as long as white light waits for the sheet.
    """
    work, place = state.work, state.place
    if not state.sheet_open:
        prepared = work is not None and work.plan.waits and work.asked.hands
        return prepared or (dark and state.white_from_ns > 0)
    if work is None or not work.plan.waits:
        return False
    runs = place.back if isinstance(place, AskClose) else place
    wait = work.wait if isinstance(runs, Waiting) else None
    return wait is None or wait.glow != "safelight"


def headline(place: Place, work: Work | None) -> str:
    """Return what is asked of the printer before a wait or in one, in a sentence; empty elsewhere."""
    wait = None if work is None else work.wait
    if wait is None or not isinstance(place, HandsAsked | Waiting):
        return ""
    if isinstance(place, HandsAsked):
        return say(wait.card, minutes=wait.ms // 60_000)
    last = work is not None and work.waited + 1 == len(work.step.waits)
    return say("trials.waiting-last" if last else "trials.waiting", minutes=wait.ms // 60_000)
