"""What is to be printed: negatives on papers, each with a highlight and a shadow that have their places."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from scipy.optimize import brentq
from tools.hidden_papers import Hidden, of_the_family, outside, paper_one

LIGHT_OVER_WHITE = 0.10
DARK_SHARE = 0.88
"""The highlight is wanted 0.10 over paper white, a first tone; the shadow at 88 % of the paper's net density, the last
detail before black (common practice for both)."""
LIGHT_WITHIN = 0.04
DARK_WITHIN = 0.08
"""An acceptable print: an eye sees some 0.01 to 0.02 in a light grey and several times that near black (common
practice); twice to three times that is where prints begin to be called light or dark."""
NUMBERS = (-1.0, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0)
FILTERS = ("00", "0", "½", "1", "1½", "2", "2½", "3", "3½", "4", "4½", "5")
"""A classic set of twelve, 00 counted as −1."""
TEN_SECONDS = 10.0
OUTSIDE_EVERY = 4
"""Every fourth paper is none of the family that the program's model was made for."""


@dataclass(frozen=True)
class Aim:
    """A tone of the negative, where it is wanted in print, and how far off it may be."""

    negative: float
    printed: float
    within: float


@dataclass(frozen=True, eq=False)
class Job:
    """One negative on one paper under an enlarger of some brightness; `light` and `dark` are its two tones."""

    paper: Hidden
    brightness: float
    light: Aim
    dark: Aim

    def prints(self, soft: float, hard: float, aim: Aim) -> float:
        """Return the density that a tone gets from seconds of full soft and hard light."""
        return float(self.paper.densities(self.brightness * soft, self.brightness * hard, aim.negative))

    def good(self, soft: float, hard: float) -> bool:
        """Tell whether a print with these lights is acceptable, by its true densities."""
        return all(abs(self.prints(soft, hard, aim) - aim.printed) <= aim.within for aim in (self.light, self.dark))


def jobs(seed: int, count: int) -> list[Job]:
    """Return so many negatives that some mix of soft and hard light can print: nobody is asked for what nobody could.

    Density ranges 0.7 to 1.4, thinnest detail 0.15 to 0.45, the enlarger's brightness within a stop either way of
    a middling one, all evenly spread.
    """
    rng = np.random.default_rng(seed)
    found: list[Job] = []
    while len(found) < count:
        paper = outside(rng) if len(found) % OUTSIDE_EVERY == OUTSIDE_EVERY - 1 else of_the_family(rng)
        thin = rng.uniform(0.15, 0.45)
        dense = thin + rng.uniform(0.7, 1.4)
        brightness = 2.0 ** rng.uniform(-1.0, 1.0)
        net = paper.dmax - paper.dmin
        light = Aim(dense, paper.dmin + LIGHT_OVER_WHITE, LIGHT_WITHIN)
        job = Job(paper, brightness, light, Aim(thin, paper.dmin + DARK_SHARE * net, DARK_WITHIN))
        if _can_be_had(job):
            found.append(job)
    return found


def _can_be_had(job: Job) -> bool:
    """Tell whether the shadow wanted lies between all-soft and all-hard light that holds the highlight."""
    ends = []
    for soft, hard in ((1.0, 0.0), (0.0, 1.0)):
        stops = brentq(lambda s, a=soft, b=hard: job.prints(a * 2**s, b * 2**s, job.light) - job.light.printed, -20, 20)
        ends.append(job.prints(soft * 2**stops, hard * 2**stops, job.dark))
    return ends[0] < job.dark.printed < ends[1]


@dataclass(frozen=True)
class Filters:
    """What one second through a single filter is worth in soft and hard seconds: the same filters for all papers."""

    lights: dict[str, tuple[float, float]] = field(default_factory=dict)


@cache
def filters() -> Filters:
    """Return the twelve filters, from all soft to all hard light: on one middling paper R falls evenly by the number.

    All print alike at 0.60 over white there, for the same time, but for 4 and above, which need twice as much, as in
    classic sets (NAVEDTRA 14209, p. 298, seen). The same filters print other R on other papers.
    """
    paper = paper_one()
    made: dict[str, tuple[float, float]] = {}
    softest, hardest = paper.range(1.0, 0.0), paper.range(0.0, 1.0)
    for name, number in zip(FILTERS, NUMBERS, strict=True):
        wanted = softest + (hardest - softest) * (number - NUMBERS[0]) / (NUMBERS[-1] - NUMBERS[0])
        soft, hard = paper.shares(_share(paper, wanted))
        middle = brentq(lambda s, a=soft, b=hard: paper.densities(a * 2**s, b * 2**s, 0.8) - paper.dmin - 0.6, -20, 20)
        a_second = 2**middle / TEN_SECONDS / (2 if number >= 4 else 1)
        made[name] = (soft * a_second, hard * a_second)
    return Filters(made)


def _share(paper: Hidden, wanted: float) -> float:
    """Return the share of hard light that gives this R; an end of what can be had is all of one light."""
    softest, hardest = paper.range(1.0, 0.0), paper.range(0.0, 1.0)
    if wanted >= softest - 0.01:
        return 0.0
    if wanted <= hardest + 0.01:
        return 1.0
    return float(brentq(lambda share: paper.range(*paper.shares(share)) - wanted, 1e-6, 1 - 1e-6, xtol=1e-4))
