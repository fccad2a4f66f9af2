"""What a light sensor's readings say of one light: its total, its level, whether it was seen, whether it went. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final

from controller.errors import Impossible
from controller.lamp.check_plans import CheckName
from controller.lamp.gain_check import WEIGHED_NS, in_words, measured
from controller.store.entries import LagFound, LampChecked
from controller.store.levels import GainsMeasured
from controller.words import say
from hardware.light_sensor import Reading

Weighed = LagFound | LampChecked | GainsMeasured
"""What a check leaves in the journal."""
AFTER_NS: Final = 500_000_000
"""So long after dark no lamp glows any more: light seen then is light that did not go out."""
SETTLE_NS: Final = 900_000_000
"""What comes this long after dark still counts to a light's total: a slow lamp's glow."""
_DARK_NS: Final = 800_000_000
"""The dark before a light is read over this span."""
RISE_NS: Final = 1_000_000_000
"""A light's level is read from this long after it came on."""
_NOISE: Final = 8.0
_SHARE: Final = 0.05
"""Light after dark is light where it is more than this share of what was seen while it was lit."""


@dataclass(frozen=True, slots=True)
class Span:
    """One light of the lamp line: when it came on and went dark, monotonic ns."""

    on_ns: int
    dark_ns: int


def dark_level(readings: Sequence[Reading], on_ns: int) -> float | None:
    """Return what the sensor counts in a cycle of the dark just before a light; None where it was not looking."""
    before = [r.light for r in readings if r.start_ns >= on_ns - _DARK_NS and r.end_ns <= on_ns]
    return fmean(before) if before else None


def total(readings: Sequence[Reading], span: Span) -> Total:
    """Return what a light gave in all, the dark taken off.

    Raises:
        Impossible: the sensor was dazzled, or missed a cycle while it should have counted.
    """
    dark = dark_level(readings, span.on_ns)
    end_ns = span.dark_ns + SETTLE_NS
    inside = [r for r in readings if r.end_ns > span.on_ns and r.start_ns < end_ns]
    if dark is None or not inside or inside[0].start_ns > span.on_ns or inside[-1].end_ns < end_ns:
        raise Impossible(say("lamp.sensor-missed"))
    if any(later.start_ns > earlier.end_ns for earlier, later in pairwise(inside)):
        raise Impossible(say("lamp.sensor-missed"))
    if any(r.full for r in inside):
        raise Impossible(say("lamp.sensor-dazzled"))
    return Total((span.dark_ns - span.on_ns) / 1e9, math.fsum(r.light - dark for r in inside))


def level(readings: Sequence[Reading], span: Span) -> float:
    """Return a light's steady level in counts a second, the dark taken off.

    Raises:
        Impossible: the sensor was dazzled, saw nothing, or was not looking.
    """
    dark = dark_level(readings, span.on_ns)
    inside = [r for r in readings if r.start_ns >= span.on_ns + RISE_NS and r.end_ns <= span.dark_ns]
    if dark is None or not inside:
        raise Impossible(say("lamp.sensor-missed"))
    if any(r.full for r in inside):
        raise Impossible(say("lamp.sensor-dazzled"))
    rates = [(r.light - dark) * 1e9 / (r.end_ns - r.start_ns) for r in inside]
    if fmean(r.light - dark for r in inside) <= _threshold(dark):
        raise Impossible(say("lamp.fit-no-light"))
    return fmean(rates)


def rise_of(readings: Sequence[Reading], span: Span, steady: float) -> tuple[tuple[int, float], ...]:
    """Return how a lamp came up: the middle of each cycle of its first second, in ms, and the share of `steady`."""
    dark = dark_level(readings, span.on_ns)
    if dark is None or steady <= 0:
        return ()
    cycles = [r for r in readings if r.start_ns >= span.on_ns and r.end_ns <= span.on_ns + RISE_NS]
    return tuple(
        (
            (r.start_ns + r.end_ns - 2 * span.on_ns) // 2_000_000,
            round(min(1.0, max(0.0, (r.light - dark) * 1e9 / (r.end_ns - r.start_ns) / steady)), 4),
        )
        for r in cycles
    )


def seen(readings: Sequence[Reading], span: Span) -> bool | None:
    """Tell whether the sensor saw a light; None where it was not looking, or too little of it fell into one cycle."""
    dark = dark_level(readings, span.on_ns)
    inside = [r.light for r in readings if r.start_ns >= span.on_ns and r.end_ns <= span.dark_ns]
    if dark is None or not inside:
        return None
    return max(inside) - dark > _threshold(dark)


def still_there(readings: Sequence[Reading], span: Span, reading: Reading) -> bool:
    """Tell whether `reading`, half a second or more after a light that was seen, still shows it."""
    dark = dark_level(readings, span.on_ns)
    inside = [r.light for r in readings if r.start_ns >= span.on_ns and r.end_ns <= span.dark_ns]
    if dark is None or not inside or max(inside) - dark <= _threshold(dark):
        return False
    return reading.light - dark > max(_threshold(dark), _SHARE * (max(inside) - dark))


def _threshold(dark: float) -> float:
    return _NOISE + 0.1 * dark


def stops_between(level_now: float, level_then: float) -> float:
    """Return how much stronger (above 0) or weaker a light is than another, in stops: log2 of their ratio."""
    return math.log2(level_now / level_then)


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
class FittedLine:
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


def line(points: Sequence[tuple[float, float]]) -> FittedLine:
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
    return FittedLine(slope, intercept, math.sqrt(left_over / (n - 2)))


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


@dataclass(frozen=True, slots=True)
class Due:
    """A check whose lights are all given: what the sensor counted is to be weighed."""

    name: CheckName
    spans: tuple[Span, ...]

    @property
    def by_ns(self) -> int:
        """When the last of it has been counted."""
        return self.spans[-1].dark_ns + (WEIGHED_NS if self.name == "gains" else SETTLE_NS)


def weighed(due: Due, seen: Sequence[Reading], sensor: str) -> tuple[Weighed | None, str]:
    """Return what is to be filed of a check, if anything, and what the page says of it."""
    try:
        if due.name == "sensor":
            fit = fit_lag([total(seen, span) for span in due.spans])
            row = LagFound(way="sensor", lag_ms=fit.lag_s * 1000, uncertain_ms=fit.uncertain_s * 1000)
            uncertain = f"{max(1, math.ceil(fit.uncertain_s * 1000)) / 1000:.3f}"
            return row, say("lamp.lag-found", lag=f"{fit.lag_s:.3f}", uncertain=uncertain)
        if due.name == "gains":
            gains = measured(seen, due.spans[0].on_ns, due.spans[0].dark_ns, sensor)
            return gains, say("lamp.gains-found", steps=in_words(gains.ratios))
        steady = level(seen, due.spans[0])
        rise = rise_of(seen, due.spans[0], steady)
        return LampChecked(level=steady, sensor=sensor, rise=rise), say("lamp.checked")
    except Impossible as refusal:
        return None, str(refusal)
