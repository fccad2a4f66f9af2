"""The room light: white light from a switched outlet, asked for on the day face and taken away by nearly everything.

It is never part of a step. The keeper has the last word: it refuses a lamp while the room light is on, lets go at any
press, stop or doubt, and after a lease that the runner's thread alone renews.
"""

from __future__ import annotations

from dataclasses import replace

from controller.foot.effects import DarkenRoom, FileGesture, FileRoom, LightRoom, Refuse
from controller.foot.events import SaidRoomLight
from controller.foot.places import Focus, WhiteWarning, is_dark
from controller.foot.state import State
from controller.foot.turn import Turn
from hardware.clock import NS_PER_MS
from hardware.wire import FootDown, RoomSwitched


def asked(turn: Turn, event: SaidRoomLight) -> None:
    """Switch the room light on or off as a page asks, or refuse it with a sentence's key."""
    if event.until_ns is None:
        end(turn)
        turn.do(DarkenRoom())
        return
    why = refusal(turn.state, event.at_ns)
    if why:
        turn.do(Refuse(why))
        return
    if turn.state.room_until_ns is None:
        turn.do(LightRoom())
    turn.state = replace(turn.state, room_until_ns=event.until_ns)


def refusal(state: State, at_ns: int) -> str:
    """Return the key of the sentence that says why there is no room light now, or nothing where there can be."""
    objections = (
        (not state.habits.room_light, "wiring.room-none"),
        (state.sheet_open, "foot.sheet-open"),
        (state.check_begun, "lamp.check-begun"),
        (bool(state.lid_open), "foot.box-open"),
        (isinstance(state.place, Focus | WhiteWarning), "wiring.room-focus"),
        (not is_dark(state.place), "foot.not-now"),
        (at_ns < state.room_from_ns, "wiring.room-not-in-fix"),
        (state.foot.down or state.outstanding is not None, "foot.wait"),
        (state.room_on and state.room_until_ns is None, "foot.wait"),  # it is still going off
    )
    return next((key for wrong, key in objections if wrong), "")


def heard(turn: Turn, event: RoomSwitched) -> None:
    """Take in what became of the room light; one that nobody asked for any more is taken away."""
    state = turn.state
    if event.on:
        if state.room_until_ns is None:
            turn.do(DarkenRoom())
        turn.state = replace(turn.state, room_on=True)
    else:
        end(turn)
        turn.state = replace(turn.state, room_on=False, room_until_ns=None, room_ended_ns=event.at_ns)
        turn.wait_until(event.at_ns + state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    if event.on != state.room_on:
        turn.do(FileRoom(event.on, event.at_ns, event.why))


def pressed(turn: Turn, event: FootDown) -> bool:
    """Tell whether this press was for the room light: it takes that away, and does nothing else."""
    state = turn.state
    if state.room_until_ns is None and not state.room_on and event.first_ns > state.room_ended_ns:
        return False
    end(turn)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, spent=True))
    turn.wait_until(event.at_ns + state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.do(FileGesture("press", event.first_ns))
    return True


def guard(turn: Turn) -> None:
    """Take the room light away where it may not be beside what has come about, before anything else is done."""
    state = turn.state
    wanted = state.room_until_ns is not None or state.room_on
    if wanted and (state.sheet_open or state.check_begun or state.lid_open or not is_dark(state.place)):
        effects = list(turn.effects)
        turn.effects.clear()
        end(turn)
        turn.do(*effects)


def end(turn: Turn) -> None:
    """Ask for the room light no longer."""
    if turn.state.room_until_ns is not None or turn.state.room_on:
        turn.state = replace(turn.state, room_until_ns=None)
        turn.do(DarkenRoom())


def lost(turn: Turn) -> None:
    """Hold that a keeper that is gone, or new, has let go of it."""
    if turn.state.room_on:
        turn.do(FileRoom(False, 0, "keeper"))
    turn.state = replace(turn.state, room_until_ns=None, room_on=False)
