"""Split-grade: two tones where they are wanted, or the plain word that they cannot be had."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, fsolve
from tools.fitted_papers import demo, of_family

from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.iso import range_of
from controller.paper.paper import Paper
from controller.paper.solver import OutOfReach, Reached, Tone, from_picks, hold, pair, reach, soft_hard


def _feasible(paper: Paper, rng: np.random.Generator) -> tuple[Tone, Tone]:
    """Two tones of some negative, and densities that some mix on this paper gives them."""
    mix = mixture(paper)
    light, dark = rng.uniform(0.9, 1.6), rng.uniform(0.1, 0.6)
    wanted, softest, hardest = reach(paper, light, dark, points=41)
    at = int(np.searchsorted(wanted, mix.dmin + rng.uniform(0.04, 0.6)))
    share = rng.uniform(0.02, 0.98)
    return Tone(light, float(wanted[at])), Tone(dark, float(softest[at] + share * (hardest[at] - softest[at])))


def _aims(papers: int, each: int) -> None:
    rng = np.random.default_rng(21)
    on_model, on_hidden = [], []
    for seed in range(papers):
        hidden, paper = of_family(seed)
        for _ in range(each):
            light, dark = _feasible(paper, rng)
            answer = soft_hard(paper, light, dark)
            assert isinstance(answer, Reached), (seed, light, dark, answer)
            seconds = answer.pair.soft_seconds, answer.pair.hard_seconds
            aims = np.array([light.print_density, dark.print_density])
            tones = [light.negative_density, dark.negative_density]
            on_model.append(np.max(np.abs(densities(mixture(paper), *seconds, tones) - aims)))
            on_hidden.append(np.max(np.abs(hidden.densities(*seconds, tones) - aims)))
    print(f"{len(on_model)} aims: model {max(on_model):.1e}, hidden worst {max(on_hidden):.4f}")
    assert max(on_model) <= 0.02
    assert max(on_hidden) <= 0.08


def test_feasible_aims_are_met() -> None:
    """A thousand random feasible aims are met within 0.02 on the fitted paper and within 0.08 on the hidden one."""
    _aims(papers=20, each=50)


@pytest.mark.long
def test_feasible_aims_are_met_in_full() -> None:
    """The same over two hundred papers."""
    _aims(papers=200, each=25)


def test_infeasible_aims_are_called_so() -> None:
    """Whatever no mix of soft and hard gives is said to be out of reach, with the reason and a nearest pair."""
    _infeasible(300, seed=22)


@pytest.mark.long
def test_infeasible_aims_are_called_so_in_full() -> None:
    """The same for three thousand."""
    _infeasible(3000, seed=24)


def _infeasible(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    for turn in range(count):
        _, paper = of_family(turn % 10)
        mix = mixture(paper)
        light, dark = _feasible(paper, rng)
        wanted, softest, hardest = reach(paper, light.negative_density, dark.negative_density, points=81)
        at = [float(np.interp(light.print_density, wanted, edge)) for edge in (softest, hardest)]
        room = rng.uniform(0.02, 0.3)
        wrong, whys = [
            ((light, Tone(dark.negative_density, at[0] - room)), {"softer", "wrong-way", "too-white"}),
            ((light, Tone(dark.negative_density, at[1] + room)), {"harder", "too-black"}),
            ((Tone(light.negative_density, mix.dmin - 0.02), dark), {"too-white"}),
            ((light, Tone(dark.negative_density, mix.dmax + 0.02)), {"too-black"}),
            ((Tone(light.negative_density, dark.print_density + 0.1), dark), {"wrong-way"}),
        ][turn % 5]
        answer = soft_hard(paper, *wrong)
        assert isinstance(answer, OutOfReach), (turn, wrong, answer)
        assert answer.why in whys
        assert answer.sentence


def test_the_nearest_is_nearest() -> None:
    """No pair on a fine grid of soft and hard seconds comes nearer to an aim out of reach than the nearest given."""
    mix = mixture(demo())
    soft, hard = (10.0 ** np.linspace(-1.0, 2.7, 220) for _ in range(2))
    grid = np.stack(np.meshgrid(np.concatenate([[0.0], soft]), np.concatenate([[0.0], hard])), axis=-1).reshape(-1, 2)
    grid = grid[grid.sum(axis=1) > 0.0]
    printed = densities(mix, grid[:, :1], grid[:, 1:], np.array([1.25, 0.22]))
    for wanted in ((0.30, 1.0), (0.06, 2.09), (0.12, 2.3), (0.02, 1.5), (0.8, 0.5)):
        answer = soft_hard(demo(), Tone(1.25, wanted[0]), Tone(0.22, wanted[1]))
        assert isinstance(answer, OutOfReach)
        off = float(np.sum((np.array(answer.nearest.predicted) - wanted) ** 2))
        assert off <= float(np.min(np.sum((printed - wanted) ** 2, axis=1))) + 1e-4


def test_the_worked_split_comes_out() -> None:
    """The demo print's two tones, as 10.1 s soft and 8.0 s hard printed them, give those times back (invented)."""
    answer = soft_hard(demo(), Tone(1.25, 0.1588), Tone(0.22, 1.9491))
    assert isinstance(answer, Reached)
    assert answer.pair.soft_seconds == pytest.approx(10.1, rel=0.01)
    assert answer.pair.hard_seconds == pytest.approx(8.0, rel=0.01)
    assert answer.pair.range_exact == pytest.approx(110.0, abs=2.0)


