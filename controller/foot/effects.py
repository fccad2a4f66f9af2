"""What the grammar wants done, in this order. Frozen values."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from controller.foot.state import State
from controller.recipe.plan import Step
from hardware.wire import Beat, Greeting, Sounded


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


@dataclass
class Watchers:
    """Who is told: of each change of state, of each cue, of the keeper's troubles."""

    changed: Callable[[State, State, Sequence[Effect]], None] = field(default=lambda _before, _after, _effects: None)
    heard: Callable[[Sounded], None] = field(default=lambda _sounded: None)
    trouble: Callable[[str], None] = field(default=lambda _what: None)
    lost: Callable[[str], None] = field(default=lambda _why: None)
    greeted: Callable[[Greeting], None] = field(default=lambda _greeting: None)
