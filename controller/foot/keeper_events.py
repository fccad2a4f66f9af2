"""What the grammar does with the keeper's own words: light, dark, orders that brought none, stops, the lid."""

from __future__ import annotations

from controller.foot import readings, room_light, trays
from controller.foot.effects import Darken
from controller.foot.events import KeeperCame, StoreFailed
from controller.foot.places import (
    AskClose,
    AskGiven,
    AskWhite,
    Fault,
    Focus,
    Gap,
    Held,
    LeadIn,
    Light,
    SetUpAsked,
    WhiteWarning,
)
from controller.foot.sheet_changes import light_came, make_set_up
from controller.foot.state import Foot
from controller.foot.turn import Turn
from controller.model import replace
from controller.recipe.set_up import SetUp
from controller.store.entries import LightCame, NoLightCame
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.wire import Cancelled, Dark, Lid, Lit, Refused, Stopped


def heard_of_order(turn: Turn, word: Lit | Dark | Cancelled | Refused) -> None:
    """Take in the keeper's word about an order. What is neither outstanding nor withdrawn has been filed already."""
    if word.id != turn.state.outstanding and word.id not in turn.state.withdrawn:
        if isinstance(word, Lit):
            turn.do(Darken())  # off is the answer to doubt
        return
    match word:
        case Lit():
            _lit(turn, word)
        case Dark():
            _settle(turn, word.id)
            lit_ns = word.dark_ns - word.on_ns
            _dark(turn, _came(word.id, word.on_ns, lit_ns, lit_ns, word.why))
        case Cancelled() | Refused():
            _settle(turn, word.id)
            why = word.why if isinstance(word, Cancelled) else word.reason
            turn.file(NoLightCame(light=word.id, why=why))
            _none(turn, word.id, why, word.at_ns)


def _came(light: str, on_ns: int, least_ns: int, most_ns: int, why: str) -> LightCame:
    values = {"light": light, "on_ns": on_ns, "least_ns": least_ns, "most_ns": most_ns, "why": why}
    return LightCame.model_validate(values)


def _settle(turn: Turn, order: str) -> None:
    """Hold that the outcome of an order is known."""
    if order == turn.state.outstanding:
        turn.state = replace(turn.state, outstanding=None)
    else:
        turn.state = replace(turn.state, withdrawn=tuple(other for other in turn.state.withdrawn if other != order))


def _lit(turn: Turn, word: Lit) -> None:
    place, work = turn.state.place, turn.state.work
    match place:
        case LeadIn() | Gap() if place.order == word.id:
            assert work is not None
            since_ns = word.at_ns if work.lit_ns is None else work.lit_ns
            stands = turn.state.set_up
            if not work.open and (wanted := work.plan.set_up) is not None:
                stands = wanted.over(stands or SetUp())
            work = replace(work, open=not work.check, lit_ns=since_ns)
            turn.state = replace(turn.state, work=work, set_up=stands, stop_down=False, wrong=None)
            turn.go(Light(word.id, word.at_ns))
        case WhiteWarning() if place.order == word.id:
            if isinstance(place.back, SetUpAsked):
                make_set_up(turn)  # focusing is the end of it
            turn.go(Focus(word.id, word.at_ns))
        case _:
            turn.do(Darken())  # it was taken back while it came on: off is the answer to doubt


def _dark(turn: Turn, came: LightCame) -> None:
    if came.why == "page":
        turn.file_gesture("page stop", came.on_ns + came.most_ns)
    place = turn.state.place
    _over(turn, came)
    if isinstance(place, Fault):
        turn.go(place)  # what a lost keeper left behind is news, and clears nothing


def _over(turn: Turn, came: LightCame) -> None:
    if came.light == turn.state.focus_order:
        _focus_over(turn, came)
    elif turn.state.loaded.readings:
        readings.light_over(turn, came)
    else:
        light_came(turn, came)


def _focus_over(turn: Turn, came: LightCame) -> None:
    """Arm the guard: the filter is unknown, and "stop down" is to be said again."""
    turn.file(came)
    turn.say_filter("")
    work = turn.state.work
    if work is not None:  # whatever was put in place before it may be elsewhere now
        work = work.following("") if work.follows and not work.open else work
        work = replace(work, asked=replace(work.asked, count=0, carrier=""))
    turn.state = replace(turn.state, work=work, stop_down=True)
    end_ns = came.on_ns + came.most_ns
    turn.wait_until(end_ns + turn.state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.rest(end_ns)


def _none(turn: Turn, order: str, why: str, at_ns: int) -> None:
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
            turn.file_gesture("page stop", event.at_ns)
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
    room_light.lost(turn)
    turn.go(Fault("keeper"))


def keeper_came(turn: Turn, event: KeeperCame) -> None:
    """File what is known of the light that was on, and stand dark where the sheet then is."""
    room_light.lost(turn)
    trays.confirm(turn)
    turn.state = replace(turn.state, tray_press=None)
    order, withdrawn, found = turn.state.outstanding, turn.state.withdrawn, event.interrupted
    habits = replace(turn.state.habits, sounder="sounder" in event.greeting.features)
    turn.state = replace(turn.state, habits=habits, foot=Foot(), outstanding=None, withdrawn=())
    turn.file(*(NoLightCame(light=other, why="keeper") for other in withdrawn))
    if order is not None and found is not None and found.id == order:
        _over(turn, _came(order, found.on_ns, found.least_ns, found.most_ns, "keeper"))
    elif order is not None:
        turn.file(NoLightCame(light=order, why="keeper"))
    now_ns = event.greeting.at_ns
    turn.wait_until(now_ns + turn.state.habits.timing.wait_after_stop_ms * NS_PER_MS)
    turn.rest(now_ns)
