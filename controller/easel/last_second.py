"""The last seconds before a press, counted: one spot's level, or why there is none. Pure.

Ten cycles that follow each other without a gap and end before the press's first contact, through one gain, of a light
that was on for two seconds or more; less the dark, counted from 0.9 to 1.7 s after the light with the probe in place.
Whole seconds before these, up to five in all, are summed with them where they say the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, stdev
from typing import Final

from controller.errors import Impossible
from controller.words import say
from hardware.light_sensor import Gain, Reading

CYCLES: Final = 10
LIT_NS: Final = 2_000_000_000
DARK_FROM_NS: Final = 900_000_000
DARK_TO_NS: Final = 1_700_000_000
LEAST_COUNTS: Final = 400
"""Of a second."""
MOST_SECONDS: Final = 5
SAME: Final = 0.005
"""Density within which a second before says the same as the last: a quarter of what a reading is to be good for."""
RISE_NS: Final = 1_000_000_000
"""A lamp is up by then, and a second before that is not summed."""
MOST_DRIFT: Final = 0.01
"""Density between the two half seconds: a hand, the probe, or the mains moved."""
MOST_STRAY: Final = 0.1
"""Of the lamp's own counts, what the dark may count."""
_GAP_NS: Final = 20_000_000
"""Cycles that are this near to each other follow each other: a sensor's clock is not the machine's."""


@dataclass(frozen=True, slots=True)
class Counted:
    """What was counted of a spot: `level` in counts a second through `gain`, the dark taken off; `dark` alike.

    `doubt` is the standard deviation of its density, as the counts of light and of dark scatter, and `seconds` are
    those that were summed.
    """

    level: float
    dark: float
    gain: Gain
    doubt: float = 0.0
    seconds: int = 1


def counted(
    readings: Sequence[Reading], on_ns: int, press_ns: int, dark_ns: int, *, dim: tuple[float, Gain] | None = None
) -> Counted:
    """Return the level of the spot whose light came on, was ended by a press's first contact, and went dark.

    `readings` are what the sensor counted, oldest first, up to `DARK_TO_NS` after the dark; times are monotonic.
    Under the level of `dim`, through its gain, only that it is dark there is asked for: however few its counts are,
    they do, and a quarter of that level is told at the least.

    Raises:
        Impossible: no level can be told; the sentence says why, and what to do.
    """
    if press_ns - on_ns < LIT_NS:
        raise Impossible(say("easel.too-soon", least=LIT_NS // 1_000_000_000))
    last = [each for each in readings if each.start_ns >= on_ns and each.end_ns <= press_ns][-CYCLES:]
    if len(last) < CYCLES or any(later.start_ns - earlier.end_ns > _GAP_NS for earlier, later in pairwise(last)):
        raise Impossible(say("easel.missed"))
    gains = {each.gain for each in last}
    gain = last[0].gain
    if len(gains) > 1 or gain == "" or press_ns - last[-1].end_ns > _GAP_NS + (last[0].end_ns - last[0].start_ns):
        raise Impossible(say("easel.missed"))
    if any(each.full for each in last):
        raise Impossible(say("easel.dazzled", gain=gain))
    after = [
        each
        for each in readings
        if each.start_ns >= dark_ns + DARK_FROM_NS and each.end_ns <= dark_ns + DARK_TO_NS and each.gain == gain
    ]
    if not after:
        raise Impossible(say("easel.no-dark"))
    dark = fmean(_rate(each) for each in after)
    lit_s = sum(each.end_ns - each.start_ns for each in last) / 1e9
    counts = math.fsum(each.light for each in last) - dark * lit_s
    if dim is not None and gain == dim[1] and counts / lit_s < dim[0]:
        return Counted(max(counts / lit_s, dim[0] / 4.0), max(0.0, dark), gain)
    if counts < LEAST_COUNTS:
        raise Impossible(say("easel.faint", counts=max(0, round(counts)), least=LEAST_COUNTS))
    if dark * lit_s > MOST_STRAY * counts:
        raise Impossible(say("easel.stray", share=round(100.0 * dark * lit_s / counts)))
    halves = [fmean(_rate(each) for each in half) - dark for half in (last[: CYCLES // 2], last[CYCLES // 2 :])]
    drift = abs(math.log10(halves[0] / halves[1])) if min(halves) > 0.0 else math.inf
    if drift > MOST_DRIFT:
        spread = _spread([_rate(each) for each in last]) / (counts / lit_s) / math.log(10.0)
        off = spread / math.sqrt(len(last))  # of the second; of what its halves differ by, twice that
        if drift < 2.0 * 2.0 * off:  # a step within the second would be six times `off`
            raise Impossible(say("easel.scatter", off=f"{off:.2f}"))
        raise Impossible(say("easel.unsteady", off=f"{drift:.2f}"))
    summed = [*_seconds_before(readings, last, on_ns, dark), *last]
    rates = [_rate(each) for each in summed]
    level = fmean(rates) - dark
    scatter = _spread(rates) ** 2 / len(summed) + _spread([_rate(each) for each in after]) ** 2 / len(after)
    return Counted(level, max(0.0, dark), gain, math.sqrt(scatter) / level / math.log(10.0), len(summed) // CYCLES)


def _seconds_before(readings: Sequence[Reading], last: Sequence[Reading], on_ns: int, dark: float) -> list[Reading]:
    """Return the cycles of whole seconds before the last one that follow each other up to it and say the same."""
    found: list[Reading] = []
    first, level = last[0], fmean(_rate(each) for each in last) - dark
    before = [each for each in readings if each.start_ns >= on_ns + RISE_NS and each.end_ns <= first.end_ns]
    for _ in range(MOST_SECONDS - 1):
        second = before[-1 - CYCLES - len(found) : len(before) - 1 - len(found)]
        chain = [*second, found[0] if found else first]
        if len(second) < CYCLES or any(b.start_ns - a.end_ns > _GAP_NS for a, b in pairwise(chain)):
            break
        mean = fmean(_rate(each) for each in second) - dark
        if any(each.full or each.gain != first.gain for each in second) or mean <= 0.0:
            break
        if abs(math.log10(mean / level)) > SAME:
            break
        found = [*second, *found]
    return found


def _spread(rates: Sequence[float]) -> float:
    return stdev(rates) if len(rates) > 1 else 0.0


def _rate(reading: Reading) -> float:
    return reading.light * 1e9 / (reading.end_ns - reading.start_ns)
