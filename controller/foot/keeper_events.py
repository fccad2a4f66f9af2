"""What the grammar does with the keeper's own words: light, dark, orders that brought none, stops, the lid."""

from __future__ import annotations

from dataclasses import replace

from controller.foot import room_light as room_moves
from controller.foot.effects import Darken, FileGesture, FileLight, FileNone
from controller.foot.events import KeeperCame, StoreFailed
from controller.foot.places import AskClose, AskGiven, AskWhite, Fault, Focus, Gap, Held, LeadIn, Light, WhiteWarning
from controller.foot.sheet_changes import heard_light
from controller.foot.state import Foot
from controller.foot.turn import Turn
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.wire import Cancelled, Dark, Lid, Lit, Refused, Stopped


def heard(turn: Turn, order: int, word: Lit | Dark | Cancelled | Refused) -> None:
    """Take in the keeper's word about an order. What is neither outstanding nor withdrawn has been filed already."""
    if order != turn.state.outstanding and order not in turn.state.withdrawn:
        if isinstance(word, Lit):
            turn.do(Darken())  # off is the answer to doubt
        return
    match word:
        case Lit():
            _lit(turn, order, word.at_ns)
        case Dark():
            _settle(turn, order)
            _dark(turn, order, word.on_ns, word.dark_ns - word.on_ns, word.dark_ns - word.on_ns, word.why)
        case Cancelled() | Refused():
            _settle(turn, order)
            why = word.why if isinstance(word, Cancelled) else word.reason
            turn.do(FileNone(order, why))
            _none(turn, order, why, word.at_ns)


def _settle(turn: Turn, order: int) -> None:
    """Hold that the outcome of an order is known."""
    if order == turn.state.outstanding:
        turn.state = replace(turn.state, outstanding=None)
    else:
        turn.state = replace(turn.state, withdrawn=tuple(other for other in turn.state.withdrawn if other != order))


def _lit(turn: Turn, order: int, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    match place:
        case LeadIn() | Gap() if place.order == order:
            assert work is not None
            turn.state = replace(turn.state, work=replace(work, open=not work.check), stop_down=False)
            turn.go(Light(order, at_ns))
        case WhiteWarning() if place.order == order:
            turn.go(Focus(order, at_ns))
        case _:
            turn.do(Darken())  # it was taken back while it came on: off is the answer to doubt


def _dark(turn: Turn, order: int, on_ns: int, least_ns: int, most_ns: int, why: str) -> None:
    if why == "page":
        turn.do(FileGesture("page stop", on_ns + most_ns))
    place = turn.state.place
    _over(turn, order, on_ns, least_ns, most_ns, why)
    if isinstance(place, Fault):
        turn.go(place)  # what a lost keeper left behind is news, and clears nothing


def _over(turn: Turn, order: int, on_ns: int, least_ns: int, most_ns: int, why: str) -> None:
    if order == turn.state.focus_order:
        _focus_over(turn, order, on_ns, least_ns, most_ns, why)
    else:
        heard_light(turn, order, on_ns, least_ns, most_ns, why)


def _focus_over(turn: Turn, order: int, on_ns: int, least_ns: int, most_ns: int, why: str) -> None:
    """Arm the guard: the filter is unknown, and "stop down" is to be said again."""
    turn.do(FileLight(order, on_ns, least_ns, most_ns, why))
    turn.say_filter("")
    turn.state = replace(turn.state, stop_down=True)
    end_ns = on_ns + most_ns
    turn.wait_until(end_ns + turn.state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.rest(end_ns)


def _none(turn: Turn, order: int, why: str, at_ns: int) -> None:
    place = turn.state.place
    if why in ("foot", "page") or not isinstance(place, LeadIn | Gap | WhiteWarning) or place.order != order:
        return  # the foot-down or the stop itself says where to go
    turn.say(Cue.NO)
    turn.wait_until(at_ns + turn.state.habits.timing.wait_after_cancel_ms * NS_PER_MS)
    _stand_back(turn, at_ns)


def _stand_back(turn: Turn, at_ns: int) -> None:
    held = isinstance(turn.state.place, Gap)
    turn.rest(at_ns)
    if held:
        turn.go(Held())


def store_failed(turn: Turn, event: StoreFailed) -> None:
    """Stand back where the order was not sent: what must be on disk before light is not."""
    if turn.state.outstanding != event.order:
        return
    turn.state = replace(turn.state, outstanding=None)
    turn.say(Cue.NO)
    turn.wait_until(event.at_ns + turn.state.habits.timing.wait_after_cancel_ms * NS_PER_MS)
    _stand_back(turn, event.at_ns)


def page_stopped(turn: Turn, event: Stopped) -> None:
    """Do what a press does in light, lead-in, gap, warning and focus light; nothing elsewhere."""
    state = turn.state
    turn.state = replace(state, foot=replace(state.foot, seq=max(state.foot.seq, event.seq), undo=None))
    place = state.place
    if isinstance(place, LeadIn | Gap | WhiteWarning):
        if event.why == "page":
            turn.do(FileGesture("page stop", event.at_ns))
        turn.take_back(place.order, event.at_ns)
        turn.say(Cue.DARK if isinstance(place, WhiteWarning) else Cue.STOPPED)
        _stand_back(turn, event.at_ns)
    elif isinstance(place, AskClose | AskGiven | AskWhite) and place.seq == state.foot.seq:
        # a stop takes a number as a foot-down does: the hold that asked must still not answer itself
        turn.go(replace(place, seq=turn.state.foot.seq))


def lid_moved(turn: Turn, event: Lid) -> None:
    """Note the paper box's lid; the keeper has darkened what must not be lit with it open."""
    turn.state = replace(turn.state, lid_open=event.open)
    if event.open and isinstance(turn.state.place, AskWhite):
        turn.say(Cue.NO)
        turn.rest(event.at_ns)


def keeper_went(turn: Turn) -> None:
    """Stand in fault until the keeper answers; nothing restarts by itself."""
    room_moves.lost(turn)
    turn.go(Fault("keeper"))


def keeper_came(turn: Turn, event: KeeperCame) -> None:
    """File what is known of the light that was on, and stand dark where the sheet then is."""
    room_moves.lost(turn)
    order, withdrawn = turn.state.outstanding, turn.state.withdrawn
    habits = replace(turn.state.habits, sounder=event.sounder)
    turn.state = replace(turn.state, habits=habits, foot=Foot(), outstanding=None, withdrawn=())
    turn.do(*(FileNone(other, "keeper") for other in withdrawn))
    if order is not None and event.on_ns is not None:
        _over(turn, order, event.on_ns, event.least_ns, event.most_ns, "keeper")
    elif order is not None:
        turn.do(FileNone(order, "keeper"))
    turn.wait_until(event.at_ns + turn.state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.rest(event.at_ns)
