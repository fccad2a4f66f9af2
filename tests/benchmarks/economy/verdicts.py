"""More ways: strips by template and verdicts without a read paper, two looks of one strip, strips from the proof."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
from benchmarks.economy.printer import MOST_PRINTS, Printer, at
from benchmarks.economy.ways import LONGEST_CENTRE_S, MOST_STRIPS, SHORTEST_CENTRE_S, calibrated_paper, covered
from benchmarks.economy.world import DARK_SHARE, LIGHT_OVER_WHITE, Aim, Job, filters
from scipy.optimize import brentq

from controller.contrast.how_it_looked import Looks, Wish, mend
from controller.enlarger import first_strip
from controller.enlarger.first_strip import USUAL, Fineness
from controller.paper.paper import Paper
from controller.paper.typical import typical
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_strip import totals_ms
from controller.recipe.recipe import FilterTime
from controller.recipe.strip_templates import make

BARE = AtEnlarger()
CENTRE_S = 12.0
EDGE = 0.30
"""Density of a roll film's clear edge (common practice; what is printed is thicker)."""
EDGE_WITHIN = 0.04
"""How near to the paper's black the edge merges with it."""
TAUGHT = 10
"""Negatives that were printed on this paper before, and taught the enlarger's k; their own paper is not counted."""
GREY_STEP = 0.10
"""Density from step to step of the grey scale that a shadow is held against (a common kind of scale)."""
LOOK_STOPS = 1.0 / 3.0
"""How far off a printer tells a frame's standing on the proof, as a standard deviation."""
PICK_STOPS = 0.15
"""How far off a pick is from what the negative wanted, as a standard deviation."""
SHORTEST_S, LONGEST_S = 8.0, 40.0
"""Where a printer likes a middle band to be: the lens is turned for it (common practice)."""


def word(off: float, aim: Aim) -> int:
    """Return a printer's word for how a tone looks, as −3 (far too light) to 3; the same sizes as `Printer.says`."""
    size = abs(off) / aim.within
    steps = 0 if size <= 0.75 else 1 if size < 1.5 else 2 if size < 3.0 else 3
    return steps if off > 0 else -steps


# ---- strips by template


def _first(job: Job, printer: Printer, centre: float, fine: Fineness = USUAL) -> tuple[float, float] | None:
    """Make soft strips until one has the highlight; return the seconds, and how the shadow looks in that band.

    None where patience ends. The lens is turned by two stops where all is too light or too dark.
    """
    while printer.strips < MOST_STRIPS:
        strip = make("first", BARE, centre_ms=round(centre * 10) * 100, step=fine.step, bands=fine.bands)
        totals = [ms / 1000 for ms in totals_ms(strip.times)]
        given = covered(printer, totals, "soft")
        printer.strips += 1
        printer.told += 1
        place = printer.pick([job.prints(t, 0.0, job.light) for t in given], job.light)
        if 0 <= place < len(totals):
            return at(totals, place), printer.sees(job.prints(at(given, place), 0.0, job.dark), job.dark)
        if not printer.turn(2 if place >= len(totals) else -2):
            return None
    return None


