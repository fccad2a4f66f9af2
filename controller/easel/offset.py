"""The evening's offset: one error that all spots of an evening share (box, bulb, developer), learned from verdicts.

Before any verdict it is 0 with a standard deviation of 0.05 density; a verdict tells it with one of 0.03 (both from
trials; docs/explanation/paper-economy.md). A scalar Bayes rule joins them (any textbook: precisions add, and the mean
is weighted by them). It belongs to one evening and one box.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.easel.spots import Measured

if TYPE_CHECKING:
    from controller.paper.paper import Paper

PRIOR: Final = 0.05
VERDICT: Final = 0.03
MOST_SEEN: Final = 0.30
"""A verdict that asks for more, a stop, is not the evening's: a spot was laid elsewhere, or the paper is another."""
LIGHT_WITHIN: Final = 0.04
DARK_WITHIN: Final = 0.08
"""What is tolerated in either tone; the surer tone of a verdict counts for more (as `controller.contrast`)."""


@dataclass(frozen=True, slots=True)
class Offset:
    """What is added to every density of an evening, and how sure that is, as a standard deviation."""

    density: float = 0.0
    spread: float = PRIOR


def learned(seen: Iterable[float]) -> Offset:
    """Return the offset after verdicts, each the whole offset that its print alone would say."""
    precision, weighed = 1.0 / PRIOR**2, 0.0
    for each in seen:
        precision += 1.0 / VERDICT**2
        weighed += max(-MOST_SEEN, min(MOST_SEEN, each)) / VERDICT**2
    return Offset(weighed / precision, precision**-0.5)


def seen_by(
    paper: Paper, lights: tuple[float, float], spots: tuple[Measured, Measured], off: tuple[float, float]
) -> float:
    """Return the offset that one print says.

    `lights` are the soft and hard seconds it had, `spots` its light and dark tone without any offset, with the print
    densities that the printer then judged it against, and `off` how far off the two looked, over 0 too dark. The shift
    of both densities that explains the looks best, each weighted by what is tolerated in it (least squares).
    """
    from controller.paper.emulsions import densities, mixture

    mix = mixture(paper)
    low, high = -MOST_SEEN, MOST_SEEN
    looked = [spot.wanted + each for spot, each in zip(spots, off, strict=True) if spot.wanted is not None]
    within = (LIGHT_WITHIN, DARK_WITHIN)

    def miss(shift: float) -> float:
        printed = [float(densities(mix, *lights, spot.density + shift)) for spot in spots]
        return sum(((a - b) / c) ** 2 for a, b, c in zip(printed, looked, within, strict=True))

    steps = 121
    for _ in range(3):
        tries = [low + (high - low) * n / (steps - 1) for n in range(steps)]
        best = min(range(steps), key=lambda n: miss(tries[n]))
        low, high = tries[max(0, best - 1)], tries[min(steps - 1, best + 1)]
    return (low + high) / 2.0
