"""One print on its way through the trays of its process: where it lies, until when, and what press is waited for. Pure.

Moments are monotonic ns. Every span of the process is divided by `hurry`, above 1 in a practice darkroom alone.
Nothing that is pressed brings white light sooner: what was planned at the close stands until something later is known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from controller.trays.development import developed_s
from controller.trays.process import Process, Tray, TrayName
from hardware.clock import NS_PER_MS

WAITS_NS: Final = 1 << 62
"""White light waits for a press: until that, nobody knows when the print will be in the fix."""
UNSAID_MS: Final = 60_000
"""“In the developer” that nobody has said for so long is over: from then on the print goes by time."""
REMIND_MS: Final = 10_000
"""A press that is waited for is asked for again this often."""
LEAST_APPEARANCE_MS: Final = 2_000
"""No image shows sooner; a press before that was meant for something else."""
ROOM_IN_FIX_MS: Final = 60_000
"""The room light waits until the print has lain in the fix for so long."""
_ROCKED: Final[frozenset[TrayName]] = frozenset({"developer", "stop", "fix", "fix 1", "fix 2"})

Awaited = Literal["", "in the developer", "first appearance"]


@dataclass(frozen=True, slots=True)
class Print:
    """One sheet between its close and the drying."""

    sheet: str
    number: int
    """The sheet's running number."""
    process: Process
    way: tuple[Tray, ...]
    """The process's trays, in order."""
    entered_ns: int
    """When it came into its tray."""
    until_ns: int | None
    """When it goes on by itself; None waits for a press."""
    planned_fix_ns: int
    """When it is to come into the first fix by the latest that was ever planned."""
    at: int = 0
    """Which of `way` it lies in."""
    asked: Awaited = ""
    """The press that is waited for."""
    remind_ns: int | None = None
    """When that press is asked for next."""
    tick_ns: int | None = None
    """When the tray is to be rocked next."""
    fix_ns: int | None = None
    """When it came into the first fix; None before that."""
    appearance_ms: int | None = None
    """When the image first showed, from the entry into the developer, by the process's own clock."""
    lit_ns: int = 0
    """When the sheet had its first light: its safe minutes run from then until it is in the fix."""
    hurry: int = 1

    @property
    def tray(self) -> Tray:
        """Where it lies."""
        return self.way[self.at]

    @property
    def in_fix(self) -> bool:
        """It is in the first fix, or past it: white light cannot spoil the way of the next sheet any more."""
        return self.fix_ns is not None

    @property
    def lain_ms(self) -> int:
        """How long its tray keeps it by the process's own clock, where it goes on at `until_ns`."""
        return 0 if self.until_ns is None else self.process_ms(self.until_ns)

    def process_ms(self, at_ns: int) -> int:
        """Return how long it has lain in its tray by `at_ns`, by the process's own clock, in ms."""
        return round((at_ns - self.entered_ns) * self.hurry / NS_PER_MS)

    def span_ns(self, ms: float) -> int:
        """Return how long `ms` of the process are here."""
        return round(ms * NS_PER_MS) // self.hurry


def closed(sheet: str, number: int, process: Process, at_ns: int, *, lit_ns: int, hurry: int = 1) -> Print:
    """Return the print of a sheet that was closed at `at_ns` and had its first light at `lit_ns`: it is on its way."""
    way = process.trays
    new = Print(sheet, number, process, way, at_ns, None, 0, lit_ns=lit_ns, hurry=hurry)
    planned_ns = at_ns + sum(new.span_ns(tray.ms) for tray in way[: process.first_fix])
    new = replace(new, planned_fix_ns=planned_ns)
    until_ns = at_ns + new.span_ns(new.tray.ms)
    if process.factor is None:
        return replace(new, until_ns=until_ns)
    return replace(new, asked="in the developer", remind_ns=until_ns)


def guard_ms(process: Process) -> int:
    """Return how long after a close white light waits by a process's own figures, nothing being pressed or found."""
    return sum(tray.ms for tray in process.trays[: process.first_fix]) + round(process.least_fix_seconds * 1000)


def latest_fix_ns(process: Process, tray: TrayName, at_ns: int, hurry: int = 1) -> int:
    """Return the latest moment at which a print that came into `tray` at `at_ns` comes into the fix by its clocks.

    Where presses are waited for, each is taken to come as late as it may. One that is in the fix came into it then.
    """
    way = process.trays
    at = next((at for at, one in enumerate(way) if one.name == tray), 0)
    rest_ms: float = sum(one.ms for one in way[at : process.first_fix])
    if process.factor is not None and way[at].name == "on its way":
        rest_ms += UNSAID_MS
    if process.factor is not None and at <= 1:
        rest_ms += max(0.0, process.factor / 2 - 1) * process.developer_seconds * 1000
    return at_ns + round(rest_ms * NS_PER_MS) // hurry