def _hard(job: Job, printer: Printer, soft: float) -> float | None:
    """Make hard strips over the soft base until one has the shadow; none at all is a band too."""
    centre: int | None = None
    base = [FilterTime(filter="soft", seconds=Decimal(f"{soft:.1f}"))]
    while printer.strips < MOST_STRIPS:
        strip = make("hard over soft", BARE, base=base, centre_ms=centre)
        totals = [ms / 1000 for ms in totals_ms(strip.times)]
        under = printer.light(soft, "soft")
        given = [0.0, *covered(printer, totals[1:], "hard")]
        printer.strips += 1
        printer.told += 1
        place = printer.pick([job.prints(under, t, job.dark) for t in given], job.dark)
        if place < 0:
            return 0.0  # soft light alone is too dark already: nothing softer can be had
        if place < len(totals):
            return totals[1] / 2 if place == 0.5 else at(totals, place)
        centre = int(totals[len(totals) // 2] * 4000)
        if centre > LONGEST_CENTRE_S * 1000:
            return None
    return None


def _by_verdicts(job: Job, printer: Printer, soft: float, hard: float, paper: Paper | None) -> bool:
    """Print, say how it looked, and print again with the times that the program makes of it."""
    while printer.prints < MOST_PRINTS:
        lights = printer.light(soft, "soft"), printer.light(hard, "hard")
        printer.prints += 1
        off_light = printer.sees(job.prints(*lights, job.light), job.light)
        off_dark = printer.sees(job.prints(*lights, job.dark), job.dark)
        if printer.pleased(off_light, off_dark, job):
            return job.good(*lights)
        printer.told += 1
        looks = Looks(light=word(off_light, job.light), dark=word(off_dark, job.dark))
        soft, hard = _mended(looks, soft, hard, paper)
    return False


def _mended(looks: Looks, soft: float, hard: float, paper: Paper | None) -> tuple[float, float]:
    on = paper if paper is not None else typical()
    wish = Wish(light=on.dmin + LIGHT_OVER_WHITE, dark=on.dmin + DARK_SHARE * (on.dmax - on.dmin))
    found = mend(looks, Decimal(f"{soft:.1f}"), Decimal(f"{hard:.1f}"), paper=paper, wish=wish)
    return float(found.soft_seconds), float(found.hard_seconds)


def _two_strips(job: Job, printer: Printer, centre: float, fine: Fineness = USUAL) -> bool:
    found = _first(job, printer, centre, fine)
    hard = None if found is None else _hard(job, printer, found[0])
    return found is not None and hard is not None and _by_verdicts(job, printer, found[0], hard, None)


def _one_strip(job: Job, printer: Printer, centre: float, paper: Paper | None) -> bool:
    found = _first(job, printer, centre)
    if found is None:
        return False
    soft, off_dark = found
    printer.told += 1
    seen = GREY_STEP * round((job.dark.printed + off_dark) / GREY_STEP)
    looks = Looks(light=0, dark=word(off_dark, job.dark), dark_density=max(0.0, seen))
    return _by_verdicts(job, printer, *_mended(looks, soft, 0.0, paper), paper)


def templates(job: Job, printer: Printer) -> bool:
    """Soft strip, hard over soft with a band of soft alone, then verdicts on a typical paper."""
    return _two_strips(job, printer, CENTRE_S)


def two_looks(job: Job, printer: Printer) -> bool:
    """One soft strip, told which band has the highlight and how dark its shadow is; then verdicts, typical paper."""
    return _one_strip(job, printer, CENTRE_S, None)


def two_looks_calibrated(job: Job, printer: Printer) -> bool:
    """The same on a calibrated paper."""
    return _one_strip(job, printer, CENTRE_S, calibrated_paper(job))


# ---- first strips from the proof


def _proof_s(job: Job) -> float:
    """Return the seconds through filter 2 at which the film's clear edge merges with the paper's black."""
    soft, hard = filters().lights["2"]
    edge = Aim(EDGE, job.paper.dmax - EDGE_WITHIN, EDGE_WITHIN)
    stops = brentq(lambda s: job.prints(soft * 2**s, hard * 2**s, edge) - edge.printed, -20, 20)
    return float(2**stops)


def _wanted_s(job: Job, negative: float) -> float:
    """Return the soft seconds that print a tone of the negative as the highlight is wanted."""
    tone = Aim(negative, job.light.printed, job.light.within)
    return float(2 ** brentq(lambda s: job.prints(2**s, 0.0, tone) - tone.printed, -20, 20))


def _from_proof(job: Job, printer: Printer) -> float:
    """Return where the first strip begins, by proof, look and ten negatives before; the lens is turned for it.

    The look is how dense this highlight is against the usual one, told by thirds of a stop with an error.
    """
    proof_ms = round(_proof_s(job) * 1000)

    def look_of(negative: float) -> Fraction:
        seen = (negative - 1.35) / np.log10(2.0) + printer.rng.normal(0.0, LOOK_STOPS)
        return Fraction(int(np.clip(round(3 * seen), -3, 3)), 3)

    def factor(negative: float, k: float) -> Fraction:
        return first_strip.factor(
            proof_magnification=Fraction(2), magnification=Fraction(2), look=look_of(negative), k=round(k, 3)
        )

    wanted = []
    for _ in range(TAUGHT):
        negative = printer.rng.uniform(0.15, 0.45) + printer.rng.uniform(0.7, 1.4)
        found = _wanted_s(job, negative) * 2.0 ** printer.rng.normal(0.0, PICK_STOPS)
        wanted.append(first_strip.wanted_more(round(found * 1000), proof_ms * factor(negative, 0.0)))
    learned = first_strip.learn(wanted, 0.0)
    centre = float(proof_ms * factor(job.light.negative, learned.k)) / 1000
    turned = 0
    while not SHORTEST_S <= centre <= LONGEST_S and abs(turned) < 4:
        step = -1 if centre < SHORTEST_S else 1
        printer.turn(step)
        centre /= 2.0**step
        turned += step
    return min(LONGEST_CENTRE_S, max(SHORTEST_CENTRE_S, centre))


def from_proof(job: Job, printer: Printer) -> bool:
    """Strips by template and verdicts as `templates`, the first strip from the proof."""
    return _two_strips(job, printer, _from_proof(job, printer))


def from_proof_two_looks(job: Job, printer: Printer) -> bool:
    """One soft strip from the proof with two looks; then verdicts, calibrated paper."""
    return _one_strip(job, printer, _from_proof(job, printer), calibrated_paper(job))
