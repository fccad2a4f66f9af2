"""What the grammar is told beside the keeper's own words: of time, of the keeper, of the page. Frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from controller.recipe.plan import Plan, Step
from hardware.wire import (
    Cancelled,
    Dark,
    FootDown,
    FootHold,
    FootStuck,
    FootUp,
    Lid,
    Lit,
    Refused,
    RoomSwitched,
    Stopped,
)


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
    | RoomSwitched
)