def test_an_independent_solver_agrees() -> None:
    """The fsolve of scipy on the same two equations finds the same seconds; brentq the same density of a tone."""
    paper = demo()
    mix = mixture(paper)
    rng = np.random.default_rng(23)
    for _ in range(20):
        light, dark = _feasible(paper, rng)
        answer = soft_hard(paper, light, dark)
        assert isinstance(answer, Reached)
        mine = np.log([answer.pair.soft_seconds, answer.pair.hard_seconds])
        found = fsolve(
            lambda at, light=light, dark=dark: (
                densities(mix, np.exp(at[0]), np.exp(at[1]), [light.negative_density, dark.negative_density])
                - [light.print_density, dark.print_density]
            ),
            mine + 0.05,
            xtol=1e-12,
        )
        assert found == pytest.approx(mine, abs=1e-4)
        root = brentq(lambda d, light=light: float(densities(mix, 10.0, 5.0, d)) - light.print_density, -4.0, 6.0)
        assert float(thinnest(mix, 10.0, 5.0, light.print_density)) == pytest.approx(root, abs=1e-9)


def test_too_long_is_said() -> None:
    """An aim that wants longer than the longest light is out of reach, and the nearest keeps to the limit."""
    answer = soft_hard(demo(), Tone(1.6, 0.16), Tone(0.57, 1.95), longest_seconds=12.0)
    assert isinstance(answer, OutOfReach)
    assert answer.why == "too-long"
    assert max(answer.nearest.soft_seconds, answer.nearest.hard_seconds) <= 12.0


def test_crossed_tones_are_refused() -> None:
    """A light tone that is the thinner one in the negative is refused with both densities."""
    with pytest.raises(Impossible, match=r"0\.22 is not denser than 1\.25"):
        soft_hard(demo(), Tone(0.22, 0.1), Tone(1.25, 1.9))


def test_picks_stand_for_tones() -> None:
    """The picks of a soft strip and of a hard strip over it give tones that print so, and a split that keeps both."""
    paper = demo()
    mix = mixture(paper)
    light, dark = from_picks(paper, 10.1, 8.0, 0.12, 1.95)
    assert float(densities(mix, 10.1, 0.0, light.negative_density)) == pytest.approx(0.12, abs=1e-6)
    assert float(densities(mix, 10.1, 8.0, dark.negative_density)) == pytest.approx(1.95, abs=1e-6)
    assert light.negative_density == pytest.approx(1.25, abs=0.02)
    answer = soft_hard(paper, light, dark)
    assert isinstance(answer, Reached)
    # The hard light greys the light tone, so a little less soft puts it back.
    assert answer.pair.soft_seconds < 10.1
    assert answer.pair.predicted == pytest.approx((0.12, 1.95), abs=0.001)


