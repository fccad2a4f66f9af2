"""A filter set as a ladder of R: which single filter a split of soft and hard light amounts to.

The ladder below is invented, rounded and marked typical: it is no maker's, and only stands in until the
printer's own filters have been read.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.words import say


class Rung(Frozen):
    """One filter, and the R of the paper through it."""

    filter: str = Field(min_length=1, max_length=12)
    range_exact: float = Field(gt=0.0, le=400.0)


class Ladder(Frozen):
    """A filter set, softest first."""

    source: Literal["typical", "own"]
    rungs: tuple[Rung, ...] = Field(min_length=1, max_length=24)


TYPICAL: Final = Ladder(
    source="typical",
    rungs=tuple(
        Rung(filter=name, range_exact=float(r))
        for name, r in (("00", 170), ("0", 145), ("1", 120), ("2", 100), ("3", 80), ("4", 65), ("5", 50))
    ),
)
HALF_WAY: Final = (1.0 / 3.0, 2.0 / 3.0)
"""Between these parts of the way from one filter to the next it is said to lie between them."""


class Equivalent(Frozen):
    """Where an R lies on a ladder: at a filter, between two, or past either end."""

    lower: str
    """The filter at it, or the softer of the two it lies between."""
    upper: str
    """The same filter, or the harder of the two."""
    past: Literal["softer", "harder"] | None = None
    source: Literal["typical", "own"]

    @property
    def sentence(self) -> str:
        """The filter in words, marked typical where it is."""
        if self.past is not None:
            words = say(f"paper.filter-{self.past}", filter=self.lower)
        elif self.lower == self.upper:
            words = say("paper.filter-at", filter=self.lower)
        else:
            words = say("paper.filter-between", lower=self.lower, upper=self.upper)
        return say("paper.filter-typical", words=words) if self.source == "typical" else words


def equivalent(range_exact: float, ladder: Ladder = TYPICAL) -> Equivalent:
    """Return the single filter that an R amounts to."""
    rungs = sorted(ladder.rungs, key=lambda rung: -rung.range_exact)
    softest, hardest = rungs[0], rungs[-1]
    # Past an end by more than stated R can tell apart.
    if range_exact > softest.range_exact + 5.0:
        return Equivalent(lower=softest.filter, upper=softest.filter, past="softer", source=ladder.source)
    if range_exact < hardest.range_exact - 5.0:
        return Equivalent(lower=hardest.filter, upper=hardest.filter, past="harder", source=ladder.source)
    for soft, hard in pairwise(rungs):
        if range_exact >= hard.range_exact:
            way = (soft.range_exact - range_exact) / max(soft.range_exact - hard.range_exact, 1e-9)
            lower = hard if way > HALF_WAY[1] else soft
            upper = soft if way < HALF_WAY[0] else hard
            return Equivalent(lower=lower.filter, upper=upper.filter, source=ladder.source)
    return Equivalent(lower=hardest.filter, upper=hardest.filter, source=ladder.source)


def nearest_filter(range_exact: float, ladder: Ladder = TYPICAL) -> Rung:
    """Return the rung whose R is nearest, the softer of two as near: contrast is easier added than taken away."""
    return min(ladder.rungs, key=lambda rung: (abs(rung.range_exact - range_exact), -rung.range_exact))
