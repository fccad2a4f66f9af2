"""Whatever is typed into a table of readings, the reckoning answers or refuses in a sentence; it never falls over."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tools.hidden_papers import BOX, paper_one

from controller.errors import ControllerError
from controller.paper.curve import draw
from controller.paper.faults import look_over
from controller.paper.fit import fit, high_residuals
from controller.paper.iso import figures
from controller.paper.paper import read_paper, write_paper
from controller.paper.readings import Exposure, Reading, Readings
from controller.paper.solver import Tone, soft_hard
from controller.paper.support import overall

LIGHTS = ((80.0, 0.0), (0.0, 60.0), (40.0, 30.0), (0.001, 0.0), (0.0, 3600.0))


def _anything(rng: np.random.Generator) -> Readings:
    """Random densities, tablets of one density, thin and dense prints, cliffs; alone or several together."""
    strips = []
    for number in range(int(rng.integers(1, 4))):
        steps = int(rng.integers(2, 25))
        tablet = [np.sort(rng.uniform(0, 6, steps)), np.full(steps, 1.0), np.linspace(0, 3, steps)][rng.integers(3)]
        printed = [
            rng.uniform(-0.05, 4.0, steps),
            np.clip(paper_one().densities(10.0 ** rng.uniform(-3, 3), 0.0, tablet), 0.0, 4.0),
            np.where(tablet < rng.uniform(0, 3), 2.1, 0.05),
        ][rng.integers(3)]
        soft, hard = LIGHTS[rng.integers(len(LIGHTS))]
        rows = tuple(
            Reading(step=n, tablet_density=float(d), print_density=float(p))
            for n, (d, p) in enumerate(zip(tablet, printed, strict=True), 1)
        )
        strips.append(Exposure(soft_seconds=soft + number / 1000, hard_seconds=hard, readings=rows))
    return Readings(paper="anything", exposures=tuple(strips))


def _answers(rng: np.random.Generator) -> None:
    anything = _anything(rng)
    said: list[str] = []
    for strip in anything.exposures:
        assert all(fault.sentence for fault in look_over(strip))
        try:
            found = figures(draw(strip))
        except ControllerError as refused:
            said.append(str(refused))
        else:
            assert found is None or (found.range_exact > 0.0 and math.isfinite(found.range_spread))
    try:
        paper = fit(anything, BOX)
        answer = soft_hard(paper, Tone(1.25, 0.2), Tone(0.2, 1.9))
    except ControllerError as refused:
        said.append(str(refused))
        assert all(sentence.endswith(".") for sentence in said)
        return
    assert answer is not None
    assert all(sentence.endswith(".") for sentence in said)
    assert read_paper(write_paper(paper), "any.json") == paper
    assert math.isfinite(overall(paper)[0])
    assert high_residuals(paper) != ""


@pytest.mark.parametrize("seed", range(10))
def test_any_readings_are_answered(seed: int) -> None:
    """Readings of anything give finite figures and a paper that is kept and read again, or a refusal."""
    _answers(np.random.default_rng(seed))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 130))
def test_any_readings_are_answered_in_full(seed: int) -> None:
    """The same thirty times ten."""
    rng = np.random.default_rng(seed)
    for _ in range(10):
        _answers(rng)