@given(
    range_wanted=st.floats(70.0, 130.0),
    tone=st.sampled_from([0.22, 0.7, 1.25]),
    soft=st.floats(4.0, 20.0),
    hard=st.floats(4.0, 20.0),
)
@settings(max_examples=30, deadline=None)
def test_a_held_tone_stays(range_wanted: float, tone: float, soft: float, hard: float) -> None:
    """Another contrast with one tone held leaves that tone's density as it was and gives the R asked for."""
    mix = mixture(demo())
    before = float(densities(mix, soft, hard, tone))
    if not mix.dmin + 0.01 < before < mix.dmax - 0.01:
        return
    answer = hold(demo(), soft, hard, tone, range_wanted)
    assert isinstance(answer, Reached)
    assert answer.pair.range_exact == pytest.approx(range_wanted, abs=0.05)
    assert answer.pair.predicted[0] == pytest.approx(before, abs=1e-3)


def test_holding_past_the_paper_is_said() -> None:
    """An R that neither light alone has is out of reach; the nearest is the one light alone, tone held."""
    for wanted, why in ((40.0, "harder"), (190.0, "softer")):
        answer = hold(demo(), 10.1, 8.0, 0.7, wanted)
        assert isinstance(answer, OutOfReach)
        assert answer.why == why
        assert min(answer.nearest.soft_seconds, answer.nearest.hard_seconds) == 0.0
        before = float(densities(mixture(demo()), 10.1, 8.0, 0.7))
        assert answer.nearest.predicted[0] == pytest.approx(before, abs=1e-6)


def test_sensitivity_is_what_it_says() -> None:
    """The sensitivity of a pair is the change of each tone's density for a twelfth of a stop more and less."""
    paper = demo()
    found = pair(paper, 10.1, 8.0, 1.25, 0.22)
    mix = mixture(paper)
    now = densities(mix, 10.1, 8.0, [1.25, 0.22])
    twelfth = 2 ** (1 / 12)
    for each in found.sensitivity:
        soft, hard = (twelfth, 1.0) if each.light == "soft" else (1.0, twelfth)
        assert each.more == pytest.approx(tuple(densities(mix, 10.1 * soft, 8.0 * hard, [1.25, 0.22]) - now))
        assert each.less == pytest.approx(tuple(densities(mix, 10.1 / soft, 8.0 / hard, [1.25, 0.22]) - now))
        assert min(each.more) > 0 > max(each.less)


def test_the_region_is_bounded_by_the_pure_lights() -> None:
    """In the region the dark tone's least is all soft, its most all hard, and R runs between theirs."""
    wanted, softest, hardest = reach(demo(), 1.25, 0.22)
    middle = slice(5, -15)
    assert np.all(hardest[middle] > softest[middle])
    assert np.all(np.diff(wanted) > 0)
    mix = mixture(demo())
    for at in (10, 20):
        answer = soft_hard(demo(), Tone(1.25, float(wanted[at])), Tone(0.22, float(softest[at]) + 1e-3))
        assert isinstance(answer, Reached)
        assert answer.pair.range_exact == pytest.approx(range_of(mix, 1.0, 0.0), abs=1.5)


def test_what_can_be_had_is_found_without_scipy() -> None:
    """A page that asks a kept paper for two times, or how a sheet looked, loads numpy alone; the nearest needs more."""
    code = """
import sys
from decimal import Decimal
from controller.contrast.how_it_looked import Looks, mend
from controller.paper.solver import Reached, Tone, soft_hard
from controller.paper.typical import typical
assert mend(Looks(light=0, dark=0), Decimal("12.0"), Decimal("4.4")).by == "typical"
assert isinstance(soft_hard(typical(), Tone(1.3, 0.15), Tone(0.4, 1.5)), Reached)
assert "numpy" in sys.modules and "scipy" not in sys.modules
assert not isinstance(soft_hard(typical(), Tone(1.3, 0.15), Tone(1.2, 1.9)), Reached)
assert "scipy" in sys.modules
"""
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
