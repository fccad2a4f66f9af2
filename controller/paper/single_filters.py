"""Single-filter work on a kept paper: factors for one tone from its own readings, and another filter with a tone kept.

numpy is loaded when something is reckoned, never by importing this.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.errors import Impossible
from controller.paper.iso import SPEED
from controller.paper.tones import density_of
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.filter_factors import Changed, FilterCurve
    from controller.paper.paper import Paper
    from controller.paper.tones import TonePlace

SPEED_POINT: Final = "speed"
"""The tone that makers match their filters at: 0.60 over base + fog (ISO 6846's speed point)."""


@dataclass(frozen=True)
class Factor:
    """One filter against another: how many times as long it takes for a tone, or why that cannot be told."""

    filter: str
    times: float | None
    why_not: str = ""


@dataclass(frozen=True)
class Filters:
    """The single lights that a paper was read through, softest first."""

    paper: Paper
    curves: dict[str, FilterCurve]

    @property
    def names(self) -> tuple[str, ...]:
        """The lights' names, softest first."""
        return tuple(self.curves)

    @property
    def to_print(self) -> str:
        """Which print of the tablet is wanted next, in one sentence; empty where every filter has one of its own."""
        if not self.curves:
            return say("filters.print-two")
        if len(self.curves) == 1:
            return say("filters.print-another", filter=self.names[0])
        return "" if self.paper.filters else say("filters.print-between", one=self.names[0], two=self.names[-1])

    def density(self, tone: TonePlace | str | float) -> float:
        """Return the print density that a tone stands for on this paper."""
        if tone == SPEED_POINT:
            return self.paper.dmin + SPEED
        return density_of(tone, self.paper.dmin, self.paper.dmax)  # type: ignore[arg-type]  # checked by who asks

    def factors(self, before: str, density: float) -> tuple[Factor, ...]:
        """Return how many times as long each filter takes as `before` for a tone of this print density."""
        from controller.paper.filter_factors import change_filter

        found = []
        for name, curve in self.curves.items():
            try:
                found.append(Factor(name, change_filter(self.curves[before], curve, 1.0, density).factor))
            except Impossible as problem:
                found.append(Factor(name, None, str(problem)))
        return tuple(found)

    def change(self, before: str, after: str, seconds: float, density: float) -> Changed:
        """Return the seconds through another filter that print a tone as it is.

        Raises:
            Impossible: the tone lies outside what either print's readings reach.
        """
        from controller.paper.filter_factors import change_filter

        return change_filter(self.curves[before], self.curves[after], seconds, density)


def filters_of(paper: Paper) -> Filters:
    """Return the single lights that a paper was read through.

    Raises:
        Impossible: one of its prints makes no curve; the sentence says which.
    """
    if not paper.filters and paper.readings is None:
        return Filters(paper, {})
    from controller.paper.filter_factors import curves_of

    return Filters(paper, curves_of(paper))
