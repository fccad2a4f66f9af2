"""Prints that lie in the trays, as a snapshot says it, set by hand."""

from __future__ import annotations

from controller.foot.status import PrintNow
from controller.trays.process import USUAL, Support, TrayName

S = 1_000_000_000
IDLE = {"open": False, "sheet_number": None, "stop_possible": False, "lit": None, "safe_left_s": None}


def lies_in(
    tray: TrayName,
    at_ns: int,
    *,
    support: Support = "RC",
    number: int = 4,
    lain_s: int = 25,
    left_s: int = 65,
    ask: str = "",
) -> PrintNow:
    """Return a print that has lain in a tray for `lain_s` at `at_ns`, and goes on in `left_s` or at a press."""
    way = tuple(each.name for each in USUAL[support].trays)
    at = way.index(tray)
    return PrintNow(
        number=number,
        tray=tray,
        way=way,
        at=at,
        entered_ns=at_ns - lain_s * S,
        until_ns=None if ask else at_ns + left_s * S,
        ask=ask,
        in_fix=at >= USUAL[support].first_fix,
    )
