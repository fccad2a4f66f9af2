"""What the grammar wants done, in this order: messages to the keeper, entries of the journal, answers. Frozen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from controller.foot.state import State
from controller.store.entries import Entry, Intent, SheetPlanned
from hardware.wire import Cancel, Dose, Greeting, Order, RoomLight, Sound, Sounded


@dataclass(frozen=True, slots=True)
class PlaceOrder:
    """Commit the intent, then send the order. `planned`: the sheet's plan, on file before its first light."""

    order: Order
    intent: Intent
    planned: SheetPlanned | None = None


@dataclass(frozen=True, slots=True)
class File:
    """File an entry; while a light is on it waits."""

    entry: Entry


@dataclass(frozen=True, slots=True)
class Darken:
    """Dark now, whatever is lit: light is on that the grammar did not mean, or that is far too strong ("level")."""

    why: Literal["fault", "level"] = "fault"


@dataclass(frozen=True, slots=True)
class Refuse:
    """What was asked for on the page does not fit this moment; `why` is a key of the catalogue."""

    why: str


Effect: TypeAlias = PlaceOrder | File | Cancel | Dose | Darken | Sound | RoomLight | Refuse


def filed(wanted: Sequence[Effect], kind: type[Entry]) -> bool:
    """Tell whether an entry of this kind is to be filed."""
    return any(isinstance(effect, File) and isinstance(effect.entry, kind) for effect in wanted)


@dataclass
class Watchers:
    """Who is told: of each change of state, of each cue, of the keeper's troubles."""

    changed: Callable[[State, State, Sequence[Effect]], None] = field(default=lambda _before, _after, _effects: None)
    sounded: Callable[[Sounded], None] = field(default=lambda _sounded: None)
    trouble: Callable[[str], None] = field(default=lambda _what: None)
    lost: Callable[[str], None] = field(default=lambda _why: None)
    greeted: Callable[[Greeting], None] = field(default=lambda _greeting: None)
