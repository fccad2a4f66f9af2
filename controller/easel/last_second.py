"""The last second before a press, counted: one spot's level, or why there is none. Pure.

Ten cycles that follow each other without a gap and end before the press's first contact, through one gain, of a light
that was on for two seconds or more; less the dark, counted from 0.9 to 1.7 s after the light with the probe in place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final

from controller.errors import Impossible
from controller.words import say
from hardware.light_sensor import Gain, Reading

CYCLES: Final = 10
LIT_NS: Final = 2_000_000_000
DARK_FROM_NS: Final = 900_000_000
DARK_TO_NS: Final = 1_700_000_000
LEAST_COUNTS: Final = 400
MOST_DRIFT: Final = 0.01
"""Density between the two half seconds: a hand, the probe, or the mains moved."""
MOST_STRAY: Final = 0.1
"""Of the lamp's own counts, what the dark may count."""
_GAP_NS: Final = 20_000_000
"""Cycles that are this near to each other follow each other: a sensor's clock is not the machine's."""


@dataclass(frozen=True, slots=True)
class Counted:
    """What was counted of a spot: `level` in counts a second through `gain`, the dark taken off; `dark` alike."""

    level: float
    dark: float
    gain: Gain


def counted(readings: Sequence[Reading], on_ns: int, press_ns: int, dark_ns: int) -> Counted:
    """Return the level of the spot whose light came on, was ended by a press's first contact, and went dark.

    `readings` are what the sensor counted, oldest first, up to `DARK_TO_NS` after the dark; times are monotonic.

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
    if counts < LEAST_COUNTS:
        raise Impossible(say("easel.faint", counts=max(0, round(counts)), least=LEAST_COUNTS))
    if dark * lit_s > MOST_STRAY * counts:
        raise Impossible(say("easel.stray", share=round(100.0 * dark * lit_s / counts)))
    halves = [fmean(_rate(each) for each in half) - dark for half in (last[: CYCLES // 2], last[CYCLES // 2 :])]
    drift = abs(math.log10(halves[0] / halves[1])) if min(halves) > 0.0 else math.inf
    if drift > MOST_DRIFT:
        raise Impossible(say("easel.unsteady", off=f"{drift:.2f}"))
    return Counted(counts / lit_s, max(0.0, dark), gain)


def _rate(reading: Reading) -> float:
    return reading.light * 1e9 / (reading.end_ns - reading.start_ns)
