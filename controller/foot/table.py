"""The foot-switch grammar: state + event → state + effects. Pure; its one table is `TABLE`.

States: nothing chosen · ready → lead-in → light → (gap →) next · held · set-up, hands asked, change filter → settling ·
finished · three questions · white-light warning → focus light · open after a restart · fault.
Light begins only at the end of a lead-in, a gap or a warning, and every foot-down ends it in the keeper itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from controller.foot import gestures as move
from controller.foot import keeper_events, page_acts, readings, room_light, trays, waits, wrong_light
from controller.foot.effects import Effect
from controller.foot.events import (
    Asked,
    Chosen,
    DayUsed,
    DoseTold,
    Event,
    FootWire,
    KeeperCame,
    KeeperWent,
    LevelWrong,
    SpotTold,
    StoreFailed,
    Tick,
    moment,
)
from controller.foot.places import (
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Focus,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    Light,
    NothingChosen,
    Place,
    Ready,
    Settling,
    SetUpAsked,
    Waiting,
    WhiteWarning,
    is_dark,
    is_question,
)
from controller.foot.state import Foot, State
from controller.foot.turn import Turn, easel_due_ns, place_due_ns
from controller.model import replace
from hardware.clock import NS_PER_MS, soonest
from hardware.sounds import Cue
from hardware.wire import (
    Cancelled,
    Dark,
    FootDown,
    FootHold,
    FootStuck,
    FootUp,
    Lid,
    Lit,
    Refused,
    RoomSwitched,
    Stopped,
)

Gesture = Literal["press", "hold", "double", "release", "by itself"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One cell of the table: what it does in words (for the docs), and the move that does it.

    A cell without a move does nothing of its own: the first contact of its gesture has led elsewhere already, and its
    words say what comes of the whole gesture.
    """

    words: str
    do: Callable[[Turn, int], None] | None


def decide(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """Return the next state and what is to be done, in order.

    Args:
        state: where the grammar stands.
        event: what was heard from keeper, page, store or clock; times are monotonic ns.

    Raises:
        Impossible: one more burn was asked for that cannot be given; nothing has changed.
    """
    turn = Turn(state)
    match event:
        case FootDown():
            _down(turn, event)
        case FootUp():
            _up(turn, event)
        case FootHold():
            _hold(turn, event)
        case Tick():
            _tick(turn, event.at_ns)
        case Lit() | Dark() | Cancelled() | Refused():
            keeper_events.heard_of_order(turn, event)
        case Stopped():
            keeper_events.page_stopped(turn, event)
        case FootStuck() if turn.state.place == Fault("wire"):
            pass  # the keeper says of a broken wire that the foot is stuck, too
        case FootStuck():
            turn.go(Fault("stuck"))
        case Lid():
            keeper_events.lid_moved(turn, event)
        case KeeperWent():
            keeper_events.keeper_went(turn)
        case KeeperCame():
            keeper_events.keeper_came(turn, event)
        case StoreFailed():
            keeper_events.store_failed(turn, event)
        case RoomSwitched():
            room_light.switched(turn, event)
        case FootWire():
            turn.go(Fault("wire"))
        case LevelWrong():
            wrong_light.judged(turn, event)
        case DoseTold():
            wrong_light.dosed(turn, event)
        case Asked():
            page_acts.asked(turn, event)
        case DayUsed():
            room_light.renew_day(turn, event.at_ns)
        case SpotTold():
            readings.told(turn, event)
        case Chosen():
            page_acts.choose(turn, event)
    if turn.state.work is not None and turn.state.work.ending:
        readings.end_if_asked(turn, event)
    if turn.state.lit_room:
        room_light.guard(turn, moment(event))
    if turn.state.wet:
        trays.speak(turn, state.place, moment(event))
    return settled(turn.state), tuple(turn.effects)


def settled(state: State) -> State:
    """Return the state with the moment at which it changes by itself."""
    due_ns = soonest((easel_due_ns(state), trays.due_ns(state) if state.wet else None))
    return state if due_ns == state.due_ns else replace(state, due_ns=due_ns)


# ---- gestures


def _down(turn: Turn, event: FootDown) -> None:
    while (due := easel_due_ns(turn.state)) is not None and event.first_ns >= due:
        _tick(turn, due)  # each in turn: a question that is over must not be answered, though the day face was first
    if turn.state.wet:
        trays.tick(turn, event.first_ns)
    foot = turn.state.foot
    timing = turn.state.habits.timing
    double = foot.released_ns is not None and event.first_ns - foot.released_ns < timing.double_ms * NS_PER_MS
    ended_step = event.lit != "" and not isinstance(turn.state.place, Focus) and turn.state.sheet_open
    spent = event.lit != "" and not ended_step
    turn.state = replace(
        turn.state,
        foot=Foot(event.seq, True, event.first_ns, double=double, ended_step=ended_step, spent=spent),
    )
    if turn.state.in_room_light(event.first_ns):
        room_light.pressed(turn, event)
        return
    if event.lit:  # the keeper has made it dark already: this press has done its work
        turn.file_gesture("press", event.first_ns)
        return
    if turn.state.prints and trays.pressed(turn, event.first_ns, double=double):
        return
    _apply(turn, "double" if double else "press", event.first_ns)


def _up(turn: Turn, event: FootUp) -> None:
    foot, place = turn.state.foot, turn.state.place
    short = not foot.held and event.opened_ns - foot.first_ns < turn.state.habits.timing.hold_ms * NS_PER_MS
    turn.state = replace(
        turn.state, foot=replace(foot, down=False, undo=None, released_ns=event.opened_ns if short else None)
    )
    if isinstance(place, Fault) and place.why in ("stuck", "wire"):
        turn.rest(event.at_ns)
    elif not foot.held and ((isinstance(place, Finished) and not foot.double) or is_question(place)):
        _apply(turn, "release", event.at_ns)


def _hold(turn: Turn, event: FootHold) -> None:
    foot = turn.state.foot
    if foot.held or event.seq != foot.seq:
        return
    turn.state = replace(turn.state, foot=replace(foot, held=True))
    turn.file_gesture("hold", event.first_ns)
    hold_ns = event.first_ns + turn.state.habits.timing.hold_ms * NS_PER_MS
    trays.hold_takes_back(turn, hold_ns)
    if turn.state.work is not None and turn.state.work.readings and not _answers(turn.state.place):
        readings.held(turn)
        return
    if foot.spent:
        return
    _undo(turn, hold_ns)
    if event.first_ns < turn.state.hold_from_ns:
        turn.say(Cue.NO)
        return
    place = turn.state.place
    if foot.ended_step and turn.state.sheet_open and is_dark(place):
        turn.ask_close(hold_ns, place)
        return
    _apply(turn, "hold", hold_ns)


def _answers(place: Place) -> bool:
    """Tell whether a hold means something of its own here, readings or not."""
    return isinstance(place, Fault) or is_question(place)


def _undo(turn: Turn, at_ns: int) -> None:
    """Take back what the held foot-down did: a lead-in, or the "it is in" of a filter."""
    undo, place = turn.state.foot.undo, turn.state.place
    if undo is None:
        return
    if isinstance(place, LeadIn):
        turn.take_back(place.order, turn.state.foot.first_ns)
        turn.go(undo)
    elif isinstance(place, Settling | Waiting):
        move.back_from_settling(turn, place, at_ns)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, undo=None))


