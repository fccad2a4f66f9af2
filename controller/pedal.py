"""The foot-switch grammar: state + event → state + effects. Pure; its one table is `TABLE`.

States: nothing chosen · ready → lead-in → light → (gap →) next · held · change filter, hands asked → settling ·
finished · three questions · white-light warning → focus light · open after a restart · fault.
Light begins only at the end of a lead-in, a gap or a warning, and every foot-down ends it in the keeper itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeGuard

from controller import page_moves
from controller.effects import (
    Effect,
    Event,
    FileGesture,
    Its,
    KeeperCame,
    KeeperWent,
    StoreFailed,
    Tick,
)
from controller.keeper_moves import heard, keeper_came, keeper_went, lid_moved, page_stopped, store_failed
from controller.lights import wants_hands
from controller.sheet_moves import call_given, close_sheet
from controller.standing import (
    NS,
    TWELFTH,
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Dark,
    Fault,
    Finished,
    Focus,
    Foot,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    Light,
    NothingChosen,
    Place,
    Ready,
    Settling,
    State,
    WhiteWarning,
)
from controller.turn import Turn, filter_cue, hands_after
from hardware.sounds import Cue
from hardware.wire import FootDown, FootHold, FootStuck, FootUp, Lid, Stopped

Gesture = Literal["press", "hold", "double", "release", "by itself"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One cell of the table: what it does in words (for the docs), and the move that does it."""

    words: str
    move: Callable[[Turn, int], None]


