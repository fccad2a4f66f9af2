"""How much paper and time some ways to a print take: `python tests/benchmarks/paper_economy.py [SEED] [NEGATIVES]`.

The same printers, with the same errors of eye and hand and the same idea of a good print, print the same negatives on
the same papers: with strips of 3 s and trial and error at one grade; with f-stop strips and split-grade as the program
guides it; the same with a calibrated paper; with verdicts in words, after two strips or one; and with spots that are
measured at the easel. The method is described in docs/explanation/paper-economy.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from statistics import mean, quantiles

import numpy as np
from machine import table  # puts the tests on the path

# isort: split
from benchmarks.economy.printer import Printer
from benchmarks.economy.spots import WAYS as SPOTS
from benchmarks.economy.verdicts import from_proof, from_proof_two_looks, templates, two_looks, two_looks_calibrated
from benchmarks.economy.ways import Way, calibrated, seconds_any_grade, seconds_one_grade, split
from benchmarks.economy.world import Job, jobs

SEED, NEGATIVES = 20, 200
WAYS: tuple[tuple[str, Way, bool], ...] = (
    ("3 s strips, one grade, by hand", seconds_one_grade, False),
    ("3 s strips, one grade, exact light", seconds_one_grade, True),
    ("3 s strips, filter by trial and error, by hand", seconds_any_grade, False),
    ("3 s strips, filter by trial and error, exact light", seconds_any_grade, True),
    ("f-stop strips, split-grade, by hand", split, False),
    ("f-stop strips, split-grade, exact light", split, True),
    ("the same, calibrated paper, by hand", calibrated, False),
    ("the same, calibrated paper, exact light", calibrated, True),
    ("templates and verdicts, paper not read, by hand", templates, False),
    ("templates and verdicts, paper not read, exact light", templates, True),
    ("the same, first strip from the proof, by hand", from_proof, False),
    ("the same, first strip from the proof, exact light", from_proof, True),
    ("one strip with two looks, paper not read, by hand", two_looks, False),
    ("one strip with two looks, paper not read, exact light", two_looks, True),
    ("one strip with two looks, calibrated, by hand", two_looks_calibrated, False),
    ("one strip with two looks, calibrated, exact light", two_looks_calibrated, True),
    ("the same, from the proof, by hand", from_proof_two_looks, False),
    ("the same, from the proof, exact light", from_proof_two_looks, True),
    *(
        (f"{name}, {how}", way, exact)
        for name, way in SPOTS
        for how, exact in (("by hand", False), ("exact light", True))
    ),
)


@dataclass(frozen=True)
class Tally:
    """What one way took for all negatives: sheets and minutes each, and how many prints were missed."""

    sheets: tuple[float, ...]
    minutes: tuple[float, ...]
    misses: int

    @property
    def per_good(self) -> float:
        """Sheets for each acceptable print; endless where there is none."""
        good = len(self.sheets) - self.misses
        return sum(self.sheets) / good if good else float("inf")


def tally(way: Way, exact: bool, every: list[Job], seed: int) -> Tally:
    """Print every negative one way; each negative has a printer of its own, with the same seed for every way."""
    sheets, minutes, misses = [], [], 0
    for number, job in enumerate(every):
        printer = Printer(np.random.default_rng([seed, number]), exact)
        misses += not way(job, printer)
        sheets.append(printer.sheets)
        minutes.append(printer.minutes)
    return Tally(tuple(sheets), tuple(minutes), misses)


def spread(figures: tuple[float, ...]) -> str:
    """Return mean and the middle eight tenths."""
    tenths = quantiles(figures, n=10, method="inclusive")
    return f"{mean(figures):.2f} ({tenths[0]:.2f} to {tenths[-1]:.2f})"


def main(seed: int, count: int) -> None:
    """Print all negatives in every way, and print the table."""
    every = jobs(seed, count)
    rows: list[tuple[object, ...]] = [("", "sheets each", "minutes each", "misses", "sheets a good print")]
    for name, way, exact in WAYS:
        found = tally(way, exact, every, seed)
        share = f"{found.misses} of {count}"
        rows.append((name, spread(found.sheets), spread(found.minutes), share, f"{found.per_good:.2f}"))
    table(f"Paper economy, {count} negatives, seed {seed}; means, and the middle eight tenths", rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SEED, int(sys.argv[2]) if len(sys.argv) > 2 else NEGATIVES)
