"""What becomes of a sheet once it is closed: its way through the trays, and the guard until it has been in the fix.

A press that a print waits for is read here before the easel reads it, but never with a light announced or a sheet open.
Trays go on by themselves; what they sound waits while a light is on or announced.
"""

from __future__ import annotations

from typing import Final, Literal

from controller.foot.effects import Effect
from controller.foot.places import Focus, Gap, LeadIn, Light, Place, WhiteWarning, is_dark
from controller.foot.state import Habits, State, TrayPress, Work
from controller.foot.turn import CUE_AFTER_MS, Turn
from controller.model import replace
from controller.store.tray_rows import TrayEntered
from controller.trays import journey
from controller.trays.journey import WAITS_NS, Print
from controller.trays.process import USUAL, TrayName, process_for_plan
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.wire import Sound

HOLD_AGAIN_MS: Final = 10_000
"""A hold brings a print into its next tray at most once in so long: two in a row were meant for something else."""
OF_WHITE: Final = 0
"""In `State.tray_cues`, the number of no print: of white light."""

_By = Literal["time", "foot", "hold", "page"]


# ---- what a close begins


def begin(turn: Turn, work: Work, number: int, by: Literal["foot", "page"], at_ns: int) -> None:
    """Follow the sheet that has just been closed, or where trays are not followed have white light wait by time."""
    habits = turn.state.habits
    if not habits.trays:
        turn.state = by_time(turn.state, at_ns)
        return
    process = process_for_plan(work.plan, habits.processes)
    lit_ns = at_ns if work.lit_ns is None else work.lit_ns
    new = journey.closed(work.sheet, number, process, at_ns, lit_ns=lit_ns, hurry=habits.hurry)
    turn.state = replace(turn.state, prints=(*turn.state.prints, new))
    _file(turn, new, new.tray.name, at_ns, by="hold" if by == "foot" else "page")
    _guard(turn, at_ns)


def by_time(state: State, at_ns: int) -> State:
    """Return the state in which paper that nobody follows has just gone to the trays: white light waits by time."""
    habits = state.habits
    if not habits.trays and not habits.guard_without_trays:
        return replace(state, room_from_ns=at_ns + habits.room_after_close_ms * NS_PER_MS)
    return waits_until(state, at_ns + unfollowed_ns(habits))


def unfollowed_ns(habits: Habits) -> int:
    """Return how long after its close a print that nobody follows keeps white light away."""
    guards = [journey.guard_ms(process) for process in habits.processes.values()] if habits.trays else []
    return max(habits.room_after_close_ms, *guards, 0) * NS_PER_MS // habits.hurry


def waits_until(state: State, until_ns: int) -> State:
    """Return the state in which white light of any kind waits at least until then."""
    floor_ns = max(state.white_floor_ns, until_ns)
    return replace(
        state,
        white_from_ns=max(state.white_from_ns, floor_ns),
        white_floor_ns=floor_ns,
        room_from_ns=max(state.room_from_ns, until_ns),
        room_floor_ns=max(state.room_floor_ns, until_ns),
    )


def none_there(turn: Turn, at_ns: int) -> None:
    """Take the printer's word that no paper lies in the trays: white light waits for none, and none is followed."""
    confirm(turn)
    state = turn.state
    for print_ in state.prints:
        _file(turn, print_, "", at_ns, by="page")
    if not state.prints:  # nobody followed what lies there
        turn.file(TrayEntered(sheet=state.closed_sheet, number=state.closed_number, tray="", at_ns=at_ns, by="page"))
    turn.state = replace(
        state,
        prints=(),
        white_from_ns=0,
        white_floor_ns=0,
        room_from_ns=0,
        room_floor_ns=0,
        tray_press=None,
        tray_hold_ns=0,
        tray_cues=(),
    )


# ---- what a foot means to a print


def awaited(state: State) -> Print | None:
    """Return the print that the next press is for, where no sheet is open; None where the easel reads it."""
    if state.sheet_open or not is_dark(state.place):
        return None
    return next((print_ for print_ in reversed(state.prints) if print_.asked), None)