def _apply(turn: Turn, gesture: Gesture, at_ns: int) -> None:
    rule = TABLE.get((type(turn.state.place), gesture))
    if rule is None:
        return
    if gesture in ("press", "double"):
        waits = gesture == "press" and at_ns < turn.state.wait_until_ns and type(turn.state.place) in _STARTS
        turn.file_gesture("wait" if waits else gesture, at_ns)
        if waits:
            turn.say(Cue.WAIT)
            return
    if rule.do is not None:
        rule.do(turn, at_ns)


def _cancel_then_double(turn: Turn, at_ns: int) -> None:
    """Take the announced light back, and do what a double does where things then stand."""
    move.cancel_lead_in(turn, at_ns)
    rule = TABLE[type(turn.state.place), "double"]
    assert rule.do is not None
    rule.do(turn, at_ns)


# ---- by itself


def _tick(turn: Turn, at_ns: int) -> None:
    room_light.tick(turn, at_ns)
    trays.tick(turn, at_ns)
    if (due := place_due_ns(turn.state)) is not None and at_ns >= due:
        _apply(turn, "by itself", due)


_STARTS: Final = frozenset({Ready, Held, SetUpAsked, ChangeFilter, HandsAsked, AfterRestart})
"""Where a press starts something, and so waits after a light."""

_SAY = Rule("say again", move.say_again)
_CLOSE_OR_WHITE = Rule(
    "sheet open: ask to close; none open: next tray, or where no print is in its way ask for white light",
    move.ask_close_or_white,
)
_LAPSE = Rule("readings at the easel: 60 s dark → over", readings.lapse)
_QUESTION: Final[dict[type[Place], str]] = {
    AskClose: "back to where it was; no light",
    AskGiven: "no → stopped",
    AskWhite: "no",
}

