"""Readings at the easel: two spots measured, a pair at once, then verdicts; and how far spots and evenings may be off.

The sensor's noise is the practice sensor's own (`hardware.practice.sensor`, with its sources): at gain high a spot
that gives 40 counts a cycle and more scatters by less than 0.01. What a probe laid a little beside the tone is off by,
and what all spots of an evening share, is added in the rows that say so.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from decimal import Decimal
from functools import partial

from benchmarks.economy.printer import MOST_PRINTS, Printer
from benchmarks.economy.verdicts import word
from benchmarks.economy.ways import calibrated_paper
from benchmarks.economy.world import DARK_SHARE, LIGHT_OVER_WHITE, Job

from controller.contrast.how_it_looked import Looks, Wish, mend
from controller.easel.last_second import CYCLES, LEAST_COUNTS
from controller.easel.spots import Measured
from controller.easel.two_tones import reckon
from hardware.light_sensor import Gain
from hardware.practice.sensor import DARK, TIMES, counted

REFERENCE_PER_S = 48_210.0
"""Counts a second of the empty light at gain high, at the brightness that the paper was read at."""
SPOT_MIN = 0.35
"""Minutes for a spot: press, lead-in, lay the probe, two seconds and more, press, the dark counted."""
SET_UP_MIN = 0.5
"""The probe laid out and put away again, once a negative."""

Way = Callable[[Job, Printer], bool]


def readings(job: Job, printer: Printer, *, spot_error: float = 0.0, common_error: float = 0.0) -> bool:
    """Measure the two tones, print the pair, and go on by verdicts."""
    paper = calibrated_paper(job)
    wished = paper.dmin + LIGHT_OVER_WHITE, paper.dmin + DARK_SHARE * (paper.dmax - paper.dmin)
    common = printer.rng.normal(0.0, common_error) if common_error else 0.0
    spots = tuple(
        Measured(name, _density(job, aim.negative, printer) + common + printer.rng.normal(0.0, spot_error), wanted)
        for name, aim, wanted in (("highlight", job.light, wished[0]), ("shadow", job.dark, wished[1]))
    )
    printer.lit_s += 2 * 60.0 * SPOT_MIN + 60.0 * SET_UP_MIN
    found = reckon(paper, spots)
    soft, hard = round(found.pair.soft_seconds, 1), round(found.pair.hard_seconds, 1)
    while printer.prints < MOST_PRINTS:
        lights = printer.light(soft, "soft"), printer.light(hard, "hard")
        printer.prints += 1
        off_light = printer.sees(job.prints(*lights, job.light), job.light)
        off_dark = printer.sees(job.prints(*lights, job.dark), job.dark)
        if printer.pleased(off_light, off_dark, job):
            return job.good(*lights)
        printer.told += 1
        looks = Looks(light=word(off_light, job.light), dark=word(off_dark, job.dark))
        wish = Wish(light=wished[0], dark=wished[1])
        after = mend(looks, Decimal(f"{soft:.1f}"), Decimal(f"{hard:.1f}"), paper=paper, wish=wish)
        soft, hard = float(after.soft_seconds), float(after.hard_seconds)
    return False


def _density(job: Job, negative: float, printer: Printer) -> float:
    """Return what the practice sensor makes of a tone: a second's counts against the reference's, noise and all."""
    dice = random.Random(int(printer.rng.integers(2**31)))
    gain: Gain = "high"
    a_cycle = REFERENCE_PER_S * job.brightness * 10.0**-negative / CYCLES
    if a_cycle * CYCLES < 2.0 * LEAST_COUNTS:
        gain = "max"
    counts = sum(counted(a_cycle, gain, dice) for _ in range(CYCLES))
    reference = sum(counted(REFERENCE_PER_S / CYCLES, "high", dice) for _ in range(CYCLES))
    level = (counts - CYCLES * DARK[gain]) / TIMES[gain]
    assert counts >= LEAST_COUNTS
    return math.log10((reference - CYCLES * DARK["high"]) / level)


WAYS: tuple[tuple[str, Way], ...] = (
    ("readings at the easel, the sensor's own noise", readings),
    ("the same, spots off by 0.02, evening by 0.02", partial(readings, spot_error=0.02, common_error=0.02)),
    ("the same, spots off by 0.03, evening by 0.02", partial(readings, spot_error=0.03, common_error=0.02)),
    ("the same, spots off by 0.05, evening by 0.02", partial(readings, spot_error=0.05, common_error=0.02)),
    ("the same, spots off by 0.02, evening by 0.10", partial(readings, spot_error=0.02, common_error=0.10)),
)
