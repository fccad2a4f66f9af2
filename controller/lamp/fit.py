"""Lamp lag from a sensor: what lights of different length gave in all, and the straight line through them. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from controller.errors import Impossible
from controller.words import say

LEAST_LIGHTS: Final = 4
LARGEST_LAG_S: Final = 0.5
UNCERTAIN_S: Final = 0.03
"""An uncertainty (one standard deviation) from which on the figure is no use: 8 × 1 s would be off by 0.04 stop."""

ROUNDED_S: Final = 0.001 / math.sqrt(12)
"""The lag is used in whole milliseconds, so it is never better known than that: an even spread over 1 ms (derived)."""


@dataclass(frozen=True, slots=True)
class Total:
    """What the sensor counted of one light whose line was lit for `lit_s` seconds, the dark taken off."""

    lit_s: float
    light: float


@dataclass(frozen=True, slots=True)
class Line:
    """y = slope·x + intercept, and the standard deviation of what is left over (n − 2 degrees of freedom)."""

    slope: float
    intercept: float
    residual: float


@dataclass(frozen=True, slots=True)
class LagFit:
    """light(t) = k·(t − t0): counts per second of full light, and the lag in seconds with its standard deviation."""

    per_second: float
    lag_s: float
    uncertain_s: float


def line(points: Sequence[tuple[float, float]]) -> Line:
    """Return the least-squares line through `points` (x, y); at least three, of two different x.

    Raises:
        ValueError: too few points, or all at one x.
    """
    n = len(points)
    if n < 3 or len({x for x, _ in points}) < 2:
        raise ValueError("a line with its scatter needs three points, not all at one place")
    mean_x, mean_y = math.fsum(x for x, _ in points) / n, math.fsum(y for _, y in points) / n
    spread = math.fsum((x - mean_x) ** 2 for x, _ in points)
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in points) / spread
    intercept = mean_y - slope * mean_x
    left_over = math.fsum((y - slope * x - intercept) ** 2 for x, y in points)
    return Line(slope, intercept, math.sqrt(left_over / (n - 2)))


def fit_lag(totals: Sequence[Total]) -> LagFit:
    """Return k and t0 of light(t) = k·(t − t0) by least squares, t0 with its uncertainty.

    t0 is where the line crosses nought: −a/b. Its variance is s²/b²·(1/n + (t0 − t̄)²/Σ(t − t̄)²), the spread of a
    line's prediction divided by its slope (derived, first order), and that of rounding to whole milliseconds.

    Raises:
        Impossible: too few lights, no light, a lag that no lamp has, or one that is too uncertain to be of use.
    """
    if len(totals) < LEAST_LIGHTS or len({total.lit_s for total in totals}) < 2:
        raise Impossible(say("lamp.fit-few", least=LEAST_LIGHTS))
    points = [(total.lit_s, total.light) for total in totals]
    through = line(points)
    if through.slope <= 0 or max(total.light for total in totals) <= 0:
        raise Impossible(say("lamp.fit-no-light"))
    lag_s = -through.intercept / through.slope
    mean_x = math.fsum(x for x, _ in points) / len(points)
    spread = math.fsum((x - mean_x) ** 2 for x, _ in points)
    scatter_s = through.residual / through.slope * math.sqrt(1 / len(points) + (lag_s - mean_x) ** 2 / spread)
    uncertain_s = math.hypot(scatter_s, ROUNDED_S)
    if uncertain_s > UNCERTAIN_S:
        raise Impossible(say("lamp.fit-uncertain", lag=f"{lag_s:.2f}", uncertain=f"{uncertain_s:.2f}"))
    if not -3 * uncertain_s - 0.005 <= lag_s <= LARGEST_LAG_S:
        raise Impossible(say("lamp.fit-lag", lag=f"{lag_s:.2f}", most=f"{LARGEST_LAG_S:g}"))
    return LagFit(through.slope, max(0.0, lag_s), uncertain_s)
