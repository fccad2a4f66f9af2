"""The printer: eyes that err, a hand that errs, a clock on the wall, and the same patience every time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from benchmarks.economy.world import Aim, Job

LIGHT_EYE, DARK_EYE = 0.012, 0.030
"""How far off an eye is, as standard deviations of density, in a first tone and near black."""
HAND_S = 0.25
"""How far off a hand at a switch and an eye on a clock's second hand are for each light, as a standard deviation."""
LAG_S = 0.07
"""Full light that a lamp loses each time it comes on (facts: 100 W tungsten, 0.06 to 0.07 s)."""
SATISFIED = 0.9
"""A print is called good when both tones look to be within this share of what is acceptable."""
MOST_PRINTS = 8
"""Whole sheets spent on one negative before the printer gives it up."""
STRIP_MIN, PRINT_MIN = 5.0, 7.0
"""Minutes for a strip and for a print: set up, develop to fix, carry it into white light and look (common practice
with RC paper). The light comes on top, since some ways give more of it than others."""
BETWEEN_S = 4.0
"""Seconds before each light: a card moved, a lead-in or a reach for the switch."""
FILTER_MIN = 0.5
"""To change the filter and to see that nothing has moved."""
PAGE_MIN = 0.5
"""To tell the program what a strip or print looked like."""
RING = 4
"""Stops that the lens can be opened or stopped down from where the printer begins."""
STRIP_SHARE = 0.25
"""A strip is a quarter of a sheet."""


@dataclass
class Printer:
    """One printer; the same seed errs the same way, whatever the way of working."""

    rng: np.random.Generator
    exact: bool
    """Whether lights are given by the keeper, the lamp's lag taken off; by hand otherwise."""
    strips: int = 0
    prints: int = 0
    lights: int = 0
    lit_s: float = 0.0
    filter: str = ""
    filters: int = 0
    """How often a filter was put in."""
    told: int = 0
    """How often the program was told what a strip or print looked like."""
    aperture: float = 1.0
    """Light through the lens, against the aperture that the printer begins with."""

    @property
    def sheets(self) -> float:
        """Paper used, in sheets."""
        return self.prints + STRIP_SHARE * self.strips

    @property
    def minutes(self) -> float:
        """Time used."""
        lit = (self.lit_s + BETWEEN_S * self.lights) / 60.0
        return (
            PRINT_MIN * self.prints + STRIP_MIN * self.strips + lit + FILTER_MIN * self.filters + PAGE_MIN * self.told
        )

    def light(self, seconds: float, through: str) -> float:
        """Give one light, and return the full light that it came to, in seconds at the first aperture."""
        if seconds <= 0:
            return 0.0
        self.lights += 1
        self.lit_s += seconds
        if through != self.filter:
            self.filter = through
            self.filters += 1
        if self.exact:
            return seconds * self.aperture
        return max(0.0, seconds + self.rng.normal(0.0, HAND_S) - LAG_S) * self.aperture

    def sees(self, density: float, aim: Aim) -> float:
        """Return how far a tone looks to be from where it is wanted; positive is too dark."""
        return density + self.rng.normal(0.0, DARK_EYE if aim.within > 0.05 else LIGHT_EYE) - aim.printed

    def turn(self, stops: int) -> bool:
        """Open the lens up by so many stops, or stop it down; tell whether the ring goes that far."""
        self.aperture *= 2.0**stops
        return 2.0**-RING <= self.aperture <= 2.0**RING

    def pick(self, densities: Sequence[float], aim: Aim) -> float:
        """Return the band, from 0, whose tone looks best; a half is the line between two. −1: all too dark.

        As many bands as there are: all too light.
        """
        seen = [self.sees(density, aim) for density in densities]
        if seen[0] > aim.within:
            return -1.0
        if seen[-1] < -aim.within:
            return float(len(seen))
        best = min(range(len(seen)), key=lambda band: abs(seen[band]))
        for other in (best - 1, best + 1):
            between = 0 <= other < len(seen) and seen[other] * seen[best] < 0
            if between and abs(seen[other]) < 2.0 * abs(seen[best]):
                return (best + other) / 2
        return float(best)

    def step(self, off: float, aim: Aim) -> float:
        """Return by how many stops a printer who knows no better changes the light: a sixth, a third, two thirds."""
        size = 1 / 6 if abs(off) < 1.5 * aim.within else 1 / 3 if abs(off) < 3 * aim.within else 2 / 3
        return -size if off > 0 else size

    def says(self, off: float, aim: Aim) -> float:
        """Return what a printer's word for how a tone looks stands for: right, a little off, clearly off, far off.

        The same three sizes that the steps of `step` go by, in the middle of each: nobody reads densities off a print.
        """
        size = abs(off) / aim.within
        word = 0.0 if size <= 0.75 else 1.1 if size < 1.5 else 2.25 if size < 3.0 else 4.0
        return float(np.copysign(word * aim.within, off))

    def pleased(self, off_light: float, off_dark: float, job: Job) -> bool:
        """Tell whether the print on the table will do."""
        return abs(off_light) <= SATISFIED * job.light.within and abs(off_dark) <= SATISFIED * job.dark.within


def at(totals: Sequence[float], place: float) -> float:
    """Return the seconds of a picked place: a band's, or the geometric mean of two bands'."""
    low, high = totals[int(place)], totals[int(place + 0.5)]
    return float(np.sqrt(low * high))
