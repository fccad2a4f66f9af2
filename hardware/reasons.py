"""The words in which the keeper refuses an order, and those in which it tells of trouble."""

from __future__ import annotations

from typing import Final


class Reason:
    """Why the keeper refuses an order."""

    FOOT: Final = "foot moved on"
    PAST: Final = "start has passed"
    FAR: Final = "start is too far ahead"
    CONTACT: Final = "too soon after contact"
    NOT_AT_REST: Final = "contact not at rest"
    LONG: Final = "longer than the longest light"
    SHORT: Final = "no length"
    BUSY: Final = "another order stands"
    LAMP: Final = "no such lamp line"
    SEEN: Final = "order already seen"
    LID: Final = "box is open"
    SILENT: Final = "no sounder"
    KIND: Final = "no such kind of light"
    FAULT: Final = "in fault"
    ROOM: Final = "room light is on"


class What:
    """What a `Trouble` is about; each is a key of the catalogue."""

    UNREADABLE: Final = "keeper.unreadable"
    """A line was no message: dark."""
    DROPPED: Final = "keeper.dropped"
    """The pipe was full and events were dropped; the last one and their count stand on the slate."""
    SOUNDER: Final = "keeper.sounder"
    """The sounder failed: there is no focus light any more."""
    FOOT_WIRE: Final = "keeper.foot-wire"
    """A wire of the changeover foot switch is broken, or two touch: dark; a `FootStuck` says the same to the foot's
    grammar. Nothing starts until the switch was seen whole, pressed and at rest again; the `FootUp` then says so."""
    OUTLET: Final = "keeper.outlet"
    """An outlet's line does not answer and is left alone from now on; the log says which."""
    LINES: Final = "keeper.lines"
    """A line or the slate cannot be had; the keeper leaves, its log says which."""
