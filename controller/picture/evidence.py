"""What the picture needs to know of a sheet: its plan, its lights, when it was closed.

`controller.store.records.SheetRecord` is such a sheet; naming only what is used keeps this folder clear of the journal.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

from controller.recipe.plan import Plan, Step
from controller.trays.process import Support, TrayName
from hardware.practice.meter import Edge


class Moment(Protocol):
    """A moment on the monotonic clock."""

    @property
    def at_ns(self) -> int:
        """Nanoseconds."""


class PartLight(Protocol):
    """One light of a step, as the keeper told it."""

    @property
    def on_ns(self) -> int:
        """When the line went lit."""

    @property
    def counted_ns(self) -> tuple[int, int]:
        """How long it was lit, at least and at most, corrections taken in."""


class StepLights(Protocol):
    """A step and the lights that it was given in."""

    @property
    def step(self) -> Step:
        """The step as planned."""

    @property
    def parts(self) -> Sequence[PartLight]:
        """Its lights, in order."""


class InTray(Protocol):
    """One tray that a print lay in on its way from the easel."""

    @property
    def tray(self) -> TrayName:
        """Which."""

    @property
    def support(self) -> Support:
        """What the process took its paper for."""

    @property
    def in_ns(self) -> int:
        """When it came in."""

    @property
    def lay_ms(self) -> int | None:
        """How long it lay there, by the process's clock; None where it was followed no further."""

    @property
    def celsius(self) -> float | None:
        """How warm the process has the tray; None where nobody said."""

    @property
    def ended(self) -> bool:
        """It was followed no further, by the printer's word or since this was the last."""


class SheetLights(Protocol):
    """One piece of paper: what was planned for it, and what it got."""

    @property
    def number(self) -> int:
        """Its running number."""

    @property
    def plan(self) -> Plan:
        """What was planned."""

    @property
    def steps(self) -> Sequence[StepLights]:
        """Its steps with their lights."""

    @property
    def outcome(self) -> Literal["complete", "spoiled", "open"]:
        """How it ended."""

    @property
    def closed(self) -> Moment | None:
        """When it was closed; None while it is open."""

    @property
    def trays(self) -> Sequence[InTray]:
        """Its way through the trays, in order; none where nobody followed it."""


def lights_of(sheet: SheetLights) -> tuple[tuple[Step, int, int], ...]:
    """Return every light of the sheet that counts, in order of time: its step, on and off in ns."""
    found = [
        (each.step, part.on_ns, part.on_ns + part.counted_ns[1])
        for each in sheet.steps
        for part in each.parts
        if part.counted_ns[1] > 0
    ]
    return tuple(sorted(found, key=lambda light: light[1]))


def edges_of(sheet: SheetLights) -> tuple[Edge, ...]:
    """Return the lamp line's edges as the sheet's record has them."""
    return tuple(edge for _, on, off in lights_of(sheet) for edge in (Edge(on, True), Edge(off, False)))
