"""The places that the foot-switch grammar can be in; a question remembers where it goes back to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias, TypeGuard

from controller.foot import asks
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp


@dataclass(frozen=True, slots=True)
class NothingChosen:
    """No recipe or strip is chosen."""


@dataclass(frozen=True, slots=True)
class Ready:
    """The present step has had no light; a press begins its lead-in."""


@dataclass(frozen=True, slots=True)
class LeadIn:
    """The order of this id stands; the light comes on at `start_ns` unless anything is pressed."""

    order: str
    start_ns: int


@dataclass(frozen=True, slots=True)
class Light:
    """The light of the order of this id is on."""

    order: str
    on_ns: int


@dataclass(frozen=True, slots=True)
class Gap:
    """Between two bands of a rhythm strip; the next band's order stands."""

    order: str
    start_ns: int


@dataclass(frozen=True, slots=True)
class Held:
    """The present step was stopped on the way, or its rhythm was; a press gives the remainder."""


@dataclass(frozen=True, slots=True)
class SetUpAsked:
    """The sheet that is to be begun wants another set-up than stands; a press says that it is made."""

    remind_ns: int


@dataclass(frozen=True, slots=True)
class ChangeFilter:
    """The present step wants another filter; a press says that it is in."""

    remind_ns: int


@dataclass(frozen=True, slots=True)
class HandsAsked:
    """Something is to be done by hand before the present step, or before the sheet is finished; a press says it is."""

    remind_ns: int


@dataclass(frozen=True, slots=True)
class Settling:
    """The printer's hands come back out of the light's way; `undo` is where a double or hold takes it back to."""

    until_ns: int
    seq: int
    undo: ToBeDone
    filter_before: str
    stood: tuple[AtEnlarger, SetUp | None] | None = None
    """What stood at the enlarger, and what was set up, before a set-up was made."""
    asked_before: asks.AsksDone = asks.NOTHING_ASKED


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wait before the present step's light, in the dark; no light begins in it. `undo` is where it was begun."""

    until_ns: int
    seq: int
    undo: HandsAsked


@dataclass(frozen=True, slots=True)
class Finished:
    """Every step is settled; a hold closes the sheet."""


@dataclass(frozen=True, slots=True)
class AskClose:
    """Close this sheet? A hold of its own says yes."""

    until_ns: int
    seq: int
    back: DarkPlace


@dataclass(frozen=True, slots=True)
class AskGiven:
    """Call it given? A hold of its own says yes."""

    until_ns: int
    seq: int
    back: DarkPlace


@dataclass(frozen=True, slots=True)
class AskWhite:
    """White light? A hold of its own says yes."""

    until_ns: int
    seq: int
    back: DarkPlace


@dataclass(frozen=True, slots=True)
class WhiteWarning:
    """White light is announced; the order stands."""

    order: str
    start_ns: int
    back: DarkPlace


@dataclass(frozen=True, slots=True)
class Focus:
    """Focus light is on."""

    order: str
    on_ns: int


@dataclass(frozen=True, slots=True)
class AfterRestart:
    """A sheet was open when the daemon started; a press says where it stands."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Nothing can be lit. `why`: keeper, stuck, wire, runner."""

    why: str


ToBeDone: TypeAlias = SetUpAsked | HandsAsked | ChangeFilter
"""Where a press says that something is done."""
DarkPlace: TypeAlias = NothingChosen | Ready | Held | ToBeDone | Settling | Waiting | Finished | AfterRestart
Place: TypeAlias = DarkPlace | LeadIn | Light | Gap | AskClose | AskGiven | AskWhite | WhiteWarning | Focus | Fault


def is_dark(place: Place) -> TypeGuard[DarkPlace]:
    """Tell whether nothing is lit, announced, asked or at fault."""
    return isinstance(place, DarkPlace)


def is_question(place: Place) -> bool:
    """Tell whether a question stands."""
    return isinstance(place, AskClose | AskGiven | AskWhite)
