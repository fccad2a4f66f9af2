"""A sensor's gains: how much more it counts through one than through another, and which one a reading goes through.

The figures of the data sheet say only which gain is worth trying. What is reckoned with are ratios that were measured
on this very sensor (`controller.lamp.gain_check`): no two are alike. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

from controller.easel.last_second import CYCLES
from controller.store.levels import GainsMeasured
from hardware.light_sensor import FULL, GAINS, Gain, Reading

NOMINAL: Final[dict[Gain, float]] = {"low": 1.0, "medium": 25.0, "high": 428.0, "max": 9876.0}
"""Typical ones of the TSL2591's public data sheet (from memory); to choose by, never to reckon with."""
MOST_RATE: Final = 0.85 * FULL * CYCLES
"""Counts a second up to which a gain is used: the sensor is dazzled at the rate of `FULL` a cycle."""
ROOM: Final = 32.0
"""A first spot, the densest, is read where another may be so many times brighter: 1.5 of density."""
_STEADY: Final = 3
"""Cycles alike by this share before another gain is tried: a hand is gone."""
_ALIKE: Final = 0.05


@dataclass(frozen=True, slots=True)
class Ratio:
    """How many times more is counted through the stronger gain; `uncertain` is a standard deviation, as a share."""

    ratio: float
    uncertain: float
    day: str = ""
    """When it was measured; of several links the oldest."""


@dataclass(frozen=True, slots=True)
class Gains:
    """What is known of one sensor's gains: each measured step from a gain to the next stronger one."""

    sensor: str = ""
    steps: dict[Gain, Ratio] = field(default_factory=dict)
    """By the weaker gain of the two."""

    def between(self, one: str, other: str) -> Ratio | None:
        """Return how many times more is counted through `other` than through `one`; None where that is not known."""
        if one == other:
            return Ratio(1.0, 0.0)
        if one not in GAINS or other not in GAINS:
            return None
        low, high = sorted((GAINS.index(one), GAINS.index(other)))
        found = [self.steps.get(gain) for gain in GAINS[low:high]]
        links = [link for link in found if link is not None]
        if len(links) < len(found):
            return None
        ratio = math.prod(link.ratio for link in links)
        uncertain = math.hypot(*(link.uncertain for link in links))
        up = GAINS.index(other) == high
        return Ratio(ratio if up else 1.0 / ratio, uncertain, min(link.day for link in links))

    def linked(self, gain: str) -> tuple[Gain, ...]:
        """Return the gains that compare with this one, itself among them, the weakest first."""
        return tuple(each for each in GAINS if self.between(gain, each) is not None)


def gains_of(rows: Iterable[tuple[GainsMeasured, str]], sensor: str) -> Gains:
    """Return what rows say of one sensor, each with the day it was filed; the last word on each step counts."""
    steps: dict[Gain, Ratio] = {}
    for row, day in rows:
        if row.sensor == sensor:
            steps |= {each.low: Ratio(each.ratio, each.uncertain, day) for each in row.ratios}
    return Gains(sensor, steps)


def gain_for(seen: Sequence[Reading], allowed: Sequence[Gain], kept_to: Gain | None, *, brightest: bool) -> Gain | None:
    """Return the gain to read on with, from what was read of late; None to leave it as it is.

    `allowed` are those that compare, the weakest first; `kept_to` is the one that the spots before went through, and
    counts where it is not dazzled. A reference is the `brightest` light there is, and needs no room above it.
    """
    last = seen[-_STEADY:]
    if len(last) < _STEADY or len({each.gain for each in last}) > 1 or not allowed or last[-1].gain == "":
        return None
    now: Gain = last[-1].gain
    if last[-1].full:
        weaker = [gain for gain in allowed if NOMINAL[gain] < NOMINAL[now]]
        return weaker[-1] if weaker else None
    rates = [each.light * 1e9 / (each.end_ns - each.start_ns) for each in last]
    if max(rates) - min(rates) > _ALIKE * max(*rates, 1000.0):
        return None
    most = MOST_RATE if brightest or kept_to is not None else MOST_RATE / ROOM
    fits = [gain for gain in allowed if max(rates[-1], 1.0) * NOMINAL[gain] / NOMINAL[now] <= most]
    best = fits[-1] if fits else allowed[0]
    if kept_to is not None and kept_to in fits:
        best = kept_to
    # near a border it stays as it is: the data sheet's figures are off by tens of per cent
    stays = now in allowed and now != best and NOMINAL[now] > NOMINAL[best] and rates[-1] <= min(2.0 * most, MOST_RATE)
    return None if best == now or stays else best
