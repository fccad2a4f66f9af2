"""What the grammar is told beside the keeper's own words: of time, of the keeper, of the page. Frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from controller.foot.acts import Act
from controller.recipe.plan import Plan, Step
from controller.store.levels import Wrong
from hardware.slate import Interrupted
from hardware.wire import (
    Cancelled,
    Dark,
    FootDown,
    FootHold,
    FootStuck,
    FootUp,
    Greeting,
    Lid,
    Lit,
    Refused,
    RoomSwitched,
    Stopped,
)

TOO_MUCH_STOPS: Final = 1.5
"""A light that is this much stronger than the last good one is ended in its first half second."""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has reached `at_ns`; something may be due."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class KeeperWent:
    """The keeper does not answer, or never will again; `why` is the tether's word for it."""

    at_ns: int
    why: str


@dataclass(frozen=True, slots=True)
class KeeperCame:
    """The keeper answers again: its greeting, and what its forerunner left lit."""

    greeting: Greeting
    interrupted: Interrupted | None = None


@dataclass(frozen=True, slots=True)
class StoreFailed:
    """What had to be on disk before light is not, or no keeper was there: the order of this id was not sent."""

    order: str
    at_ns: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """A recipe, strip or check was chosen, or nothing; `again` where it is a new version of what is loaded."""

    plan: Plan | None
    at_ns: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A page asks for something: its own act, as it came; one more burn with the step that it makes of this sheet."""

    act: Act
    at_ns: int
    step: Step | None = None


@dataclass(frozen=True, slots=True)
class DayUsed:
    """A page of the day face was used: something was typed or pressed on it."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class LevelWrong:
    """In its first half second the light of `order` is wrong: far too strong, or weak, which only sounds.

    `stops` is how much stronger it is than the last good one; None where the sensor is dazzled. `filter` is the one it
    looks like. Only where it is `too_much` is the light to end.
    """

    order: str
    found: Wrong | Literal["weak"]
    stops: float | None
    filter: str
    at_ns: int

    @property
    def too_much(self) -> bool:
        """More light than any card, dodger or tired lamp can make of it: it ends."""
        return self.stops is None or self.stops > TOO_MUCH_STOPS


@dataclass(frozen=True, slots=True)
class SpotTold:
    """The sensor has told of the spot that was measured under a light, or could not (`taken` False)."""

    light: str
    taken: bool
    at_ns: int


@dataclass(frozen=True, slots=True)
class DoseTold:
    """By what the light sensor has counted, the light of `order` has its dose once it was lit for `lit_ms`."""

    order: str
    lit_ms: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class FootWire:
    """A wire of the changeover foot switch is broken, or two touch."""

    at_ns: int


Event: TypeAlias = (
    Lit
    | Dark
    | Cancelled
    | Refused
    | FootDown
    | FootUp
    | FootHold
    | FootStuck
    | Stopped
    | Lid
    | RoomSwitched
    | Tick
    | KeeperWent
    | KeeperCame
    | StoreFailed
    | Chosen
    | Asked
    | DayUsed
    | LevelWrong
    | SpotTold
    | DoseTold
    | FootWire
)


def moment(event: Event) -> int:
    """Return when an event was, monotonic ns."""
    match event:
        case KeeperCame():
            return event.greeting.at_ns
        case Dark():
            return event.dark_ns
        case _:
            return event.at_ns