def moved(print_: Print, at_ns: int, *, said: bool = False) -> Print | None:
    """Return the print in the next tray, since `at_ns`; None where it is out of the last.

    `said` tells that a foot has brought it there: into the developer, its first appearance can be seen then.
    """
    at = print_.at + 1
    if at >= len(print_.way):
        return None
    tray = print_.way[at]
    new = replace(print_, at=at, entered_ns=at_ns, asked="", remind_ns=None, tick_ns=None)
    new = replace(new, until_ns=at_ns + new.span_ns(tray.ms))
    if tray.name in _ROCKED and new.process.agitation_seconds:
        new = replace(new, tick_ns=at_ns + new.span_ns(new.process.agitation_seconds * 1000))
    if at == new.process.first_fix:
        new = replace(new, fix_ns=at_ns)
    if tray.name == "developer" and new.process.factor is not None and said:
        new = replace(new, until_ns=None, asked="first appearance", remind_ns=at_ns + new.span_ns(REMIND_MS))
    return _planned(new)


def pressed(print_: Print, at_ns: int) -> Print | None:
    """Return the print after the press that it waits for, first contact at `at_ns`; None where that cannot be meant."""
    if print_.asked == "in the developer":
        return moved(print_, at_ns, said=True)
    factor, appearance_ms = print_.process.factor, print_.process_ms(at_ns)
    if print_.asked != "first appearance" or factor is None or appearance_ms < LEAST_APPEARANCE_MS:
        return None
    until_ns = print_.entered_ns + print_.span_ns(developed_s(appearance_ms / 1000, factor) * 1000)
    return _planned(replace(print_, asked="", remind_ns=None, appearance_ms=appearance_ms, until_ns=until_ns))


def unsaid_ns(print_: Print) -> int | None:
    """Return when a press that is waited for is waited for no longer; None where none is."""
    match print_.asked:
        case "in the developer":
            return print_.entered_ns + print_.span_ns(UNSAID_MS)
        case "first appearance":
            return print_.entered_ns + print_.span_ns(print_.process.developer_seconds * 500)
        case _:
            return None


def unsaid(print_: Print, at_ns: int) -> Print | None:
    """Return the print that goes by time from `at_ns` on, since the press it waited for never came."""
    if print_.asked == "in the developer":
        return moved(print_, at_ns)
    until_ns = print_.entered_ns + print_.span_ns(print_.tray.ms)
    return _planned(replace(print_, asked="", remind_ns=None, until_ns=until_ns))


def reminded(print_: Print) -> Print:
    """Return the print whose press has been asked for once more."""
    assert print_.remind_ns is not None
    return replace(print_, remind_ns=print_.remind_ns + print_.span_ns(REMIND_MS))


def rocked(print_: Print) -> Print:
    """Return the print whose tray has been rocked once more."""
    assert print_.tick_ns is not None
    return replace(print_, tick_ns=print_.tick_ns + print_.span_ns(print_.process.agitation_seconds * 1000))


def due_ns(print_: Print) -> int | None:
    """Return when something becomes of it by itself: it goes on, a press is asked for or given up, a tray is rocked."""
    going_ns = print_.until_ns if print_.until_ns is not None else unsaid_ns(print_)
    dues = [due for due in (going_ns, print_.remind_ns, print_.tick_ns) if due is not None]
    return min(dues, default=None)


def goes_ns(print_: Print) -> int | None:
    """Return when it leaves its tray by itself, or goes by time for want of a press."""
    return print_.until_ns if print_.until_ns is not None else unsaid_ns(print_)


def in_fix_ns(print_: Print) -> int:
    """Return the later of planned and actual entry into the first fix; `WAITS_NS` where a press is waited for."""
    if print_.fix_ns is None and print_.until_ns is None:
        return WAITS_NS
    return max(print_.planned_fix_ns, print_.fix_ns or 0)


def white_from_ns(print_: Print) -> int:
    """Return the moment before which this print bears no white light: then it has had its least time in the fix."""
    entry_ns = in_fix_ns(print_)
    return entry_ns if entry_ns == WAITS_NS else entry_ns + print_.span_ns(print_.process.least_fix_seconds * 1000)


def room_from_ns(print_: Print) -> int:
    """Return the moment before which this print bears no room light: a minute in the fix, or its least time there."""
    entry_ns = in_fix_ns(print_)
    return entry_ns if entry_ns == WAITS_NS else entry_ns + print_.span_ns(room_in_fix_ms(print_.process))


def room_in_fix_ms(process: Process) -> float:
    """Return how long in the fix a print has to be before there is room light, in ms."""
    return max(ROOM_IN_FIX_MS, process.least_fix_seconds * 1000)


def _planned(print_: Print) -> Print:
    """Let the planned entry into the fix be later where the print goes on later than planned; never sooner."""
    if print_.until_ns is None or print_.fix_ns is not None:
        return print_
    rest = print_.way[print_.at + 1 : print_.process.first_fix]
    entry_ns = print_.until_ns + sum(print_.span_ns(tray.ms) for tray in rest)
    return replace(print_, planned_fix_ns=max(print_.planned_fix_ns, entry_ns))
