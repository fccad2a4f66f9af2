"""The paper economy's own laws: what is asked for can be had, errors repeat, and the eye only says when to stop."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.economy import printer as printers
from benchmarks.economy.printer import Printer, at
from benchmarks.economy.spots import WAYS as SPOTS
from benchmarks.economy.spots import readings
from benchmarks.economy.verdicts import (
    from_proof,
    from_proof_two_looks,
    templates,
    two_looks,
    two_looks_calibrated,
    word,
)
from benchmarks.economy.ways import Drawer, calibrated, seconds_any_grade, seconds_one_grade, split
from benchmarks.economy.world import FILTERS, filters, jobs
from scipy.optimize import brentq
from tools.hidden_papers import paper_one

from controller.contrast.how_it_looked import density_off

VERDICTS = (templates, two_looks, two_looks_calibrated, from_proof, from_proof_two_looks)
WAYS = (seconds_one_grade, seconds_any_grade, split, calibrated, *VERDICTS, readings, *(way for _, way in SPOTS[1:]))


def test_every_negative_can_be_printed() -> None:
    """For every negative some pair of times is acceptable, so that a miss is the printer's or the way's."""
    for job in jobs(3, 20):

        def shadow(hard_stops: float, job=job) -> float:
            hard = 2.0**hard_stops
            soft = brentq(lambda s: job.prints(s, hard, job.light) - job.light.printed, 0.0, 1e6)
            return job.prints(soft, hard, job.dark) - job.dark.printed

        most = np.log2(brentq(lambda h, job=job: job.prints(0.0, h, job.light) - job.light.printed, 1e-9, 1e9))
        hard = 2.0 ** brentq(shadow, most - 30.0, most - 1e-9)
        soft = brentq(lambda s, job=job, hard=hard: job.prints(s, hard, job.light) - job.light.printed, 0.0, 1e6)
        assert job.good(soft, hard)


@pytest.mark.parametrize("way", WAYS)
def test_the_same_seed_errs_the_same_way(way) -> None:
    """A printer with the same seed uses the same paper for the same negative, time after time."""
    job = jobs(5, 1)[0]
    taken = []
    for _ in range(2):
        printer = Printer(np.random.default_rng(9), exact=False)
        taken.append((way(job, printer), printer.strips, printer.prints, printer.aperture))
    assert taken[0] == taken[1]


def test_a_print_is_judged_by_its_densities_not_by_the_printer(monkeypatch: pytest.MonkeyPatch) -> None:
    """A printer who is pleased with everything misses what is not acceptable: the eye decides only when to stop."""
    monkeypatch.setattr(Printer, "pleased", lambda *_: True)
    missed = 0
    for number, job in enumerate(jobs(3, 12)):
        printer = Printer(np.random.default_rng(number), exact=True)
        missed += not seconds_one_grade(job, printer)
        assert printer.prints <= 1
    assert missed > 0


def test_a_perfect_printer_with_a_calibrated_paper_needs_two_prints_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without errors of eye and hand a calibrated paper of the family gives the print at once or at the second try."""
    monkeypatch.setattr(printers, "LIGHT_EYE", 0.0)
    monkeypatch.setattr(printers, "DARK_EYE", 0.0)
    for number, job in enumerate(jobs(7, 8)):
        printer = Printer(np.random.default_rng(number), exact=True)
        assert calibrated(job, printer)
        assert printer.prints <= 2


def test_a_perfect_printer_with_one_strip_needs_two_prints_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without errors of eye and hand two looks of one strip come right at once or at the second try."""
    monkeypatch.setattr(printers, "LIGHT_EYE", 0.0)
    monkeypatch.setattr(printers, "DARK_EYE", 0.0)
    for number, job in enumerate(jobs(7, 8)):
        printer = Printer(np.random.default_rng(number), exact=True)
        assert two_looks_calibrated(job, printer)
        assert printer.prints <= 2


def test_a_perfect_printer_with_readings_needs_two_prints_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without errors of eye and hand, with the sensor's own noise, the pair is right at once or at the second try."""
    monkeypatch.setattr(printers, "LIGHT_EYE", 0.0)
    monkeypatch.setattr(printers, "DARK_EYE", 0.0)
    for number, job in enumerate(jobs(7, 8)):
        printer = Printer(np.random.default_rng(number), exact=True)
        assert readings(job, printer)
        assert printer.prints <= 2
        assert printer.strips == 0


def test_a_word_stands_for_the_sizes_it_is_said_of() -> None:
    """The word that the program is told stands for the very density that the other ways are told of the same look."""
    aim, printer = jobs(3, 1)[0].dark, Printer(np.random.default_rng(1), exact=True)
    for share in (0.0, 0.7, 0.8, 1.4, 1.6, 2.9, 3.1, 9.0):
        for off in (share * aim.within, -share * aim.within):
            assert density_off(word(off, aim), aim.within) == pytest.approx(printer.says(off, aim))


def test_the_filters_go_from_all_soft_to_all_hard() -> None:
    """R falls from filter to filter, from what soft light alone gives to what hard light alone gives."""
    paper = paper_one()
    ranges = [paper.range(*filters().lights[name]) for name in FILTERS]
    assert ranges == sorted(ranges, reverse=True)
    assert ranges[0] == pytest.approx(140.6, abs=0.5)
    assert ranges[-1] == pytest.approx(61.1, abs=0.5)


def test_a_printer_s_word_is_all_that_is_known_of_a_print() -> None:
    """What is a little, clearly or far off is told in the same word whatever its density, on either side alike."""
    aim, printer = jobs(3, 1)[0].light, Printer(np.random.default_rng(1), exact=True)
    said = [printer.says(share * aim.within, aim) / aim.within for share in (0.0, 0.7, 0.8, 1.4, 1.6, 2.9, 3.1, 9.0)]
    assert said == pytest.approx([0.0, 0.0, 1.1, 1.1, 2.25, 2.25, 4.0, 4.0])
    assert printer.says(-2.0 * aim.within, aim) == -printer.says(2.0 * aim.within, aim)


def test_filters_are_gone_through_as_a_good_printer_does() -> None:
    """The change is as large as the shadow is off, but never beyond what was too soft or too hard; then it ends."""
    drawer = Drawer()
    gone = []
    for off, step in ((-0.4, 2 / 3), (0.2, 1 / 3), (-0.4, 2 / 3), (0.1, 1 / 6)):
        gone.append((drawer.change(off, step), drawer.name))
    assert gone == [(True, "4"), (True, "3"), (True, "3½"), (False, "3½")]
    end = Drawer(at=len(FILTERS) - 2)
    assert (end.change(-0.4, 2 / 3), end.name) == (True, "5")
    assert (end.change(-0.4, 2 / 3), end.name) == (False, "5")


def test_minutes_count_light_and_filters_for_everyone() -> None:
    """A print of two lights through two filters takes longer than one of one light, by its light and its filter."""
    one, two = (Printer(np.random.default_rng(1), exact=True, prints=1) for _ in range(2))
    one.light(18.0, "2")
    two.light(10.0, "soft")
    two.light(8.0, "hard")
    assert two.minutes - one.minutes == pytest.approx(0.5 + 4.0 / 60)
    assert one.minutes == pytest.approx(7.0 + 0.5 + 22.0 / 60)


def test_between_two_bands_is_their_geometric_mean() -> None:
    """The line between 8 and 12.7 s stands for their geometric mean (derived: √(t₁·t₂))."""
    assert at([8.0, 12.7], 0.5) == pytest.approx(10.08, abs=0.005)
    assert at([8.0, 12.7], 1.0) == 12.7
