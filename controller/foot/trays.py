"""What becomes of a sheet once it is closed: its way through the trays, and the guard until it is in the fix."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from controller.foot.turn import Turn
from controller.store.tray_rows import TrayEntered
from controller.trays.journey import Print
from controller.trays.process import TrayName


def none_there(turn: Turn, at_ns: int) -> None:
    """Take the printer's word that no paper lies in the trays: white light waits for none, and none is followed."""
    state = turn.state
    for print_ in state.prints:
        file(turn, print_, "", at_ns, by="page")
    if not state.prints:  # nobody followed what lies there
        turn.file(TrayEntered(sheet=state.closed_sheet, number=state.closed_number, tray="", at_ns=at_ns, by="page"))
    turn.state = replace(
        state, prints=(), white_from_ns=0, room_from_ns=0, tray_press=None, tray_hold_ns=0, tray_cues=()
    )


def file(
    turn: Turn,
    print_: Print,
    tray: TrayName | Literal[""],
    at_ns: int,
    *,
    by: Literal["time", "foot", "hold", "page"] = "time",
) -> None:
    """File that a print came into a tray, or out of the last; how long it lay in the one before by its own clock."""
    first = tray == print_.way[0].name
    turn.file(
        TrayEntered(
            sheet=print_.sheet,
            number=print_.number,
            tray=tray,
            at_ns=at_ns,
            by=by,
            before_ms=0 if first else print_.process_ms(at_ns),
            appearance_ms=print_.appearance_ms if print_.tray.name == "developer" else None,
            support=print_.process.support,
            celsius=print_.process.celsius,
        )
    )
