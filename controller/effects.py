"""What the grammar is told (events beside the keeper's own) and what it wants done (effects). Frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from controller.sheet import Plan, Step
from hardware.wire import Beat, Cancelled, Dark, FootDown, FootHold, FootStuck, FootUp, Lid, Lit, Refused, Room, Stopped

# ---- events


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has reached `at_ns`; something may be due."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class KeeperWent:
    """The keeper does not answer."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class KeeperCame:
    """The keeper answers again; of the light that was on it is known: on at, least and most of line time."""

    at_ns: int
    sounder: bool
    on_ns: int | None = None
    least_ns: int = 0
    most_ns: int = 0


@dataclass(frozen=True, slots=True)
class StoreFailed:
    """What had to be on disk before light is not: `order` was not sent. `why` is a key of the catalogue."""

    order: int
    at_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class Chosen:
    """A recipe or strip was chosen on the page; `again` where it is a new version of what is loaded."""

    plan: Plan | None
    at_ns: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class SaidGiven:
    """Page: call it given."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidLeaveOut:
    """Page: leave out the next step."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidMore:
    """Page: one more burn."""

    step: Step
    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidNoLight:
    """Page: the last light gave nothing."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidClose:
    """Page: close the sheet."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidAssume:
    """Page: assume that much full light of the step in doubt."""

    which: Literal["least", "middle", "most"]
    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidFocus:
    """Page, day face: white light, please."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidStart:
    """Page, dark face: begin the lead-in."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class SaidRoomLight:
    """Page, day face: room light, until `until_ns` at the latest; None: no more of it."""

    at_ns: int
    until_ns: int | None


@dataclass(frozen=True, slots=True)
class FootWire:
    """A wire of the changeover foot switch is broken, or two touch."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class Its:
    """A keeper's word about order number `order` (the runner knows ids, the grammar numbers)."""

    order: int
    word: Lit | Dark | Cancelled | Refused


Event: TypeAlias = (
    Its
    | FootDown
    | FootUp
    | FootHold
    | FootStuck
    | Stopped
    | Lid
    | Tick
    | KeeperWent
    | KeeperCame
    | StoreFailed
    | Chosen
    | SaidGiven
    | SaidLeaveOut
    | SaidMore
    | SaidNoLight
    | SaidClose
    | SaidAssume
    | SaidFocus
    | SaidStart
    | SaidRoomLight
    | FootWire
    | Room
)

# ---- effects, carried out in order


@dataclass(frozen=True, slots=True)
class PlaceOrder:
    """Commit the intent, then send the order. `index` is the step's place in the work's steps."""

    order: int
    kind: Literal["step", "focus", "check"]
    foot_seq: int
    start_ns: int
    lit_ms: int
    cues: tuple[Beat, ...]
    index: int = 0
    part: int = 0
    filter: str = ""
    lamp: str = "lamp"


@dataclass(frozen=True, slots=True)
class TakeBack:
    """Cancel the standing order."""

    order: int


@dataclass(frozen=True, slots=True)
class Darken:
    """Dark now, whatever is lit: light is on that the grammar did not mean."""


@dataclass(frozen=True, slots=True)
class Say:
    """Sound a cue now."""

    cue: str
    count: int = 0


@dataclass(frozen=True, slots=True)
class FileLight:
    """A light came: file it."""

    order: int
    on_ns: int
    least_ns: int
    most_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class FileNone:
    """An order brought no light: file it."""

    order: int
    why: str


@dataclass(frozen=True, slots=True)
class FileStruck:
    """The light of this order is struck."""

    order: int


@dataclass(frozen=True, slots=True)
class FileAssumed:
    """The light of this order is to be counted as `lit_ns` of line time."""

    order: int
    lit_ns: int


@dataclass(frozen=True, slots=True)
class FileCalled:
    """A step counts as given as it is."""

    number: int
    by: Literal["foot", "page", "rule"]


@dataclass(frozen=True, slots=True)
class FileLeftOut:
    """A step is left out."""

    number: int


@dataclass(frozen=True, slots=True)
class FileAdded:
    """A burn is added to this sheet."""

    step: Step


@dataclass(frozen=True, slots=True)
class FileClosed:
    """The sheet is closed."""

    outcome: Literal["complete", "spoiled"]
    by: Literal["foot", "page"]


@dataclass(frozen=True, slots=True)
class FileFilter:
    """The printer said which filter is in the drawer; empty is unknown."""

    filter: str


@dataclass(frozen=True, slots=True)
class FileGesture:
    """A gesture of the foot, for the sheet's record."""

    gesture: Literal["press", "hold", "double", "wait", "page stop"]
    at_ns: int


@dataclass(frozen=True, slots=True)
class LightRoom:
    """Switch the room light on."""


@dataclass(frozen=True, slots=True)
class DarkenRoom:
    """Switch the room light off."""


@dataclass(frozen=True, slots=True)
class FileRoom:
    """The room light was switched; file it."""

    on: bool
    at_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class Refuse:
    """What was asked for on the page does not fit this moment; `why` is a key of the catalogue."""

    why: str


Effect: TypeAlias = (
    PlaceOrder
    | TakeBack
    | Darken
    | Say
    | FileLight
    | FileNone
    | FileStruck
    | FileAssumed
    | FileCalled
    | FileLeftOut
    | FileAdded
    | FileClosed
    | FileFilter
    | FileGesture
    | LightRoom
    | DarkenRoom
    | FileRoom
    | Refuse
)
