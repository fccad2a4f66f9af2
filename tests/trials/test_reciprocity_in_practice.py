"""A practice paper that fails in long light: its strip is worked by foot, read off, and its exponent found."""

from __future__ import annotations

from functools import lru_cache

import pytest
from tools.foot_bench import FootBench

from controller.errors import Impossible
from controller.foot.places import Finished, HandsAsked, Ready
from controller.picture.develop import Conditions, Developed, develop_sheet
from controller.picture.light import BlueGreen, Surroundings
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Enlarger, Scene, negatives_named
from controller.practice.practice_scene import PracticeScene
from controller.store.records import SheetRecord
from controller.trials.reciprocity import BANDS, Grey, by_densities, plan

GREY = Grey(ms=10_000, filter="2", aperture=8.0)
DARK = Surroundings(safelight=BlueGreen(blue=0.0, green=0.0))
"""No other light: the strip alone is on trial."""
TONE = "stones"
"""Lies across every band of the negative."""


@lru_cache(maxsize=1)
def strip() -> SheetRecord:
    """Work the strip by foot, in virtual time: the lens asked for twice, a press a band, a hold."""
    bench = FootBench(plan(GREY, "Long exposures", 600_000), filter_in="2")
    asked = 0
    while not isinstance(bench.place, Finished):
        asked += isinstance(bench.place, HandsAsked)
        if isinstance(bench.place, Ready):
            bench.press()
            bench.run(52_000)
        else:
            bench.press()
            bench.run(4000)
    bench.hold(850)
    assert asked == 2
    assert bench.sheet.outcome == "complete"
    return bench.sheet


def developed(p: float, record: SheetRecord | None = None) -> Developed:
    """Return the practice paper's strip, whose light counts as t^p."""
    scene = Scene(negatives_named("crane"), enlarger=Enlarger(aperture=8.0), pixels=60_000)
    conditions = Conditions(surroundings=DARK, exponent=p)
    return develop_sheet(record or strip(), (), scene, practice_paper("one"), conditions)


def read(sheet: Developed) -> list[float]:
    return [round(sheet.density(TONE, band), 2) for band in range(1, BANDS + 1)]


@pytest.mark.parametrize("p", [0.90, 0.93, 0.96, 0.98, 1.0])
def test_the_exponent_of_a_practice_paper_is_found(p: float) -> None:
    """Within a hundredth, from the densities of the print."""
    assert by_densities(read(developed(p)), GREY).exponent == pytest.approx(p, abs=0.01)


def test_without_the_fault_four_times_as_long_two_stops_down_is_the_same() -> None:
    """The second band is the grey, to what a densitometer sees; and the light of ten seconds is what it was."""
    bands = read(developed(1.0))
    assert bands[1] == pytest.approx(bands[-1], abs=0.01)
    assert bands[:-1] == sorted(bands[:-1])
    assert read(developed(0.9))[-1] == bands[-1]


def test_a_lens_that_stays_stopped_down_is_told() -> None:
    """Nobody opened it again for the last band: all others are darker, and nothing is found."""
    steps = tuple(
        each.model_copy(update={"step": each.step.model_copy(update={"hands": None})}) for each in strip().steps
    )
    first = steps[0].model_copy(update={"step": strip().steps[0].step})
    left = strip().model_copy(update={"steps": (first, *steps[1:])})
    with pytest.raises(Impossible, match=r"no middle grey|darker than the last"):
        by_densities(read(developed(1.0, left)), GREY)


def test_the_scene_has_the_fault() -> None:
    """What is chosen on the practice page is what the paper does."""
    assert PracticeScene(exponent=0.93).conditions().exponent == 0.93
    assert PracticeScene().conditions().exponent == 1.0