def pressed(turn: Turn, first_ns: int, *, double: bool) -> bool:
    """Read a foot-down, first contact at `first_ns`; return whether it was a print's, and so is nobody else's."""
    state = turn.state
    taken = state.tray_press
    if double and taken is not None and taken.seq == state.foot.seq - 1 and not state.sheet_open:
        _take_back(turn, taken, first_ns)
        turn.say(Cue.TRAY_ASK)
        return True
    print_ = awaited(state)
    if print_ is None or double:
        return False
    confirm(turn)
    after = journey.pressed(print_, first_ns)
    if after is None:
        turn.say(Cue.NO)
        return True
    row = None
    if after.at != print_.at:
        row = _row(print_, after.tray.name, first_ns, by="foot", before_ms=print_.process_ms(first_ns))
    _put(turn, print_, after)
    timing = state.habits.timing
    until_ns = first_ns + (timing.hold_ms + timing.double_ms + timing.down_window_ms) * NS_PER_MS
    turn.state = replace(turn.state, tray_press=TrayPress(state.foot.seq, print_, after.at, row, until_ns))
    _hush(turn, print_)
    turn.say(Cue.TRAY_IN)
    _guard(turn, first_ns)
    return True


def hold_takes_back(turn: Turn, at_ns: int) -> None:
    """Take back the press of the foot-down that has become a hold."""
    taken = turn.state.tray_press
    if taken is not None and taken.seq == turn.state.foot.seq:
        _take_back(turn, taken, at_ns)


def _take_back(turn: Turn, taken: TrayPress, at_ns: int) -> None:
    before = taken.before
    now = next((print_ for print_ in turn.state.prints if print_.sheet == before.sheet), None)
    turn.state = replace(turn.state, tray_press=None)
    if now is None or now.at != taken.at:
        return  # it has gone on by itself
    if now.at != before.at and taken.row is None:  # a busy runner hears of it late: its row is filed already
        turn.file(_row(before, before.tray.name, before.entered_ns, by="foot", before_ms=0))
    # what was planned is never sooner for it, and the press is asked for anew, not given up at once
    before = replace(before, planned_fix_ns=max(before.planned_fix_ns, now.planned_fix_ns))
    _put(turn, now, before)
    _guard(turn, at_ns)


def confirm(turn: Turn) -> None:
    """File what a press has said of a print: it is not taken back any more."""
    taken = turn.state.tray_press
    if taken is not None and taken.row is not None:
        turn.file(taken.row)
        turn.state = replace(turn.state, tray_press=replace(taken, row=None))


def held(turn: Turn, at_ns: int) -> None:
    """Bring the print that keeps white light away into its next tray: never out of the fix, nor twice in a row."""
    state = turn.state
    print_ = next((print_ for print_ in reversed(state.prints) if not print_.in_fix), None)
    after = None if print_ is None or at_ns < state.tray_hold_ns else journey.moved(print_, at_ns, said=True)
    if print_ is None or after is None:
        turn.say(Cue.NO)
        return
    confirm(turn)
    _file(turn, print_, after.tray.name, at_ns, by="hold")
    _put(turn, print_, after)
    turn.state = replace(turn.state, tray_hold_ns=at_ns + HOLD_AGAIN_MS * NS_PER_MS)
    _hush(turn, print_)
    turn.say(_cue_into(after))
    _guard(turn, at_ns)


# ---- what happens by itself


def due_ns(state: State) -> int | None:
    """Return when something of the trays is due, or of the guard; None where nothing is."""
    dues = [due for print_ in state.prints if (due := journey.due_ns(print_)) is not None]
    if 0 < state.white_from_ns < WAITS_NS:
        dues.append(state.white_from_ns)
    if state.tray_cues and not _lit(state.place):
        dues.append(state.tray_cues_ns)
    if state.tray_press is not None and state.tray_press.row is not None:
        dues.append(state.tray_press.until_ns)
    return min(dues, default=None)


def tick(turn: Turn, at_ns: int) -> None:
    """Let everything happen that was due by `at_ns`, each at its own moment: nothing is later for a late tick."""
    if not turn.state.prints and not turn.state.white_from_ns:
        return
    while (first := _first(turn.state)) is not None and first[0] <= at_ns:
        due, print_ = first
        if due == journey.goes_ns(print_):
            _goes(turn, print_, due)
        elif due == print_.remind_ns:
            _put(turn, print_, journey.reminded(print_))
            _wish(turn, print_.number, Cue.TRAY_ASK)
        else:
            _put(turn, print_, journey.rocked(print_))
            if print_.sheet == turn.state.prints[-1].sheet:  # one rhythm, though others lie there too
                _wish(turn, print_.number, Cue.TRAY_TICK)
    _guard(turn, at_ns)
    taken = turn.state.tray_press
    if taken is not None and at_ns >= taken.until_ns:
        confirm(turn)


def _first(state: State) -> tuple[int, Print] | None:
    dues = [(due, at) for at, print_ in enumerate(state.prints) if (due := journey.due_ns(print_)) is not None]
    if not dues:
        return None
    due, at = min(dues)
    return due, state.prints[at]


