"""The moves of the foot-switch table, one a cell's words.

Each takes the turn and `at_ns`: the first contact of a press, a hold's own moment, or when a release was known.
"""

from __future__ import annotations

from collections.abc import Callable

from controller.exposure import lag
from controller.foot import trays, waits
from controller.foot.asks import NOTHING_ASKED, answered, ask_cue, next_ask
from controller.foot.places import (
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    NothingChosen,
    Ready,
    Settling,
    SetUpAsked,
    ToBeDone,
    Waiting,
    WhiteWarning,
    is_dark,
)
from controller.foot.sheet_changes import call_given, close_sheet, make_set_up, stand
from controller.foot.state import TWELFTH, State
from controller.foot.turn import CUE_AFTER_MS, Turn, filter_cue, wants_hands
from controller.model import replace
from controller.store.said_of_sheets import HandsDone
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue


def nothing(_turn: Turn, _at_ns: int) -> None:
    """Leave everything as it is."""


def no(turn: Turn, _at_ns: int) -> None:
    """Refuse, with a sound."""
    turn.say(Cue.NO)


def wait(turn: Turn, _at_ns: int) -> None:
    """Say that it is too soon."""
    turn.say(Cue.WAIT)


def start(turn: Turn, at_ns: int) -> None:
    """Begin the lead-in of the present step's light, or of its remainder."""
    place, work = turn.state.place, turn.state.loaded
    assert isinstance(place, Ready | Held)
    if turn.state.outstanding is not None or turn.state.light_waits:
        turn.say(Cue.WAIT)
    elif work.doubt(turn.state.habits.lag_ms) is not None:
        turn.say(Cue.NO)
    else:
        turn.state = replace(turn.state, foot=replace(turn.state.foot, undo=place))
        turn.begin_light(at_ns)


def cancel_lead_in(turn: Turn, at_ns: int) -> None:
    """Take the announced light back."""
    place = turn.state.place
    assert isinstance(place, LeadIn)
    turn.take_back(place.order, at_ns)
    turn.say(Cue.STOPPED)
    turn.rest(at_ns)


def cancel_gap(turn: Turn, at_ns: int) -> None:
    """Stand held before the next band."""
    place = turn.state.place
    assert isinstance(place, Gap)
    turn.take_back(place.order, at_ns)
    turn.say(Cue.STOPPED)
    turn.go(Held())


def cancel_warning(turn: Turn, at_ns: int) -> None:
    """Take the announced white light back."""
    place = turn.state.place
    assert isinstance(place, WhiteWarning)
    turn.take_back(place.order, at_ns)
    turn.state = replace(turn.state, foot=replace(turn.state.foot, spent=True))
    turn.say(Cue.DARK)
    turn.rest(at_ns)


def say_again(turn: Turn, _at_ns: int) -> None:
    """Sound the step's number in short beats, then its family."""
    work = turn.state.work
    match turn.state.place:
        case NothingChosen() | Fault():
            turn.say(Cue.NO)
        case _ if work is None:
            turn.say(Cue.NO)
        case Finished():
            turn.say(Cue.DONE, len(work.steps))
        case SetUpAsked():
            turn.say(Cue.HANDS)  # no step's number: it is the whole sheet's
        case ChangeFilter() | Settling():
            turn.say(filter_cue(work.step.filter), work.step.number)
        case HandsAsked() | Waiting() if next_ask(work) is None and work.wait is not None:
            turn.say(Cue.MOVE_CARD, work.waited + 1)
        case HandsAsked():
            turn.say(ask_cue(work), len(work.steps) if work.finished else work.step.number)
        case _:
            turn.say(Cue.HANDS if wants_hands(work.step) else Cue.LEAD_IN, work.step.number)


