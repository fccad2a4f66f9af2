"""Readings by eye alone: R by counting steps, and papers fitted to picks."""

from __future__ import annotations

import numpy as np
import pytest
from tools.hidden_papers import BOX, Hidden, mixed_tones, of_the_family, paper_one

from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture
from controller.paper.eye import EyePicks, Surface, exposure, iso_range
from controller.paper.fit import fit
from controller.paper.iso import range_of
from controller.paper.readings import Readings, Tablet

TABLET = Tablet()


def _look(hidden: Hidden, soft: float, hard: float) -> EyePicks:
    """What an eye sees of a tablet's print: steps told from white by 0.04, merged with black at 90 % net."""
    steps = np.array([TABLET.density(step) for step in range(1, TABLET.steps + 1)])
    printed = hidden.densities(soft, hard, steps)
    net = hidden.dmax - hidden.dmin
    told = int(np.max(np.nonzero(printed >= hidden.dmin + 0.04)[0])) + 1
    black = int(np.max(np.nonzero(printed >= hidden.dmin + 0.9 * net)[0])) + 1
    return EyePicks(soft_seconds=soft, hard_seconds=hard, first_told=told, first_black=black)


def test_counting_steps() -> None:
    """R = 15 × (step at the first tone − step at black) on the usual tablet (derived): 14 and 6 make 120."""
    found, spread = iso_range(EyePicks(soft_seconds=10, hard_seconds=0, first_told=14, first_black=6), TABLET)
    assert found == pytest.approx(15 * (14 - 6))
    assert spread == pytest.approx(6.1, abs=0.1)
    fine = Tablet(steps=31, first=0.05, spacing=0.10)
    picks = EyePicks(soft_seconds=10, hard_seconds=0, first_told=20, first_black=10)
    assert iso_range(picks, fine)[0] == pytest.approx(100.0)


def test_the_eye_finds_ranges() -> None:
    """Over hidden papers, R by eye is off by no more than a step, and by about what its spread says."""
    rng = np.random.default_rng(61)
    off = []
    for _ in range(60):
        hidden = of_the_family(rng)
        light = [(80.0, 0.0), (0.0, 60.0), (40.0, 30.0)][int(rng.integers(3))]
        off.append(iso_range(_look(hidden, *light), TABLET)[0] - hidden.range(*light))
    assert np.max(np.abs(off)) <= 15.0
    assert float(np.sqrt(np.mean(np.square(off)))) == pytest.approx(6.1, abs=2.0)


def test_a_paper_by_eye() -> None:
    """A paper fitted to two picks each of soft and hard strips predicts mixes roughly, and R between the two."""
    rng = np.random.default_rng(62)
    rms = []
    for _ in range(12):
        hidden = of_the_family(rng)
        strips = tuple(exposure(_look(hidden, *light), TABLET) for light in ((80.0, 0.0), (0.0, 60.0)))
        mix = mixture(fit(Readings(paper="by eye", exposures=strips), BOX))
        off = [densities(mix, s, h, tones) - true for s, h, tones, true in mixed_tones(hidden)]
        rms.append(float(np.sqrt(np.mean(np.concatenate(off) ** 2))))
        assert range_of(mix, 0.0, 1.0) < range_of(mix, 40.0, 30.0) < range_of(mix, 1.0, 0.0)
    assert np.median(rms) < 0.12
    assert max(rms) < 0.25


@pytest.mark.parametrize(
    ("told", "black", "says"),
    [
        (6, 14, "wrong way round"),
        (22, 6, "not on this tablet"),
        (21, 6, "white begins past it"),
        (9, 1, "twice the light"),
    ],
)
def test_picks_that_tell_nothing_are_refused(told: int, black: int, says: str) -> None:
    """Picks off the tablet, crossed, or at its ends are refused with what to look at."""
    with pytest.raises(Impossible, match=says):
        iso_range(EyePicks(soft_seconds=10, hard_seconds=0, first_told=told, first_black=black), TABLET)


def test_the_demo_paper_by_eye() -> None:
    """The demo paper's soft R of 140.6 comes out within a step by eye (invented data)."""
    assert iso_range(_look(paper_one(), 80.0, 0.0), TABLET)[0] == pytest.approx(140.6, abs=15.0)


@pytest.mark.parametrize(("surface", "dmax"), [("RC", 2.05), ("FB", 2.10), ("matt", 1.65)])
def test_what_a_pick_stands_for(surface: Surface, dmax: float) -> None:
    """White begins 0.04 over the usual white, black at 90 % of the usual scale of the surface (common practice).

    A place known to a step of 0.15 has a standard deviation of 0.15/√12 across; up it is that times the slope there,
    which is little at the toe and much in the shadows (derived).
    """
    picks = EyePicks(soft_seconds=10, hard_seconds=0, first_told=14, first_black=6)
    black, told = exposure(picks, TABLET, surface).readings
    assert told.print_density == pytest.approx(0.06 + 0.04)
    assert black.print_density == pytest.approx(0.06 + 0.9 * (dmax - 0.06), abs=6e-4)
    assert (told.tablet_density, black.tablet_density) == pytest.approx((0.05 + 0.15 * 13.5, 0.05 + 0.15 * 5.5))
    across = 0.15 / 12**0.5
    assert (told.noise_density, black.noise_density) == pytest.approx((0.35 * across, 1.6 * across), abs=1e-4)