TABLE: Final[dict[tuple[type[Place], Gesture], Rule]] = {
    (NothingChosen, "press"): Rule("refused: “choose a recipe or strip”", move.no),
    (NothingChosen, "hold"): Rule("as ready", move.ask_close_or_white),
    (NothingChosen, "double"): _SAY,
    (Ready, "press"): Rule("lead-in", move.start),
    (Ready, "hold"): _CLOSE_OR_WHITE,
    (Ready, "double"): _SAY,
    (Ready, "by itself"): _LAPSE,
    (LeadIn, "press"): Rule("cancel", move.cancel_lead_in),
    (LeadIn, "hold"): Rule("cancel, then as ready or stopped", None),
    (LeadIn, "double"): Rule("cancel, then as ready or stopped", _cancel_then_double),
    (Light, "press"): Rule("dark at down → stopped (nothing missing: next step)", None),
    (Light, "hold"): Rule("dark at down, then ask to close", None),
    (Light, "double"): Rule("dark at down → stopped; the second press starts nothing and says what is left", None),
    (Gap, "press"): Rule("stopped before the next band", move.cancel_gap),
    (Gap, "hold"): Rule("stopped, ask to close", None),
    (Gap, "double"): Rule("stopped; the second press says what is left", None),
    (Held, "press"): Rule("lead-in, then the remainder", move.start),
    (Held, "hold"): Rule("ask to close; less than 1/12 stop short: ask “count it as done?”", move.ask_close_or_given),
    (Held, "double"): Rule("no light (the lead-in of its first press is cancelled); say what is left", move.say_left),
    (SetUpAsked, "press"): Rule("“it is set”: no light → settling", move.set_up_made),
    (SetUpAsked, "hold"): _CLOSE_OR_WHITE,
    (SetUpAsked, "double"): _SAY,
    (SetUpAsked, "by itself"): Rule("reminder after 20 s, then every 20 s", move.remind),
    (ChangeFilter, "press"): Rule("“it is in”: no light → settling", move.filter_in),
    (ChangeFilter, "hold"): _CLOSE_OR_WHITE,
    (ChangeFilter, "double"): _SAY,
    (ChangeFilter, "by itself"): Rule("reminder after 20 s, then every 20 s", move.remind),
    (HandsAsked, "press"): Rule("“done” → settling", move.hands_done),
    (HandsAsked, "hold"): _CLOSE_OR_WHITE,
    (HandsAsked, "double"): _SAY,
    (HandsAsked, "by itself"): Rule("reminder likewise", move.remind),
    (Settling, "press"): Rule("“wait”", move.wait),
    (Settling, "hold"): Rule("as ready", move.ask_close_or_white),
    (Settling, "double"): Rule("within 0.35 s of the “in”: undo it; else say again", move.settling_double),
    (Settling, "by itself"): Rule("3.0 s → ready or stopped", move.settled),
    (Waiting, "press"): Rule("“wait”: it goes on", move.wait),
    (Waiting, "hold"): Rule("ask to close; it goes on meanwhile", move.ask_close_or_white),
    (Waiting, "double"): Rule("within 0.35 s of its beginning: undo it; else say again", move.settling_double),
    (Waiting, "by itself"): Rule("over → cue; the next wait, or as ready", waits.over),
    (Finished, "press"): Rule("nothing until release", move.nothing),
    (Finished, "release"): Rule("“finished: hold to close”", move.no),
    (Finished, "hold"): Rule(
        "close → next sheet: begins with the filter that is in, or asks for the first", move.close
    ),
    (Finished, "double"): Rule("say the totals", move.say_again),
    (Finished, "by itself"): _LAPSE,
    (AskClose, "hold"): Rule("closed", move.answered_yes(move.close)),
    (AskGiven, "hold"): Rule("counts as done → next step", move.answered_yes(move.given)),
    (AskWhite, "hold"): Rule("(a new hold, begun after the question) warning", move.answered_yes(move.warn)),
    **{(ask, "release"): Rule(words, move.answered_no) for ask, words in _QUESTION.items()},
    **{(ask, "double"): Rule(f"{words}; then as there", None) for ask, words in _QUESTION.items()},
    **{(ask, "by itself"): Rule(f"5 s → {words}", move.back) for ask, words in _QUESTION.items()},
    (WhiteWarning, "press"): Rule("cancel", move.cancel_warning),
    (WhiteWarning, "hold"): Rule("cancel", None),
    (WhiteWarning, "double"): Rule("cancel, and say again", None),
    (Focus, "press"): Rule("dark, guard on", None),
    (Focus, "hold"): Rule("dark, guard on", None),
    (Focus, "double"): Rule("dark, guard on, and say again", None),
    (AfterRestart, "press"): Rule("says sheet, step, seconds done and to go → change filter", move.after_restart),
    (AfterRestart, "hold"): Rule("says that too, then asks to close", None),
    (AfterRestart, "double"): Rule("says that too, then says the filter again", None),
    (Fault, "press"): Rule("refused", move.no),
}
"""Every cell where a gesture does something. `tests` hold the documented table equal to this one."""