def say_left(turn: Turn, _at_ns: int) -> None:
    """Sound the seconds of light that the held step still wants, a beat each, and that it is stopped."""
    work = turn.state.loaded
    step, lag_ms = work.step, turn.state.habits.lag_ms
    left_ns = lag.nominal_ns(work.missing_ns(lag_ms), step.base_ms, lag_ms)
    turn.say(Cue.STOPPED, -(-left_ns // (1000 * NS_PER_MS)))


def ask_close_or_white(turn: Turn, at_ns: int) -> None:
    """Ask to close the open sheet; with none open bring on the print that keeps white light away, or ask for that."""
    place = turn.state.place
    assert is_dark(place)
    if turn.state.sheet_open or turn.state.check_begun:
        turn.ask_close(at_ns, place)
    elif at_ns < turn.state.white_from_ns:
        trays.held(turn, at_ns)
    elif turn.state.habits.lid_single_hold and turn.state.lid_open is False and turn.state.habits.sounder:
        turn.begin_warning(at_ns - turn.state.habits.timing.hold_ms * NS_PER_MS, place)
    else:
        turn.ask_white(at_ns, place)


def ask_close_or_given(turn: Turn, at_ns: int) -> None:
    """Ask to close, or to call the step given where it is nearly so."""
    place = turn.state.place
    assert isinstance(place, Held)
    if not turn.state.sheet_open:
        ask_close_or_white(turn, at_ns)
    elif nearly_given(turn.state):
        turn.ask_given(at_ns, place)
    else:
        turn.ask_close(at_ns, place)


def nearly_given(state: State) -> bool:
    """Tell whether the held step is less than 1/12 stop short: given ≥ plan · 2^(−1/12)."""
    work = state.loaded
    given = work.given[work.index].most_ns
    return given > 0 and work.missing_ns(state.habits.lag_ms) <= TWELFTH * (
        work.missing_ns(state.habits.lag_ms) + given
    )


def set_up_made(turn: Turn, at_ns: int) -> None:
    """Hold that the set-up is made, and let the hands come back."""
    place = turn.state.place
    assert isinstance(place, SetUpAsked)
    settle(turn, at_ns, place)
    make_set_up(turn)


def filter_in(turn: Turn, at_ns: int) -> None:
    """Hold that the wanted filter is in, and let the hands come back."""
    place, work = turn.state.place, turn.state.loaded
    assert isinstance(place, ChangeFilter)
    settle(turn, at_ns, place)
    turn.say_filter(work.step.filter)


def hands_done(turn: Turn, at_ns: int) -> None:
    """Hold that the hands have done what was asked."""
    place, work = turn.state.place, turn.state.loaded
    assert isinstance(place, HandsAsked)
    if work.wait is not None:
        waits.begin(turn, at_ns, place)
        return
    settle(turn, at_ns, place)
    _file_hands(turn, at_ns)
    turn.state = replace(turn.state, work=replace(work, asked=answered(work)))


def _file_hands(turn: Turn, at_ns: int, *, undone: bool = False) -> None:
    """Have it filed that what is asked now was done; of a flash's hands the plan says enough."""
    work = turn.state.loaded
    if (ask := next_ask(work)) is not None:
        step = 0 if work.finished else work.step.number
        turn.file(HandsDone(sheet=work.sheet, step=step, ask=ask, at_ns=at_ns, undone=undone))


def settle(turn: Turn, at_ns: int, undo: ToBeDone) -> None:
    """Settle for a moment, with a way back to `undo`."""
    until = at_ns + turn.state.habits.timing.settle_ms * NS_PER_MS
    foot, work = turn.state.foot, turn.state.work
    stood = (turn.state.bench, turn.state.set_up) if isinstance(undo, SetUpAsked) else None
    asked = work.asked if work is not None else NOTHING_ASKED
    turn.go(Settling(until, foot.seq, undo, turn.state.filter_in, stood, asked))
    stop_down = turn.state.stop_down and not isinstance(undo, ChangeFilter)
    turn.state = replace(turn.state, foot=replace(foot, undo=undo), stop_down=stop_down)
    turn.say(Cue.TICK)


def settling_double(turn: Turn, at_ns: int) -> None:
    """Undo the “it is in”, or a wait, where the double followed it at once; else say again."""
    place = turn.state.place
    assert isinstance(place, Settling | Waiting)
    if turn.state.foot.seq == place.seq + 1:
        turn.say(Cue.STOPPED)
        back_from_settling(turn, place, at_ns)
    else:
        say_again(turn, at_ns)


def back_from_settling(turn: Turn, place: Settling | Waiting, at_ns: int) -> None:
    """Take the “it is in” or “done” back, or the wait that was begun."""
    if isinstance(place, Waiting):
        waits.take_back(turn, place, at_ns)
        return
    if place.stood is not None:
        stand(turn, *place.stood)
    elif isinstance(place.undo, ChangeFilter):
        turn.say_filter(place.filter_before)
    elif turn.state.work is not None:
        turn.state = replace(turn.state, work=replace(turn.state.work, asked=place.asked_before))
        _file_hands(turn, at_ns, undone=True)
    turn.go(replace(place.undo, remind_ns=at_ns + CUE_AFTER_MS * NS_PER_MS))


def close(turn: Turn, at_ns: int) -> None:
    """Close the sheet."""
    close_sheet(turn, "foot", at_ns)


def given(turn: Turn, at_ns: int) -> None:
    """Call the held step given."""
    call_given(turn, "foot", at_ns)


def back(turn: Turn, at_ns: int) -> None:
    """Go back from a question to where things were."""
    place = turn.state.place
    assert isinstance(place, AskClose | AskGiven | AskWhite)
    turn.rest(at_ns)
    if isinstance(place.back, Held | AfterRestart | Settling | Waiting):
        turn.go(place.back)


def answered_no(turn: Turn, at_ns: int) -> None:
    """Take a release as no, but not the release of the very hold that asked."""
    place = turn.state.place
    assert isinstance(place, AskClose | AskGiven | AskWhite)
    if turn.state.foot.seq == place.seq:
        return
    turn.say(Cue.NO)
    back(turn, at_ns)


def answered_yes(yes: Callable[[Turn, int], None]) -> Callable[[Turn, int], None]:
    """Return a move that does `yes` at a hold of its own, begun after the question."""

    def move(turn: Turn, at_ns: int) -> None:
        place = turn.state.place
        assert isinstance(place, AskClose | AskGiven | AskWhite)
        asked_ns = place.until_ns - turn.state.habits.timing.question_ms * NS_PER_MS
        # a page may ask when the contact has closed already and is not yet known to be down
        if turn.state.foot.seq != place.seq and turn.state.foot.first_ns >= asked_ns:
            yes(turn, at_ns)

    return move


def warn(turn: Turn, at_ns: int) -> None:
    """Announce white light."""
    place = turn.state.place
    assert isinstance(place, AskWhite)
    if at_ns < turn.state.white_from_ns:
        turn.say(Cue.NO)
        turn.rest(at_ns)
    elif turn.state.outstanding is not None:
        turn.say(Cue.WAIT)
    else:
        turn.begin_warning(at_ns - turn.state.habits.timing.hold_ms * NS_PER_MS, place.back)


def after_restart(turn: Turn, at_ns: int) -> None:
    """Say where the sheet stands, and ask for its filter."""
    say_again(turn, at_ns)
    turn.rest(at_ns)


def remind(turn: Turn, at_ns: int) -> None:
    """Say again what the hands or the filter drawer are asked for."""
    place, work = turn.state.place, turn.state.loaded
    assert isinstance(place, ToBeDone)
    if turn.state.prints and trays.awaited(turn.state) is not None:
        pass  # the next press is a print's: nothing else is asked for before it
    elif isinstance(place, SetUpAsked):
        turn.say(Cue.HANDS)
    elif isinstance(place, ChangeFilter):
        turn.say(filter_cue(work.step.filter))
    elif next_ask(work) is None and work.wait is not None:
        turn.say(Cue.MOVE_CARD)
    else:
        turn.say(ask_cue(work))
    turn.go(replace(place, remind_ns=at_ns + turn.state.habits.timing.reminder_ms * NS_PER_MS))


def settled(turn: Turn, at_ns: int) -> None:
    """Be ready: the hands are back."""
    turn.wait_until(at_ns)
    turn.rest(at_ns)