def decide(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """Return the next state and what is to be done, in order.

    Args:
        state: where the grammar stands.
        event: what was heard from keeper, page, store or clock; times are monotonic ns.
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
        case Its():
            heard(turn, event.order, event.word)
        case Stopped():
            page_stopped(turn, event)
        case FootStuck():
            turn.go(Fault("stuck"))
        case Lid():
            lid_moved(turn, event)
        case KeeperWent():
            keeper_went(turn)
        case KeeperCame():
            keeper_came(turn, event)
        case StoreFailed():
            store_failed(turn, event)
        case _:
            page_moves.said(turn, event)
    turn.state = replace(turn.state, due_ns=_due_ns(turn.state))
    return turn.state, tuple(turn.effects)


# ---- gestures


def _down(turn: Turn, event: FootDown) -> None:
    due = turn.state.due_ns
    if due is not None and event.first_ns >= due:
        _tick(turn, due)
    foot = turn.state.foot
    timing = turn.state.habits.timing
    double = foot.released_ns is not None and event.first_ns - foot.released_ns < timing.double_ms * NS
    ended_step = event.lit != "" and not isinstance(turn.state.place, Focus) and turn.state.sheet_open
    spent = event.lit != "" and not ended_step
    turn.state = replace(
        turn.state,
        foot=Foot(event.seq, True, event.first_ns, double=double, ended_step=ended_step, spent=spent),
    )
    if event.lit:  # the keeper has made it dark already: this press has done its work
        turn.do(FileGesture("press", event.first_ns))
        return
    _apply(turn, "double" if double else "press", event.first_ns)


def _up(turn: Turn, event: FootUp) -> None:
    foot, place = turn.state.foot, turn.state.place
    short = not foot.held and event.opened_ns - foot.first_ns < turn.state.habits.timing.hold_ms * NS
    turn.state = replace(
        turn.state, foot=replace(foot, down=False, undo=None, released_ns=event.opened_ns if short else None)
    )
    if isinstance(place, Fault) and place.why == "stuck":
        turn.rest(event.at_ns)
    elif not foot.held and (isinstance(place, Finished) or _is_question(place)):
        _apply(turn, "release", event.at_ns)


def _hold(turn: Turn, event: FootHold) -> None:
    foot = turn.state.foot
    if foot.held or event.seq != foot.seq:
        return
    turn.state = replace(turn.state, foot=replace(foot, held=True))
    turn.do(FileGesture("hold", event.first_ns))
    if foot.spent:
        return
    if event.first_ns < turn.state.hold_from_ns:
        turn.say(Cue.NO)
        return
    hold_ns = event.first_ns + turn.state.habits.timing.hold_ms * NS
    place = turn.state.place
    if foot.ended_step and turn.state.sheet_open and _is_dark(place):
        turn.ask_close(hold_ns, place)
        return
    _undo(turn, hold_ns)
    _apply(turn, "hold", hold_ns)


def _undo(turn: Turn, at_ns: int) -> None:
    """Take back what the held foot-down did: a lead-in, or the "it is in" of a filter."""
    undo, place = turn.state.foot.undo, turn.state.place
    if undo is None:
        return
    if isinstance(place, LeadIn):
        turn.take_back(place.order, turn.state.foot.first_ns)
        turn.go(undo)
    elif isinstance(place, Settling):
        _back_from_settling(turn, place, at_ns)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, undo=None))


def _apply(turn: Turn, gesture: Gesture, at_ns: int) -> None:
    rule = TABLE.get((type(turn.state.place), gesture))
    if rule is None:
        return
    if gesture in ("press", "double"):
        waits = gesture == "press" and at_ns < turn.state.wait_until_ns and type(turn.state.place) in _STARTS
        turn.do(FileGesture("wait" if waits else gesture, at_ns))
        if waits:
            turn.say(Cue.WAIT)
            return
    rule.move(turn, at_ns)


# ---- moves of the table (at_ns: first contact of a press, the hold's own moment, a release's knowing)


def _nothing(_turn: Turn, _at_ns: int) -> None:
    """Leave everything as it is."""


def _no(turn: Turn, _at_ns: int) -> None:
    turn.say(Cue.NO)


def _wait(turn: Turn, _at_ns: int) -> None:
    turn.say(Cue.WAIT)


def _start(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    assert isinstance(place, Ready | Held)
    assert work is not None
    if turn.state.outstanding is not None:
        turn.say(Cue.WAIT)
    elif work.doubt(turn.state.habits.lag_ms) is not None:
        turn.say(Cue.NO)
    else:
        turn.state = replace(turn.state, foot=replace(turn.state.foot, undo=place))
        turn.begin_light(at_ns)


def _cancel_lead_in(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, LeadIn)
    turn.take_back(place.order, at_ns)
    turn.say(Cue.STOPPED)
    turn.rest(at_ns)


def _cancel_gap(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, Gap)
    turn.take_back(place.order, at_ns)
    turn.say(Cue.STOPPED)
    turn.go(Held())


def _cancel_warning(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, WhiteWarning)
    turn.take_back(place.order, at_ns)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, spent=True))
    turn.say(Cue.DARK)
    turn.rest(at_ns)


def _then_say_again(cancel: Callable[[Turn, int], None]) -> Callable[[Turn, int], None]:
    def move(turn: Turn, at_ns: int) -> None:
        cancel(turn, at_ns)
        _say_again(turn, at_ns)

    return move


def _say_again(turn: Turn, _at_ns: int) -> None:
    """Sound the step's number in short beats, then its family."""
    work = turn.state.work
    match turn.state.place:
        case NothingChosen() | Fault():
            turn.say(Cue.NO)
        case _ if work is None:
            turn.say(Cue.NO)
        case Finished():
            turn.say(Cue.DONE, len(work.steps))
        case ChangeFilter() | Settling():
            turn.say(filter_cue(work.step.filter), work.step.number)
        case HandsAsked() if work.step.hands is not None:
            turn.say(hands_after(work.step.hands), work.step.number)
        case _:
            turn.say(Cue.HANDS if wants_hands(work.step) else Cue.LEAD_IN, work.step.number)


def _ask_close_or_white(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert _is_dark(place)
    if turn.state.sheet_open:
        turn.ask_close(at_ns, place)
    elif turn.state.habits.lid_single_hold and turn.state.lid_open is False and turn.state.habits.sounder:
        turn.begin_warning(at_ns - turn.state.habits.timing.hold_ms * NS, place)
    else:
        turn.ask_white(at_ns, place)


def _ask_close_or_given(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    assert isinstance(place, Held)
    assert work is not None
    if not turn.state.sheet_open:
        _ask_close_or_white(turn, at_ns)
    elif _nearly_given(turn.state):
        turn.ask_given(at_ns, place)
    else:
        turn.ask_close(at_ns, place)


def _nearly_given(state: State) -> bool:
    """Tell whether the held step is less than 1/12 stop short: given ≥ plan · 2^(−1/12)."""
    work = state.work
    assert work is not None
    given = work.given[work.index].most_ns
    return given > 0 and work.missing_ns(state.habits.lag_ms) <= TWELFTH * (
        work.missing_ns(state.habits.lag_ms) + given
    )


def _filter_in(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    assert isinstance(place, ChangeFilter)
    assert work is not None
    _settle(turn, at_ns, place)
    turn.say_filter(work.step.filter)


def _hands_done(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    assert isinstance(place, HandsAsked)
    assert work is not None
    _settle(turn, at_ns, place)
    turn.state = replace(turn.state, work=replace(work, hands_done=True))


def _settle(turn: Turn, at_ns: int, undo: ChangeFilter | HandsAsked) -> None:
    until = at_ns + turn.state.habits.timing.settle_ms * NS
    foot = turn.state.foot
    turn.go(Settling(until, foot.seq, undo, turn.state.filter_in))
    turn.state = replace(turn.state, foot=replace(foot, undo=undo), stop_down=False)
    turn.say(Cue.TICK)


def _settling_double(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, Settling)
    if turn.state.foot.seq == place.seq + 1:
        turn.say(Cue.STOPPED)
        _back_from_settling(turn, place, at_ns)
    else:
        _say_again(turn, at_ns)


def _back_from_settling(turn: Turn, place: Settling, at_ns: int) -> None:
    if isinstance(place.undo, ChangeFilter):
        turn.say_filter(place.filter_before)
    elif turn.state.work is not None:
        turn.state = replace(turn.state, work=replace(turn.state.work, hands_done=False))
    turn.go(replace(place.undo, remind_ns=at_ns + turn.state.habits.timing.reminder_ms * NS))


def _close(turn: Turn, at_ns: int) -> None:
    close_sheet(turn, "foot", at_ns)


def _given(turn: Turn, at_ns: int) -> None:
    call_given(turn, "foot", at_ns)


def _back(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, AskClose | AskGiven | AskWhite)
    turn.rest(at_ns)
    if isinstance(place.back, Held | AfterRestart | Settling):
        turn.go(place.back)


def _answered_no(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, AskClose | AskGiven | AskWhite)
    if turn.state.foot.seq == place.seq:
        return  # the release of the very hold that asked
    turn.say(Cue.NO)
    _back(turn, at_ns)


def _answered_yes(yes: Callable[[Turn, int], None]) -> Callable[[Turn, int], None]:
    def move(turn: Turn, at_ns: int) -> None:
        place = turn.state.place
        assert isinstance(place, AskClose | AskGiven | AskWhite)
        if turn.state.foot.seq != place.seq:
            yes(turn, at_ns)

    return move


def _warn(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    assert isinstance(place, AskWhite)
    if turn.state.outstanding is not None:
        turn.say(Cue.WAIT)
    else:
        turn.begin_warning(at_ns - turn.state.habits.timing.hold_ms * NS, place.back)


def _after_restart(turn: Turn, at_ns: int) -> None:
    _say_again(turn, at_ns)
    turn.rest(at_ns)


def _remind(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    assert work is not None
    assert isinstance(place, ChangeFilter | HandsAsked)
    if isinstance(place, ChangeFilter):
        turn.say(filter_cue(work.step.filter))
    elif work.step.hands is not None:
        turn.say(hands_after(work.step.hands))
    turn.go(replace(place, remind_ns=at_ns + turn.state.habits.timing.reminder_ms * NS))


def _settled(turn: Turn, at_ns: int) -> None:
    turn.wait_until(at_ns)
    turn.rest(at_ns)


# ---- by itself


def _tick(turn: Turn, at_ns: int) -> None:
    due = _due_ns(turn.state)
    if due is not None and at_ns >= due:
        _apply(turn, "by itself", due)


def _due_ns(state: State) -> int | None:
    place = state.place
    match place:
        case ChangeFilter() | HandsAsked():
            return place.remind_ns
        case Settling():
            return place.until_ns
        case AskClose() | AskGiven() | AskWhite():
            if state.foot.down and state.foot.seq != place.seq:
                return None  # a contact that closed in time stops the clock until it is read
            return place.until_ns + state.habits.timing.down_window_ms * NS
        case _:
            return None


def _is_question(place: Place) -> bool:
    return isinstance(place, AskClose | AskGiven | AskWhite)


def _is_dark(place: Place) -> TypeGuard[Dark]:
    return isinstance(place, Dark)


_STARTS: Final = frozenset({Ready, Held, ChangeFilter, HandsAsked, AfterRestart})
"""Where a press starts something, and so waits after a light."""

_SAY = Rule("say again", _say_again)
_CLOSE_OR_WHITE = Rule("sheet open: ask to close; none open: ask for white light", _ask_close_or_white)
_QUESTION: Final[dict[type[Place], str]] = {
    AskClose: "back to where it was; no light",
    AskGiven: "no → held",
    AskWhite: "no",
}

TABLE: Final[dict[tuple[type[Place], Gesture], Rule]] = {
    (NothingChosen, "press"): Rule("refused: “choose on the page”", _no),
    (NothingChosen, "hold"): Rule("ask for white light", _ask_close_or_white),
    (NothingChosen, "double"): _SAY,
    (Ready, "press"): Rule("lead-in", _start),
    (Ready, "hold"): _CLOSE_OR_WHITE,
    (Ready, "double"): _SAY,
    (LeadIn, "press"): Rule("cancel", _cancel_lead_in),
    (LeadIn, "hold"): Rule("cancel, then as ready", _nothing),
    (LeadIn, "double"): Rule("cancel, and say again", _then_say_again(_cancel_lead_in)),
    (Light, "press"): Rule("dark at down → held (nothing missing: next step)", _nothing),
    (Light, "hold"): Rule("dark at down, then ask to close", _nothing),
    (Light, "double"): Rule("dark; the second press starts nothing", _nothing),
    (Gap, "press"): Rule("held before the next band", _cancel_gap),
    (Gap, "hold"): Rule("held, ask to close", _nothing),
    (Gap, "double"): Rule("held, and say again", _then_say_again(_cancel_gap)),
    (Held, "press"): Rule("lead-in, then the remainder", _start),
    (Held, "hold"): Rule("ask to close; less than 1/12 stop short: ask “call it given?”", _ask_close_or_given),
    (Held, "double"): Rule("say what is left", _say_again),
    (ChangeFilter, "press"): Rule("“it is in”: no light → settling", _filter_in),
    (ChangeFilter, "hold"): _CLOSE_OR_WHITE,
    (ChangeFilter, "double"): _SAY,
    (ChangeFilter, "by itself"): Rule("reminder after 20 s, then every 20 s", _remind),
    (HandsAsked, "press"): Rule("“done” → settling", _hands_done),
    (HandsAsked, "hold"): _CLOSE_OR_WHITE,
    (HandsAsked, "double"): _SAY,
    (HandsAsked, "by itself"): Rule("reminder likewise", _remind),
    (Settling, "press"): Rule("“wait”", _wait),
    (Settling, "hold"): Rule("as ready", _ask_close_or_white),
    (Settling, "double"): Rule("within 0.35 s of the “in”: undo it; else say again", _settling_double),
    (Settling, "by itself"): Rule("3.0 s → ready or held", _settled),
    (Finished, "press"): Rule("nothing until release", _nothing),
    (Finished, "release"): Rule("“finished: hold to close”", _no),
    (Finished, "hold"): Rule("close → next sheet; asks for the first filter if another is in", _close),
    (Finished, "double"): Rule("say the totals", _say_again),
    (AskClose, "hold"): Rule("closed", _answered_yes(_close)),
    (AskGiven, "hold"): Rule("given as it is → next step", _answered_yes(_given)),
    (AskWhite, "hold"): Rule("(a new hold, begun after the question) warning", _answered_yes(_warn)),
    **{(ask, "release"): Rule(words, _answered_no) for ask, words in _QUESTION.items()},
    **{(ask, "double"): Rule(words, _nothing) for ask, words in _QUESTION.items()},
    **{(ask, "by itself"): Rule(f"5 s → {words}", _back) for ask, words in _QUESTION.items()},
    (WhiteWarning, "press"): Rule("cancel", _cancel_warning),
    (WhiteWarning, "hold"): Rule("cancel", _nothing),
    (WhiteWarning, "double"): Rule("cancel", _cancel_warning),
    (Focus, "press"): Rule("dark, guard on", _nothing),
    (Focus, "hold"): Rule("dark, guard on", _nothing),
    (Focus, "double"): Rule("dark", _nothing),
    (AfterRestart, "press"): Rule("says sheet, step, given, missing → change filter", _after_restart),
    (AfterRestart, "hold"): Rule("ask to close", _ask_close_or_white),
    (AfterRestart, "double"): _SAY,
    (Fault, "press"): Rule("refused", _no),
}
"""Every cell where a gesture does something. `tests` hold the documented table equal to this one."""
