"""Characteristic curves against closed forms, noise, an independent thread, and readings that no mixture fits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, isotonic_regression
from scipy.special import expit, logit, ndtr, ndtri
from tools.hidden_papers import TABLET, exposure, of_the_family, outside, paper_one

from controller.errors import Impossible
from controller.paper.curve import Mixed, Threaded, draw, thread
from controller.paper.iso import figures
from controller.paper.readings import Exposure, Reading

NET, DMIN = 2.00, 0.05


def _exposure(densities: np.ndarray, tablet: np.ndarray = TABLET, noise: float = 0.01) -> Exposure:
    return Exposure(
        soft_seconds=10.0,
        hard_seconds=0.0,
        noise_density=noise,
        readings=tuple(
            Reading(step=n, tablet_density=float(d), print_density=float(p))
            for n, (d, p) in enumerate(zip(tablet, densities, strict=True), 1)
        ),
    )


@pytest.mark.parametrize("range_true", [50, 60, 75, 90, 110, 130, 150, 170])
@pytest.mark.parametrize("shift", [0.0, 0.04, 0.09])
@pytest.mark.parametrize(("read_to", "close"), [(None, 0.2), (2, 1.5)], ids=["exact", "read to 0.01"])
def test_a_logistic_curve_is_read_right(range_true: int, shift: float, read_to: int | None, close: float) -> None:
    """R of a logistic curve sampled every 0.15 is within 0.2 of its closed form (1.5 when read to 0.01).

    Closed form (derived, exact): LER = [ln 9 + ln((Dn − 0.04)/0.04)]/k, 6.089045/k for Dn = 2.00.
    """
    k = (math.log(9.0) + math.log((NET - 0.04) / 0.04)) / (range_true / 100.0)
    assert math.log(9.0) + math.log((NET - 0.04) / 0.04) == pytest.approx(6.089045, abs=1e-6)
    middle = 1.4 + shift
    true = DMIN + NET * expit(k * (middle - TABLET))
    found = figures(draw(_exposure(true if read_to is None else np.round(true, read_to))))
    assert found is not None
    assert found.range_exact == pytest.approx(range_true, abs=close)
    assert found.speed_point_density == pytest.approx(middle - float(logit(0.60 / NET)) / k, abs=0.005)
    assert found.dmin == pytest.approx(DMIN, abs=0.01)
    assert found.dmax == pytest.approx(DMIN + NET, abs=0.01)


@pytest.mark.parametrize("range_true", [50, 60, 75, 90, 110, 130, 150, 170])
@pytest.mark.parametrize("shift", [0.0, 0.04, 0.09])
@pytest.mark.parametrize(("read_to", "close"), [(None, 0.2), (2, 1.5)], ids=["exact", "read to 0.01"])
def test_a_normal_curve_is_read_right(range_true: int, shift: float, read_to: int | None, close: float) -> None:
    """R of a normal-cdf curve sampled every 0.15 is within 0.2 of its closed form (1.5 when read to 0.01).

    Closed form (derived): LER = s·(Φ⁻¹(0.9) − Φ⁻¹(0.04/Dn)).
    """
    spread = range_true / 100.0 / float(ndtri(0.9) - ndtri(0.04 / NET))
    middle = 1.4 + shift
    true = DMIN + NET * ndtr((middle - TABLET) / spread)
    found = figures(draw(_exposure(true if read_to is None else np.round(true, read_to))))
    assert found is not None
    assert found.range_exact == pytest.approx(range_true, abs=close)
    assert found.speed_point_density == pytest.approx(middle - float(ndtri(0.60 / NET)) * spread, abs=0.005)


@pytest.mark.parametrize(("k", "range_true", "low", "speed"), [(6.7656, 90, 0.5752, 0.1252), (5.5355, 110, None, None)])
def test_worked_logistic_figures(k: float, range_true: int, low: float | None, speed: float | None) -> None:
    """The worked figures: k 6.7656 gives R 90, with 0.04 at x0 − 0.5752 and 0.60 at x0 − 0.1252; k 5.5355 R 110.

    Source: derived, exact.
    """
    found = draw(_exposure(DMIN + NET * expit(k * (1.4 - TABLET))))
    stated = figures(found)
    assert stated is not None
    assert stated.range_stated == range_true
    if low is not None and speed is not None:
        assert found.line.tablet(DMIN + 0.04) - 1.4 == pytest.approx(low, abs=0.005)
        assert stated.speed_point_density - 1.4 == pytest.approx(speed, abs=0.002)


@pytest.mark.parametrize(
    ("light", "range_true", "grade"), [((80.0, 0.0), 140.6, 0), ((0.0, 60.0), 61.1, 5), ((40.4, 32.0), 110.0, 2)]
)
def test_the_example_tablet(light: tuple[float, float], range_true: float, grade: int) -> None:
    """The example tablet's R is within 2 of the true 140.6 (soft), 61.1 (hard), 110.0 (mix) (derived, invented)."""
    assert paper_one().range(*light) == pytest.approx(range_true, abs=0.1)
    found = figures(draw(exposure(paper_one(), *light)))
    assert found is not None
    assert found.range_exact == pytest.approx(range_true, abs=2.0)
    assert found.grade == grade


