"""What a light sensor's readings say of one light: its total, its level, whether it was seen, whether it went. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final

from controller.errors import Impossible
from controller.lamp.fit import Total
from controller.words import say
from hardware.light_sensor import Reading

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
