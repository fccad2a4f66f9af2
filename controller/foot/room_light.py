"""The lit room: the day face, and the room light from a switched outlet that may go with it.

Both are never part of a step, and are taken away by nearly everything. The keeper has the last word on the room light:
it refuses a lamp while that is on, lets go at any press, stop or doubt, and after a lease that the runner's thread
alone renews.
"""

from __future__ import annotations

from typing import Final

from controller.foot.legal_acts import refusal
from controller.foot.places import is_dark
from controller.foot.state import State
from controller.foot.turn import Turn
from controller.model import replace
from controller.store.entries import RoomLit
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.wire import FootDown, RoomLight, RoomSwitched


def begin_day(turn: Turn, at_ns: int) -> None:
    """Show the day face from now on, for its time."""
    turn.state = replace(turn.state, day_until_ns=at_ns + turn.state.habits.day_ms * NS_PER_MS)


def renew_day(turn: Turn, at_ns: int) -> None:
    """Let the day face last its whole time from now on, where it is there and may be; it is never begun by this."""
    until = turn.state.day_until_ns
    if until is not None and at_ns < until and refusal(turn.state, "paper away", at_ns) is None:
        begin_day(turn, at_ns)


def end_day(turn: Turn) -> None:
    """Go back to the dark face, and take the room light away with it."""
    turn.state = replace(turn.state, day_until_ns=None)
    end(turn)


def tick(turn: Turn, at_ns: int) -> None:
    """End the day face where its time is over, whoever looks."""
    until = turn.state.day_until_ns
    if until is not None and at_ns >= until:
        end_day(turn)


def switch_on(turn: Turn) -> None:
    """Ask for the room light: it comes on only where the word before was off."""
    turn.state = replace(turn.state, room_wanted=True, room_ended_why="")
    turn.do(RoomLight(False), RoomLight(True))


def end(turn: Turn) -> None:
    """Ask for the room light no longer."""
    if turn.state.room_wanted or turn.state.room_on:
        turn.state = replace(turn.state, room_wanted=False)
        turn.do(RoomLight(False))


def switched(turn: Turn, event: RoomSwitched) -> None:
    """Take in what became of the room light; one that nobody asked for any more is taken away."""
    state = turn.state
    if event.on:
        if not state.room_wanted:
            turn.do(RoomLight(False))
        turn.state = replace(turn.state, room_on=True)
    else:
        end(turn)
        turn.state = replace(turn.state, room_on=False, room_wanted=False, room_ended_ns=event.at_ns)
        turn.wait_until(event.at_ns + state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    if event.on != state.room_on:
        _file(turn, event.on, event.at_ns, event.why)


def pressed(turn: Turn, event: FootDown) -> None:
    """Take the room light away at a press that was begun in it, which does nothing else."""
    state = turn.state
    end(turn)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, spent=True))
    turn.wait_until(event.at_ns + state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.file_gesture("press", event.first_ns)


def guard(turn: Turn, at_ns: int) -> None:
    """End the day face, and the room light first of all, where they may not be beside what has come about."""
    state = turn.state
    if state.day_until_ns is not None and refusal(state, "paper away", at_ns) is not None:
        turn.state = replace(turn.state, day_until_ns=None)
    wanted = state.room_wanted or state.room_on
    paper = state.sheet_open or state.check_begun or state.lid_open or at_ns < state.white_from_ns
    if wanted and (paper or not is_dark(state.place)):
        effects = list(turn.effects)
        turn.effects.clear()
        end(turn)
        turn.do(*effects)


def lost(turn: Turn) -> None:
    """Hold that a keeper that is gone, or new, has let go of it."""
    if turn.state.room_on:
        _file(turn, False, 0, "keeper")
    turn.state = replace(turn.state, room_wanted=False, room_on=False)


def _file(turn: Turn, on: bool, at_ns: int, why: str) -> None:
    turn.file(RoomLit(on=on, at_ns=at_ns, why=why))
    if not on:
        turn.state = replace(turn.state, room_ended_why=why)


def ended_words(state: State) -> str:
    """Return why the room light went off, in words, or nothing where it was asked to, or is on."""
    key = _ROOM_ENDED.get(state.room_ended_why)
    return "" if state.room_on or key is None else say(key)


_ROOM_ENDED: Final = {
    "foot": "wiring.room-ended-foot",
    "lid": "wiring.room-ended-lid",
    "page": "wiring.room-ended-page",
    "lease": "wiring.room-ended-fault",
    "keeper": "wiring.room-ended-fault",
    "fault": "wiring.room-ended-fault",
}
