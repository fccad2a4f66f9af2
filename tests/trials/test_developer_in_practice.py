"""A developer's pieces in the practice darkroom: worked by foot, through the trays by their own times, and read off."""

from __future__ import annotations

from functools import lru_cache

import pytest
from tools.foot_bench import FootBench

from controller.errors import Impossible
from controller.foot import acts
from controller.foot.places import Finished
from controller.picture.develop import Conditions, develop_sheet
from controller.picture.in_the_trays import Developer
from controller.picture.light import BlueGreen, Surroundings
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Enlarger, Scene, negatives_named
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.records import SheetRecord
from controller.trials.developer import TIMES_S, by_densities, plan

DARK = Surroundings(safelight=BlueGreen(blue=0.0, green=0.0))
"""No other light: the developer alone is on trial."""


@lru_cache(maxsize=8)
def piece(seconds: int) -> SheetRecord:
    """Work one piece by foot, in virtual time, and let it go through its trays."""
    bench = FootBench(plan("FB", seconds, "hard", 10_000, 600_000), filter_in="hard")
    bench.world.runner.change_habits(trays=True)
    bench.do(acts.StandAtEnlarger(bench=AtEnlarger(support="FB")))
    while not isinstance(bench.place, Finished):
        bench.press()
        bench.run(50_000)
    bench.hold(850)
    bench.run(2000 * 1000)
    assert bench.sheet.outcome == "complete"
    return bench.sheet


def read(developer: Developer) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the black and the white of each piece, as a densitometer reads them on fibre."""
    scene = Scene(negatives_named("crane"), enlarger=Enlarger(aperture=8.0), pixels=60_000)
    conditions = Conditions(surroundings=DARK, developer=developer)
    sheets = [develop_sheet(piece(s), (), scene, practice_paper("two"), conditions) for s in TIMES_S["FB"]]
    blacks, whites = ([round(each.density("stones", band), 2) for each in sheets] for band in (2, 1))
    return tuple(blacks), tuple(whites)


def test_a_piece_lies_in_the_developer_for_its_own_time() -> None:
    """Whatever the process has; its record says it to the millisecond."""
    for seconds in TIMES_S["FB"]:
        assert piece(seconds).lay_ms("developer") == 1000 * seconds


def test_the_source_s_example_comes_out_of_the_trays() -> None:
    """§556: 140 s are as black as 200, 100 are not; grey whites at 280."""
    blacks, whites = read("fresh")
    assert blacks[1] == pytest.approx(blacks[2], abs=0.011)
    assert blacks[0] < blacks[1] - 0.05
    found = by_densities("FB", blacks, whites)
    assert (found.least_seconds, found.fog_seconds) == (140, 280)


@pytest.mark.parametrize("developer", ["cold", "tired"])
def test_a_developer_that_is_cut_short_is_found(developer: Developer) -> None:
    """Cold or exhausted it is not as black as it gets even at the longest: a sentence, and nothing is set."""
    with pytest.raises(Impossible, match="not as black as it gets"):
        by_densities("FB", *read(developer))
