"""Split-grade over a flash, and through a condenser: what a flash does to two tones, and the densities that Q raises.

The figures of paper one are the paper fitted from tests/examples/paper-one.tablet.csv: an invented paper, whose soft
and hard seconds were worked out by hand beside the project from the same sum of lights; they hold to 0.1 s.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.fitted_papers import demo, of_family, of_others
from tools.hidden_papers import BOX, paper_one

from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.fit import fit
from controller.paper.flash import MOST_ALONE, Flash, alone, most_seconds
from controller.paper.paper import Paper
from controller.paper.readings import read_csv
from controller.paper.solver import OutOfReach, Reached, Tone, from_picks, hold, least_flash, pair, reach, soft_hard

LIGHT, DARK = Tone(1.35, 0.13), Tone(0.20, 1.93)
TABLET = Path(__file__).parents[1] / "examples" / "paper-one.tablet.csv"
OUTSIDE_WITHIN = 0.11


@cache
def one() -> Paper:
    return fit(read_csv(TABLET.read_bytes(), TABLET.name)[0], BOX)


def _pair(light: Tone, dark: Tone, flash: float) -> tuple[float, float]:
    answer = soft_hard(one(), light, dark, flash=Flash(seconds=flash))
    assert isinstance(answer, Reached), answer
    return answer.pair.soft_seconds, answer.pair.hard_seconds


@pytest.mark.parametrize(("flash", "soft", "hard"), [(0.0, 12.3, 5.5), (0.2, 7.4, 8.5), (0.3, 4.8, 10.2)])
def test_more_flash_takes_soft_away(flash: float, soft: float, hard: float) -> None:
    assert _pair(LIGHT, DARK, flash) == pytest.approx((soft, hard), abs=0.1)


def test_a_flash_reaches_what_soft_light_does_not() -> None:
    """A negative of 1.60 and 0.20 cannot be had on paper one, and can over a flash of 0.2 s; 0.1 s is the least."""
    light = Tone(1.60, 0.13)
    bare = soft_hard(one(), light, DARK)
    assert isinstance(bare, OutOfReach)
    assert bare.why == "softer"
    assert _pair(light, DARK, 0.2) == pytest.approx((14.9, 3.7), abs=0.1)
    assert least_flash(one(), light, DARK) == Flash(seconds=0.1)
    assert isinstance(soft_hard(one(), light, DARK, flash=Flash(seconds=0.05)), OutOfReach)
    assert least_flash(one(), LIGHT, DARK) is None
    assert least_flash(one(), Tone(1.35, 1.2), DARK) is None


def test_a_flash_left_out_of_the_reckoning_is_a_grey_highlight() -> None:
    """12.0 + 4.4 promise 0.12 for a tone of 1.35; with 0.4 s of flash it prints 0.42 where nothing takes it in."""
    mix = mixture(one())
    assert float(densities(mix, 12.0, 4.4, 1.35)) == pytest.approx(0.12, abs=0.005)
    assert float(densities(mix, 12.0, 4.4, 1.35, Flash(seconds=0.4))) == pytest.approx(0.42, abs=0.005)


def test_a_flash_that_prints_by_itself_is_refused() -> None:
    assert most_seconds(one()) == pytest.approx(0.49, abs=0.005)
    assert alone(one(), Flash(seconds=most_seconds(one()))) == pytest.approx(MOST_ALONE, abs=1e-9)
    assert soft_hard(one(), LIGHT, DARK, flash=Flash(seconds=0.49))
    with pytest.raises(Impossible, match=r"0\.50 s through the soft filter prints 0\.04 .* at most 0\.49 s"):
        soft_hard(one(), LIGHT, DARK, flash=Flash(seconds=0.50))


def test_a_tone_lighter_than_the_flash_is_said() -> None:
    flash = Flash(seconds=0.48)
    answer = soft_hard(one(), Tone(1.35, one().dmin + 0.03), DARK, flash=flash)
    assert isinstance(answer, OutOfReach)
    assert answer.why == "over-flash"
    assert "flash alone" in answer.sentence


def test_no_flash_is_the_old_answer() -> None:
    """A flash of nothing gives the very answer without one, and a small one goes over into it."""
    bare = soft_hard(demo(), Tone(1.25, 0.1588), Tone(0.22, 1.9491))
    assert isinstance(bare, Reached)
    assert soft_hard(demo(), Tone(1.25, 0.1588), Tone(0.22, 1.9491), flash=Flash(seconds=0.0)) == bare
    off = []
    for seconds in (1e-2, 1e-3, 1e-4):
        answer = soft_hard(demo(), Tone(1.25, 0.1588), Tone(0.22, 1.9491), flash=Flash(seconds=seconds))
        assert isinstance(answer, Reached)
        off.append(abs(answer.pair.soft_seconds - bare.pair.soft_seconds))
    assert off[0] > 5.0 * off[1] > 25.0 * off[2] > 0.0


@given(
    number=st.integers(0, 9),
    filter_name=st.sampled_from(["soft", "hard"]),
    share=st.floats(0.0, 0.99),
    light=st.floats(0.9, 1.7),
    dark=st.floats(0.1, 0.5),
    over=st.floats(0.03, 0.5),
    between=st.floats(0.05, 0.95),
)
@settings(max_examples=60, deadline=None)
def test_a_pair_over_a_flash_prints_both_tones(
    number: int, filter_name: str, share: float, light: float, dark: float, over: float, between: float
) -> None:
    """Whatever can be had over a flash is had: both tones print as wished, by a sum of lights written out here."""
    _, paper = of_family(number)
    assert paper.shape == "logistic"
    mix = mixture(paper)
    flash = Flash(seconds=share * most_seconds(paper, filter_name), filter=filter_name)
    wanted, softest, hardest = reach(paper, light, dark, points=41, flash=flash)
    at = int(np.searchsorted(wanted, mix.dmin + alone(paper, flash) + over))
    ends = float(softest[at]), float(hardest[at])
    aims = float(wanted[at]), ends[0] + between * (ends[1] - ends[0])
    if aims[1] <= aims[0] + 0.05:
        return
    answer = soft_hard(paper, Tone(light, aims[0]), Tone(dark, aims[1]), longest_seconds=1e6, flash=flash)
    assert isinstance(answer, Reached), answer
    for tone, aim in zip((light, dark), aims, strict=True):
        printed = paper.dmin
        for emulsion in paper.emulsions:
            soft, hard = 10.0**emulsion.soft_speed, 10.0**emulsion.hard_speed
            got = (answer.pair.soft_seconds * soft + answer.pair.hard_seconds * hard) / 10.0**tone
            got += flash.seconds * (soft if filter_name == "soft" else hard)
            shown = 1.0 / (1.0 + np.exp(-paper.contrast * np.log10(got)))
            printed += emulsion.weight * (paper.dmax - paper.dmin) * shown**paper.shoulder
        assert printed == pytest.approx(aim, abs=0.002)


def test_more_flash_lowers_soft_on_any_paper() -> None:
    """With both tones held, every bit of soft flash more takes soft light away and wants hard light more."""
    for number in range(8):
        _, paper = of_family(number)
        light = Tone(1.3, paper.dmin + 0.09)
        wanted, softest, hardest = reach(paper, 1.3, 0.2)
        ends = [float(np.interp(light.print_density, wanted, each)) for each in (softest, hardest)]
        dark = Tone(0.2, ends[0] + 0.3 * (ends[1] - ends[0]))
        found = []
        for share in np.linspace(0.0, 0.6, 7):
            answer = soft_hard(paper, light, dark, flash=Flash(seconds=share * most_seconds(paper)))
            if isinstance(answer, OutOfReach):
                break
            found.append((answer.pair.soft_seconds, answer.pair.hard_seconds))
        assert len(found) >= 3, number
        assert np.all(np.diff([soft for soft, _ in found]) < 0.0)
        assert np.all(np.diff([hard for _, hard in found]) > 0.0)


def test_papers_outside_the_family_print_both_tones() -> None:
    """Over half and most of the flash that prints nothing, 50 papers of another make print both tones within 0.11."""
    rng = np.random.default_rng(59)
    worst = []
    for number in range(50):
        hidden, paper = of_others(number)
        for share in (0.5, 0.9):
            flash = Flash(seconds=share * most_seconds(paper))
            light, dark = rng.uniform(1.0, 1.6), rng.uniform(0.1, 0.5)
            wanted, softest, hardest = reach(paper, light, dark, flash=flash)
            at = int(np.searchsorted(wanted, paper.dmin + rng.uniform(0.07, 0.4)))
            between = rng.uniform(0.05, 0.95)
            aims = float(wanted[at]), float(softest[at] + between * (hardest[at] - softest[at]))
            answer = soft_hard(paper, Tone(light, aims[0]), Tone(dark, aims[1]), flash=flash)
            assert isinstance(answer, Reached), (number, answer)
            seconds = answer.pair.soft_seconds, answer.pair.hard_seconds
            printed = hidden.densities(*seconds, np.array([light, dark]), soft_flash=flash.seconds)
            worst.append(float(np.max(np.abs(printed - aims))))
    print(f"{len(worst)} pairs over a flash: worst {max(worst):.3f}, middle {np.median(worst):.3f}")
    assert max(worst) <= OUTSIDE_WITHIN


def test_turned_round_it_is_the_same_curve() -> None:
    """The negative density that prints as a density over a flash prints as it; under the flash alone there is none."""
    mix, flash = mixture(one()), Flash(seconds=0.3)
    for density in (0.10, 0.5, 1.9):
        tone = float(thinnest(mix, 12.0, 4.4, density, flash))
        assert float(densities(mix, 12.0, 4.4, tone, flash)) == pytest.approx(density, abs=1e-9)
    assert np.isnan(thinnest(mix, 12.0, 4.4, mix.dmin + alone(one(), flash) / 2, flash))


def test_a_held_tone_and_picks_stay_over_a_flash() -> None:
    """Another contrast holds the tone as it prints over the flash, and strips over one stand for the same negative."""
    mix, flash = mixture(one()), Flash(seconds=0.3)
    before = float(densities(mix, 10.0, 8.0, 0.7, flash))
    answer = hold(one(), 10.0, 8.0, 0.7, 90.0, flash=flash)
    assert isinstance(answer, Reached)
    assert answer.pair.predicted[0] == pytest.approx(before, abs=1e-3)
    tones = from_picks(one(), 10.0, 8.0, 0.13, 1.93, flash)
    printed = pair(one(), 10.0, 8.0, tones[0].negative_density, tones[1].negative_density, flash).predicted
    assert float(densities(mix, 10.0, 0.0, tones[0].negative_density, flash)) == pytest.approx(0.13, abs=1e-6)
    assert printed[1] == pytest.approx(1.93, abs=1e-6)


@pytest.mark.parametrize(("callier", "stops"), [(1.1, 0.49), (1.2, 0.97), (1.3, 1.42)])
def test_a_condenser_left_out_makes_soft_short(callier: float, stops: float) -> None:
    """So much soft light more than a densitometer's figures say do a negative's 1.25 and 0.22 want (paper one)."""
    said = soft_hard(one(), Tone(1.25, 0.13), Tone(0.22, 1.93))
    real = soft_hard(one(), Tone(1.25 * callier, 0.13), Tone(0.22 * callier, 1.93))
    assert isinstance(said, Reached)
    assert isinstance(real, Reached)
    assert np.log2(real.pair.soft_seconds / said.pair.soft_seconds) == pytest.approx(stops, abs=0.006)


def test_the_hidden_papers_flash_as_the_fitted_ones() -> None:
    """The forward model of these tests and the project's agree on paper one."""
    mix, hidden = mixture(demo()), paper_one()
    tones = np.array([0.2, 0.7, 1.35])
    mine = densities(mix, 12.0, 4.4, tones, Flash(seconds=0.4))
    assert mine == pytest.approx(hidden.densities(12.0, 4.4, tones, soft_flash=0.4), abs=0.02)
    mine = densities(mix, 12.0, 4.4, tones, Flash(seconds=2.0, filter="hard"))
    assert mine == pytest.approx(hidden.densities(12.0, 4.4, tones, hard_flash=2.0), abs=0.02)