def _goes(turn: Turn, print_: Print, at_ns: int) -> None:
    """Let a print go on by time: into its next tray, or out of the last, or on without the press that never came."""
    confirm(turn)
    asked = print_.until_ns is None
    after = journey.unsaid(print_, at_ns) if asked else journey.moved(print_, at_ns)
    if after is not None and after.at == print_.at:
        _put(turn, print_, after)
        _hush(turn, print_)
    else:
        _file(turn, print_, "" if after is None else after.tray.name, at_ns)
        _put(turn, print_, after)
        _wish(turn, print_.number, Cue.TRAY_NEXT if after is None else _cue_into(after))
    _guard(turn, at_ns)


def _guard(turn: Turn, at_ns: int) -> None:
    """Know anew from when on there may be white light; it is never sooner than was known before, but for a press."""
    state = turn.state
    whites = [journey.white_from_ns(print_) for print_ in state.prints]
    rooms = [journey.room_from_ns(print_) for print_ in state.prints]
    white_floor = max(state.white_floor_ns, *(one for one in whites if one < WAITS_NS), 0)
    room_floor = max(state.room_floor_ns, *(one for one in rooms if one < WAITS_NS), 0)
    white_ns = WAITS_NS if WAITS_NS in whites else white_floor
    if white_ns <= at_ns:
        if state.white_from_ns and not state.sheet_open:
            _wish(turn, OF_WHITE, Cue.TRAY_SAFE)
        white_ns = white_floor = 0
    turn.state = replace(
        turn.state,
        white_from_ns=white_ns,
        white_floor_ns=white_floor,
        room_from_ns=WAITS_NS if WAITS_NS in rooms else max(room_floor, 0) or state.room_from_ns,
        room_floor_ns=room_floor,
    )


# ---- what is sounded


def speak(turn: Turn, before: Place, at_ns: int) -> None:
    """Sound what waits to be sounded of the trays, once it is dark and no other cue is being heard."""
    state = turn.state
    if not state.prints and not state.tray_cues:
        return
    if (_lit(before) and not _lit(state.place)) or any(_sounds(effect) for effect in turn.effects):
        turn.state = state = replace(state, tray_cues_ns=at_ns + CUE_AFTER_MS * NS_PER_MS)
    if state.tray_cues and not _lit(state.place) and at_ns >= state.tray_cues_ns:
        (_, cue), *rest = state.tray_cues
        turn.state = replace(state, tray_cues=tuple(rest), tray_cues_ns=at_ns + CUE_AFTER_MS * NS_PER_MS)
        turn.say(cue)


def _lit(place: Place) -> bool:
    """Tell whether a light is on or announced: then no tray is heard."""
    return isinstance(place, LeadIn | Light | Gap | WhiteWarning | Focus)


def _sounds(effect: Effect) -> bool:
    return isinstance(effect, Sound)


def _cue_into(print_: Print) -> Cue:
    return Cue.TRAY_LIFT if print_.tray.name == "drain" else Cue.TRAY_NEXT


def _wish(turn: Turn, number: int, cue: Cue) -> None:
    """Have a cue sounded as soon as may be, in place of what still waits of the same print."""
    others = (wish for wish in turn.state.tray_cues if wish[0] != number)
    turn.state = replace(turn.state, tray_cues=(*others, (number, cue)))


def _hush(turn: Turn, print_: Print) -> None:
    turn.state = replace(turn.state, tray_cues=tuple(wish for wish in turn.state.tray_cues if wish[0] != print_.number))


# ---- state and rows


def _put(turn: Turn, print_: Print, after: Print | None) -> None:
    """Have `after` in the place of a print; none where it is out of the last tray."""
    prints = (after if one.sheet == print_.sheet else one for one in turn.state.prints)
    turn.state = replace(turn.state, prints=tuple(one for one in prints if one is not None))


def _file(turn: Turn, print_: Print, tray: TrayName | Literal[""], at_ns: int, *, by: _By = "time") -> None:
    """File that a print came into a tray, or out of the last; how long it lay in the one before by its own clock."""
    turn.file(_row(print_, tray, at_ns, by=by, before_ms=print_.process_ms(at_ns)))


def _row(print_: Print, tray: TrayName | Literal[""], at_ns: int, *, by: _By, before_ms: int) -> TrayEntered:
    process = print_.process
    usual = process.developer_seconds == USUAL[process.support].developer_seconds
    return TrayEntered(
        sheet=print_.sheet,
        number=print_.number,
        tray=tray,
        at_ns=at_ns,
        by=by,
        before_ms=max(0, before_ms),
        appearance_ms=print_.appearance_ms if print_.tray.name == "developer" else None,
        support=process.support,
        developer_seconds=None if usual else process.developer_seconds,
        celsius=process.celsius,
    )
