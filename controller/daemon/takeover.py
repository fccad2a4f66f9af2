"""Where a daemon begins: what the last one left is filed, and the grammar's first state is made of it."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.daemon.recovery import (
    RECOVERED_BY,
    Reopened,
    call_short,
    check_cut,
    file_unfinished,
    paper_lay_ns,
    reopen,
    set_up_last,
    stood_at_enlarger,
    that_tell,
    white_lay_ns,
)
from controller.errors import NotThere, StoreTrouble
from controller.foot.legal_acts import must_have_lines
from controller.foot.places import AfterRestart, NothingChosen
from controller.foot.state import State, Work
from controller.model import new_id
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp
from controller.store.archive import Archive
from controller.store.entries import Loaded, Started, StoodAtEnlarger
from hardware.clock import Clock, boot_id

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.daemon.in_force import InForce
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.store.journal import Journal
    from hardware.tether.tether import Tether
    from hardware.wire import Greeting

_log = logging.getLogger(__name__)
_LOOK_BACK: Final = 4000
"""Rows that are looked at in the start: far more than a daemon files while one light of its has no outcome."""


@dataclass(frozen=True, slots=True)
class Left:
    """What the last daemon left."""

    reopened: Reopened | None
    """The sheet that stands open."""
    number: int
    """The running number of that sheet, or of the next."""
    loaded: Loaded | None
    """What was loaded last."""
    bench: AtEnlarger
    """What stands at the enlarger."""
    set_up: SetUp | None
    """How it is set up."""
    check_cut: bool
    """It ended within a check's light."""
    hold_from_ns: int
    white_from_ns: int
    room_from_ns: int


def take_over(
    journal: Journal,
    recipes: RecipeShelf,
    in_force: InForce,
    tether: Tether,
    *,
    clock: Clock,
    dark_ns: int,
    practice: bool,
    at_first: Sequence[StoodAtEnlarger] = (),
) -> Left:
    """File what the last daemon could not, and that this one has begun; return what it left.

    `dark_ns` is when this run's keeper had the line dark; `at_first` stood at the enlarger where nothing was ever
    filed, and the last of it stands there. Raises `StoreTrouble`.
    """
    if at_first and not journal.last():
        journal.append(*at_first)
    after = max(0, journal.last() - _LOOK_BACK)
    unfinished = journal.unfinished(after=after)
    rows = that_tell(journal.each(after=after, kinds=RECOVERED_BY), unfinished)
    entries = file_unfinished(rows, unfinished, tether.found, boot_id(), dark_ns)
    if entries:
        rows += journal.append(*entries)
    tether.filed()
    lag_ms, now_ns = in_force.lag_ms(), clock.now_ns()
    record = Archive(journal).open_sheet()
    if record is not None and (short := call_short(record, lag_ms)):
        journal.append(*short)
        record = Archive(journal).open_sheet()
    archive = Archive(journal)
    number, newest = archive.next_number(), archive.sheets(1)
    journal.append(
        Started(practice=practice, timing=in_force.written(), open_sheet="" if record is None else record.id)
    )
    reopened = None if record is None else reopen(record, lag_ms, boot_id())
    last_sheet = newest[0] if newest else None
    bench = stood_at_enlarger(rows, last_sheet)
    white_ns, room_ns = white_lay_ns(rows, boot_id(), now_ns, in_force.habits(sounder=True))
    return Left(
        reopened=reopened,
        number=number if reopened is None else reopened.number,
        loaded=recipes.remember(rows),
        bench=bench,
        set_up=set_up_last(rows, last_sheet, bench),
        check_cut=check_cut(rows),
        hold_from_ns=paper_lay_ns(rows, boot_id(), now_ns, in_force.timing().after_close_ms),
        white_from_ns=white_ns if white_ns > now_ns else 0,
        room_from_ns=room_ns,
    )


def first_state(left: Left, recipes: RecipeShelf, in_force: InForce, greeting: Greeting) -> State:
    """Return where the grammar begins: at the open sheet, or with what was loaded last, if it can still be lit."""
    habits = in_force.habits(sounder="sounder" in greeting.features)
    work: Work | None = None
    if left.reopened is not None:
        work = left.reopened.work
    elif left.loaded is not None:
        try:
            plan = recipes.plan(left.loaded.source)
            must_have_lines(plan, habits)
            work = Work.fresh(plan.standing(left.bench))
        except (NotThere, StoreTrouble, ValueError) as gone:
            _log.info("what was loaded last cannot be loaded again: %s", gone)
    return State(
        NothingChosen() if left.reopened is None else AfterRestart(),
        habits,
        work,
        bench=left.bench,
        set_up=left.set_up,
        run=new_id(),
        number=left.number,
        lid_open=False if "lid" in greeting.features else None,
        hold_from_ns=left.hold_from_ns,
        white_from_ns=left.white_from_ns,
        white_floor_ns=left.white_from_ns,
        room_from_ns=left.room_from_ns,
        room_floor_ns=left.room_from_ns,
    )
