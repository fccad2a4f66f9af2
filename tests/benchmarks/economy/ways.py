"""Three ways to a print: seconds at one grade, stops and split-grade, and the same with a calibrated paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from benchmarks.economy.printer import MOST_PRINTS, SATISFIED, Printer, at
from benchmarks.economy.world import DARK_SHARE, FILTERS, LIGHT_OVER_WHITE, Job, filters
from tools.hidden_papers import BOX, Hidden, readings

from controller.exposure.strip_times import stop_totals
from controller.paper.fit import fit
from controller.paper.paper import Paper
from controller.paper.solver import OutOfReach, Tone, from_picks, pair, soft_hard

THIRD = Fraction(1, 3)
BANDS = 7
SECONDS_STEP = 3.0
CENTRE_S = 12.0
FIRST_FILTER = FILTERS.index("2")
MOST_STRIPS = 12
SHORTEST_CENTRE_S, LONGEST_CENTRE_S = 0.5, 400.0

Way = Callable[[Job, Printer], bool]
"""Prints one negative; returns whether the printer stopped at a print that is acceptable."""


def covered(printer: Printer, totals: list[float], through: str) -> list[float]:
    """Return what each band of a covered strip gets: lights that are the differences, each given anew."""
    pulses = [totals[0], *np.diff(totals)]
    return list(np.cumsum([printer.light(float(pulse), through) for pulse in pulses]))


# ---- seconds, one grade at a time


@dataclass
class Drawer:
    """The filters as a printer goes through them: never back beyond one that was seen to be too soft or too hard."""

    at: int = FIRST_FILTER
    too_soft: int = -1
    too_hard: int = len(FILTERS)

    @property
    def name(self) -> str:
        """The filter that is in."""
        return FILTERS[self.at]

    def change(self, off_dark: float, step: float) -> bool:
        """Put in another: half a number, one or two on, as the shadow looks; return False where none is left to try."""
        places = round(6 * abs(step))
        if off_dark < 0:
            self.too_soft = max(self.too_soft, self.at)
            self.at = min(self.at + places, self.too_hard - 1)
        else:
            self.too_hard = min(self.too_hard, self.at)
            self.at = max(self.at - places, self.too_soft + 1)
        if self.too_soft < self.at < self.too_hard:
            return True
        self.at = self.too_soft if off_dark < 0 else self.too_hard
        return False


def _strip_in_seconds(job: Job, printer: Printer, through: str) -> tuple[float, float] | None:
    """Make strips of 3 s a band until one has the highlight; return the seconds, and how far off the shadow looks.

    None where patience ends. The shadow is looked at in the picked band, where it lies beside the highlight.
    """
    soft, hard = filters().lights[through]
    totals = [SECONDS_STEP * band for band in range(1, BANDS + 1)]
    while printer.strips < MOST_STRIPS:
        given = covered(printer, totals, through)
        printer.strips += 1
        place = printer.pick([job.prints(soft * t, hard * t, job.light) for t in given], job.light)
        if 0 <= place < BANDS:
            shadow = job.prints(soft * at(given, place), hard * at(given, place), job.dark)
            return at(totals, place), printer.sees(shadow, job.dark)
        if not printer.turn(2 if place >= BANDS else -2):
            return None
    return None


def _strips_to_a_filter(job: Job, printer: Printer, drawer: Drawer) -> float | None:
    """Make a strip, and another through another filter as often as the shadow in the picked band asks for it."""
    while (found := _strip_in_seconds(job, printer, drawer.name)) is not None:
        seconds, off_dark = found
        if abs(off_dark) <= SATISFIED * job.dark.within:
            return seconds
        if not drawer.change(off_dark, printer.step(off_dark, job.dark)):
            return seconds
    return None


def seconds_one_grade(job: Job, printer: Printer) -> bool:
    """Strips of fixed 3 s, then trial and error in whole seconds through one filter: the shadow comes as it comes."""
    drawer = Drawer()
    found = _strip_in_seconds(job, printer, drawer.name)
    return found is not None and _by_trial(job, printer, found[0], drawer, may_change=False)


def seconds_any_grade(job: Job, printer: Printer) -> bool:
    """The same, but the printer changes the filter as often as the shadow asks for it, in a strip or in a print."""
    drawer = Drawer()
    seconds = _strips_to_a_filter(job, printer, drawer)
    return seconds is not None and _by_trial(job, printer, seconds, drawer, may_change=True)


def _by_trial(job: Job, printer: Printer, seconds: float, drawer: Drawer, *, may_change: bool) -> bool:
    """Print until it will do: the time first, till the highlight holds, then, where that is open, the filter."""
    while printer.prints < MOST_PRINTS:
        soft, hard = filters().lights[drawer.name]
        given = printer.light(seconds, drawer.name)
        printer.prints += 1
        lights = soft * given, hard * given
        off_light = printer.sees(job.prints(*lights, job.light), job.light)
        off_dark = printer.sees(job.prints(*lights, job.dark), job.dark)
        if printer.pleased(off_light, off_dark, job):
            return job.good(*lights)
        if abs(off_light) > SATISFIED * job.light.within:
            changed = seconds * 2 ** printer.step(off_light, job.light)
            seconds = max(1.0, float(round(changed)) if round(changed) != round(seconds) else changed)
        elif may_change and drawer.change(off_dark, printer.step(off_dark, job.dark)):
            again = _strip_in_seconds(job, printer, drawer.name)
            if again is None:
                return False
            seconds = again[0]
        else:
            return job.good(*lights)  # the highlight is there, and nothing can be done for the shadow
    return False


# ---- stops and split-grade


def _strip_in_stops(job: Job, printer: Printer, soft: float | None) -> float | None:
    """Make strips by thirds of a stop until one has the tone; return the seconds, or None where patience ends.

    Without `soft` it is the soft strip, for the highlight; with it the hard strip over so much soft, for the shadow.
    The lens is turned for the first; the second stays at its aperture and takes other times.
    """
    centre, aim = CENTRE_S, job.light if soft is None else job.dark
    while printer.strips < MOST_STRIPS:
        totals = [ms / 1000 for ms in stop_totals(round(centre * 1000), THIRD, BANDS)]
        under = 0.0 if soft is None else printer.light(soft, "soft")
        given = covered(printer, totals, "soft" if soft is None else "hard")
        printer.strips += 1
        printer.told += 1
        lights = [(t, 0.0) if soft is None else (under, t) for t in given]
        place = printer.pick([job.prints(*light, aim) for light in lights], aim)
        if 0 <= place < BANDS:
            return at(totals, place)
        if soft is None:
            if not printer.turn(2 if place >= BANDS else -2):
                return None
        else:
            centre *= 4.0 if place >= BANDS else 0.25
            if not SHORTEST_CENTRE_S <= centre <= LONGEST_CENTRE_S:
                return None
    return None


def split(job: Job, printer: Printer) -> bool:
    """A soft strip for the highlight, hard over soft for the shadow, then steps of a sixth, third or two thirds."""
    soft = _strip_in_stops(job, printer, None)
    hard = None if soft is None else _strip_in_stops(job, printer, soft)
    if soft is None or hard is None:
        return False
    while printer.prints < MOST_PRINTS:
        lights = printer.light(soft, "soft"), printer.light(hard, "hard")
        printer.prints += 1
        printer.told += 1
        off_light = printer.sees(job.prints(*lights, job.light), job.light)
        off_dark = printer.sees(job.prints(*lights, job.dark), job.dark)
        if printer.pleased(off_light, off_dark, job):
            return job.good(*lights)
        if abs(off_light) > 0.75 * job.light.within:
            soft *= 2 ** printer.step(off_light, job.light)
        if abs(off_dark) > 0.75 * job.dark.within:
            hard *= 2 ** printer.step(off_dark, job.dark)
    return False


# ---- the same, with a calibrated paper


@lru_cache(maxsize=1000)
def calibrated_paper(job: Job) -> Paper:
    """Fit the paper from a tablet printed through each filter, read with a noise of 0.02.

    It is calibrated at another brightness than the job's: what is off at every light alike goes into the negative's
    densities, which come from the picks.
    """
    return fit(readings(job.paper, rng=np.random.default_rng(int(1e6 * job.brightness))), BOX)


def calibrated(job: Job, printer: Printer) -> bool:
    """The same two strips, from which the program reckons the pair; after a look it reckons again from what is said."""
    soft = _strip_in_stops(job, printer, None)
    hard = None if soft is None else _strip_in_stops(job, printer, soft)
    if soft is None or hard is None:
        return False
    paper = calibrated_paper(job)
    # what the two picks are worth is reckoned from the paper as it was read, not as it is
    wanted = paper.dmin + LIGHT_OVER_WHITE, paper.dmin + DARK_SHARE * (paper.dmax - paper.dmin)
    picked = from_picks(paper, soft, hard, *wanted)
    answer = soft_hard(paper, *picked)
    found = answer.nearest if isinstance(answer, OutOfReach) else answer.pair
    soft, hard = found.soft_seconds, found.hard_seconds
    while printer.prints < MOST_PRINTS:
        lights = printer.light(soft, "soft"), printer.light(hard, "hard")
        printer.prints += 1
        printer.told += 1
        off_light = printer.sees(job.prints(*lights, job.light), job.light)
        off_dark = printer.sees(job.prints(*lights, job.dark), job.dark)
        if printer.pleased(off_light, off_dark, job):
            return job.good(*lights)
        said = printer.says(off_light, job.light), printer.says(off_dark, job.dark)
        soft, hard = _corrected(paper, picked, soft, hard, *said)
    return False


def _corrected(
    paper: Paper, picked: tuple[Tone, Tone], soft: float, hard: float, off_light: float, off_dark: float
) -> tuple[float, float]:
    """Return the pair after a look, by what a twelfth of a stop of each light does to both tones."""
    tones = [tone.negative_density for tone in picked]
    soft_by, hard_by = pair(paper, soft, hard, *tones).sensitivity
    slopes = np.array([soft_by.more, hard_by.more]).T
    twelfths = np.linalg.lstsq(slopes, -np.array([off_light, off_dark]), rcond=None)[0]
    most = 8.0  # two thirds of a stop, as in the other ways
    steps = np.clip(np.round(2 * twelfths) / 2, -most, most)
    return float(soft * 2 ** (steps[0] / 12)), float(hard * 2 ** (steps[1] / 12))


def tablets_of(paper: Hidden) -> int:
    """Return the sheets that calibrating a paper takes: a tablet through each filter."""
    return len(readings(paper).exposures)
