"""The words in which the keeper refuses an order, and those in which it tells of trouble."""

from __future__ import annotations

from dataclasses import dataclass
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


PROTOCOL: Final = 4
STOP_WHYS: Final = ("page", "fault", "level")
"""Why light may be told to end."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A cue at `at_ms` from the moment the light comes on; before it where negative."""

    at_ms: int
    cue: str


# ---- from the daemon to the keeper


@dataclass(frozen=True, slots=True)
class Order:
    """One light: on at `start_ns` (monotonic), dark `lit_ms` after the light really came on.

    With a `longest_ms` above `lit_ms` a dose is asked for: the first `Dose` may put the end anywhere up to there. It is
    at most a third of a stop above the plan, and none without a step.
    `kind` is "step", "focus" (needs its lease renewed) or "check". `foot_seq` is the number of the last
    foot-down or page stop the daemon knew of: an order that is behind is refused.
    """

    id: str
    kind: str
    sheet: str
    step: int
    part: int
    lamp: str
    foot_seq: int
    start_ns: int
    lit_ms: int
    cues: tuple[Beat, ...] = ()
    longest_ms: int = 0
    """0: no dose is asked for, and `lit_ms` is the longest."""

    @property
    def most_ms(self) -> int:
        """The longest that this light may last, whatever is said later."""
        return max(self.lit_ms, self.longest_ms)


LONGEST_DOSE: Final = 2.0 ** (1.0 / 3.0)
"""How much longer than its plan a light may last whose dose is asked for: a third of a stop."""


@dataclass(frozen=True, slots=True)
class Dose:
    """The light `id` has its dose once it was lit for `lit_ms`.

    The first one may make it longer than its plan, up to the order's longest, or shorter; a later one only shorter.
    Without one it ends by its plan.
    """

    id: str
    lit_ms: int


@dataclass(frozen=True, slots=True)
class Cancel:
    """Take the pending order `id` back. Light that has come on is ended by `Stop`, not by this."""

    id: str


@dataclass(frozen=True, slots=True)
class Lease:
    """The open light `id` may stay for another lease."""

    id: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Dark now, and nothing pending.

    `why`: the page's STOP ("page"), the daemon's own order ("fault"), or what the light sensor's readings led it to
    ("level"): light that is far too strong. A word that is none of these is a fault.
    """

    why: str = "page"


@dataclass(frozen=True, slots=True)
class Sound:
    """Sound a cue now, after `count` short beats that say a number."""

    cue: str
    count: int = 0


@dataclass(frozen=True, slots=True)
class RoomLight:
    """Switch the room light on, for a lease of 2 s that repeating renews; or off.

    It comes on only where the word before was off and nothing has ended it since: to switch it on, say off, then on.
    An `on` that is a late renewal, or comes to a keeper that has just begun, starts no light.
    """

    on: bool


@dataclass(frozen=True, slots=True)
class SheetOpen:
    """Whether a sheet of paper is open. A keeper takes one to be open until it is told, and from a step's light on.

    `dark` asks for no safelight beside it: the sheet is a test of what fogs it. Whoever goes away takes that back.
    """

    open: bool
    dark: bool = False


# ---- from the keeper to the daemon


@dataclass(frozen=True, slots=True)
class Greeting:
    """The keeper's first word: who it is, what it may do, and what it was started with."""

    protocol: int
    pid: int
    boot: str
    at_ns: int
    practice: bool
    lamps: tuple[str, ...]
    features: tuple[str, ...]
    """Of: "sounder", "lid", "changeover", "pedals", and the outlets by their names in the wiring file."""
    scheduling: str
    """"fifo" or "other"."""
    locked: bool
    """Memory is locked."""
    timing: str
    """The timing table as JSON text."""
    at_rest: bool


@dataclass(frozen=True, slots=True)
class Accepted:
    """Order `id` is pending."""

    id: str


@dataclass(frozen=True, slots=True)
class Refused:
    """Order `id` will bring no light; `reason` is one of `Reason`."""

    id: str
    reason: str
    at_ns: int


@dataclass(frozen=True, slots=True)
class Lit:
    """The line of order `id` was set lit at `at_ns`."""

    id: str
    at_ns: int


@dataclass(frozen=True, slots=True)
class Dark:
    """The line of order `id` was set dark.

    `why`: complete, foot, page, level, limit, lease, lid, tether, keeper, fault.
    """

    id: str
    on_ns: int
    dark_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class Cancelled:
    """Pending order `id` brought no light. `why`: foot, page, level, cancel, rest, lid, fault."""

    id: str
    why: str
    at_ns: int


@dataclass(frozen=True, slots=True)
class FootDown:
    """A foot-down, known at `at_ns`; `lit` is the id of the order whose light it ended, or empty."""

    seq: int
    first_ns: int
    at_ns: int
    lit: str = ""


@dataclass(frozen=True, slots=True)
class FootUp:
    """A foot-up, known at `at_ns`; the contact opened at `opened_ns`."""

    seq: int
    opened_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class FootHold:
    """The contact has been closed since `first_ns` for a hold; once a foot-down."""

    seq: int
    first_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class FootStuck:
    """The contact has been closed for ten seconds, or a wire of the changeover switch is broken."""

    seq: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Stopped:
    """A stop was carried out (`why` of `Stop`); it takes a number as a foot-down does."""

    seq: int
    at_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class Sounded:
    """A cue was handed to the sounder."""

    cue: str
    count: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Lid:
    """The paper box's lid was opened or shut."""

    open: bool
    at_ns: int


@dataclass(frozen=True, slots=True)
class RoomSwitched:
    """The room light was switched, or is refused (`on` false, where it was off already).

    `why`: asked (RoomLight), foot (a press, or a contact not at rest), lid, sheet, order (one stands or is lit), lease,
    page, level, late (an `on` with no `off` before it), none (no such outlet), tether, keeper, fault.
    """

    on: bool
    at_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something the keeper had to go dark for, or could not do; `what` is a key of the catalogue."""

    what: str
    at_ns: int


ToKeeper = Order | Dose | Cancel | Lease | Stop | Sound | RoomLight | SheetOpen
FromKeeper = (
    Greeting
    | Accepted
    | Refused
    | Lit
    | Dark
    | Cancelled
    | FootDown
    | FootUp
    | FootHold
    | FootStuck
    | Stopped
    | Sounded
    | Lid
    | RoomSwitched
    | Trouble
)