def test_said_spread_of_range_is_true() -> None:
    """Over hidden papers read with noise, R is off by about as much as its spread says, and less than PCHIP's."""
    rng = np.random.default_rng(31)
    ratios, mine, threads = [], [], []
    for turn in range(40):
        hidden = of_the_family(rng) if turn % 2 else outside(rng)
        light = [(80.0, 0.0), (0.0, 60.0), (40.0, 30.0)][turn % 3]
        read = exposure(hidden, *light, rng)
        found = figures(draw(read))
        assert found is not None
        off = found.range_exact - hidden.range(*light)
        mine.append(off)
        ratios.append(off / found.range_spread)
        line = thread(read)
        ends = [line.tablet(line.dmin + each) for each in (0.04, 0.9 * (line.dmax - line.dmin))]
        threads.append(100.0 * (ends[0] - ends[1]) - hidden.range(*light))
    assert 0.5 <= float(np.sqrt(np.mean(np.square(ratios)))) <= 1.6
    assert np.sqrt(np.mean(np.square(mine))) < 0.6 * np.sqrt(np.nanmean(np.square(threads)))


def test_every_curve_is_monotone() -> None:
    """Whatever the readings, print density never rises with tablet density on the drawn curve."""
    rng = np.random.default_rng(32)
    fine = np.linspace(-0.5, 4.0, 901)
    for turn in range(12):
        read = rng.uniform(0.0, 2.2, 21) if turn % 3 == 0 else exposure(outside(rng), 80.0, 0.0, rng)
        curve = draw(_exposure(read) if isinstance(read, np.ndarray) else read)
        assert np.all(np.diff(curve.line.densities(fine)) <= 1e-9)
        assert np.all(curve.line.spread(fine) >= 0.0)


def test_a_thread_is_scipys_own() -> None:
    """The thread through readings is scipy's PCHIP over levelled readings, and its inverse scipy's brentq on it."""
    read = exposure(paper_one(), 80.0, 0.0, np.random.default_rng(33))
    line = thread(read)
    across = -np.array([step.tablet_density for step in read.lightest_first])
    level = isotonic_regression(np.array([step.print_density for step in read.lightest_first])).x
    independent = PchipInterpolator(across, level)
    for tablet in np.linspace(0.1, 3.0, 30):
        assert float(line.densities(tablet)) == pytest.approx(float(independent(-tablet)), abs=1e-12)
    for wanted in (0.2, 0.6, 1.0, 1.9):
        root = brentq(lambda at, wanted=wanted: float(independent(at)) - wanted, across[0], across[-1])
        assert line.tablet(wanted) == pytest.approx(-root, abs=1e-7)
    assert math.isnan(line.tablet(3.0))


def test_what_no_mixture_fits_is_threaded() -> None:
    """A curve with a long flat shelf that no mixture of the kinds follows is drawn as a thread through its readings."""
    steps = np.where(TABLET < 0.5, 2.1, np.where(TABLET < 1.7, 1.25, np.where(TABLET < 1.9, 1.1, 0.05)))
    curve = draw(_exposure(steps, noise=0.005))
    assert isinstance(curve.line, Threaded)
    assert float(curve.line.densities(1.25)) == pytest.approx(1.25, abs=0.01)
    assert isinstance(draw(exposure(paper_one(), 80.0, 0.0)).line, Mixed)


def test_what_gives_no_curve_is_refused() -> None:
    """Too few steps, or steps all alike, are refused with what to print."""
    good = exposure(paper_one(), 80.0, 0.0)
    with pytest.raises(Impossible, match="4 steps are too few"):
        draw(good.model_copy(update={"readings": good.readings[:4]}))
    with pytest.raises(Impossible, match="both white and black"):
        draw(_exposure(np.full(21, 0.3)))
