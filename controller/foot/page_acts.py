"""What the page may ask of the grammar. Each is refused with a sentence's key where the moment is not right."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeAlias

from controller.foot.effects import FileGesture, Refuse
from controller.foot.events import (
    Chosen,
    Event,
    SaidAssume,
    SaidClose,
    SaidFocus,
    SaidGiven,
    SaidLeaveOut,
    SaidMore,
    SaidNoLight,
    SaidStart,
)
from controller.foot.places import AskClose, AskGiven, AskWhite, Dark, Finished, Focus, Held, Ready
from controller.foot.sheet_changes import (
    add_burn,
    assume,
    call_given,
    close_sheet,
    leave_out,
    paper_away_first,
    strike_last,
)
from controller.foot.state import Work
from controller.foot.turn import Turn
from hardware.sounds import Cue

PageEvent: TypeAlias = (
    Chosen | SaidGiven | SaidLeaveOut | SaidMore | SaidNoLight | SaidClose | SaidAssume | SaidFocus | SaidStart
)


def said(turn: Turn, event: Event) -> None:
    """Do what was asked on a page, or refuse it."""
    match event:
        case Chosen():
            _choose(turn, event)
        case SaidFocus():
            _focus(turn, event.at_ns)
        case SaidStart():
            _start(turn, event.at_ns)
        case SaidGiven() | SaidLeaveOut() | SaidMore() | SaidNoLight() | SaidClose() | SaidAssume() if _dark_and_open(
            turn
        ):
            if turn.state.outstanding is None:
                _on_sheet(turn, event)
            else:  # what became of its last order is not yet known
                turn.do(Refuse("foot.wait"))
        case _:
            turn.do(Refuse("foot.not-now"))


def _dark_and_open(turn: Turn) -> bool:
    """Tell whether a sheet is open and nothing is lit or announced; a question is dropped."""
    place = turn.state.place
    return turn.state.sheet_open and isinstance(place, Dark | AskClose | AskGiven | AskWhite)


def _on_sheet(turn: Turn, event: PageEvent) -> None:
    work = turn.state.work
    assert work is not None
    finished = work.finished
    match event:
        case SaidGiven() if not finished:
            call_given(turn, "page", event.at_ns)
        case SaidLeaveOut() if not finished:
            leave_out(turn, event.at_ns)
        case SaidMore():
            add_burn(turn, event.step, event.at_ns)
        case SaidNoLight() if strike_last(turn, event.at_ns):
            pass
        case SaidAssume() if assume(turn, event.which, event.at_ns):
            pass
        case SaidClose():
            close_sheet(turn, "page", event.at_ns)
        case _:
            turn.do(Refuse("foot.nothing-to-do"))


def _choose(turn: Turn, event: Chosen) -> None:
    place = turn.state.place
    if turn.state.sheet_open:
        turn.do(Refuse("foot.sheet-open"))
        return
    if not isinstance(place, Dark | Focus | AskClose | AskGiven | AskWhite):
        turn.do(Refuse("foot.not-now"))
        return
    if turn.state.outstanding is not None and not isinstance(place, Focus):
        turn.do(Refuse("foot.wait"))
        return
    sheets = turn.state.sheets + 1
    work = None if event.plan is None else Work.fresh(sheets, event.plan)
    if work is not None and work.check:
        old = turn.state.work
        work = replace(work, aside=None if old is None else old.aside if old.check else old.plan)
    before = paper_away_first(turn.state, event.at_ns) if turn.state.check_begun else turn.state
    turn.state = replace(before, work=work, sheets=sheets)
    if not event.again:
        turn.say_filter("")
    if not isinstance(place, Focus):
        turn.rest(event.at_ns)


def _focus(turn: Turn, at_ns: int) -> None:
    place = turn.state.place
    if turn.state.sheet_open:
        turn.do(Refuse("foot.sheet-open"))
    elif turn.state.check_begun:
        turn.do(Refuse("lamp.check-begun"))
    elif not turn.state.habits.sounder:
        turn.do(Refuse("foot.no-sounder"))
    elif turn.state.lid_open:
        turn.do(Refuse("foot.box-open"))
    elif at_ns < turn.state.hold_from_ns:
        turn.do(Refuse("foot.paper-away-first"))
    elif not isinstance(place, Dark):
        turn.do(Refuse("foot.not-now"))
    else:
        turn.ask_white(at_ns, place)


def _start(turn: Turn, at_ns: int) -> None:
    place, work = turn.state.place, turn.state.work
    if not turn.state.habits.start_from_phone:
        turn.do(Refuse("foot.start-by-foot"))
    elif work is None or not isinstance(place, Ready | Held) or turn.state.outstanding is not None:
        turn.do(Refuse("foot.finished" if isinstance(place, Finished) else "foot.not-now"))
    elif turn.state.foot.down or at_ns < turn.state.wait_until_ns:
        turn.say(Cue.WAIT)
        turn.do(Refuse("foot.wait"))
    elif work.doubt(turn.state.habits.lag_ms) is not None:
        turn.do(Refuse("foot.doubt"))
    else:
        turn.do(FileGesture("press", at_ns))
        turn.begin_light(at_ns)
