"""A paper that fails in long light: what its seconds are worth, and that every answer is given in seconds that last.

Schwarzschild's law (from memory): t' = t_r·(t/t_r)^(1/p), t_r being what the light lasted where the figures hold.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.fitted_papers import demo
from tools.hidden_papers import BOX

from controller.contrast.asks import EnlargerStand
from controller.contrast.at_the_easel import flash_on, standing
from controller.contrast.flash_level import FlashLevel, LevelStand, flash_from, flash_of_density, light_of, stand_on
from controller.easel.one_light import printed, seconds_for
from controller.easel.spots import Measured
from controller.easel.two_tones import reckon
from controller.paper.boxes import respeed_from_pick
from controller.paper.emulsions import densities, lasting, mixture, steady, worth
from controller.paper.flash import Flash, alone, most_seconds
from controller.paper.paper import Paper, Reciprocity, read_paper, seconds_factor, set_up_factor, write_paper
from controller.paper.solver import OutOfReach, Reached, Tone, hold, soft_hard

LIGHT, DARK = Tone(1.25, 0.16), Tone(0.22, 1.95)
P = st.floats(0.85, 1.05)


def failing(p: float) -> Paper:
    """Return the demo paper, that fails in long light by this exponent."""
    return demo().model_copy(update={"reciprocity": Reciprocity(exponent=p, date=date(2026, 11, 30))})


@given(p=P, soft=st.floats(0.1, 600.0), hard=st.floats(0.0, 600.0))
def test_what_lasts_is_worth_what_it_was_meant_to_be(p: float, soft: float, hard: float) -> None:
    """There and back is where it was; what lasted as long as at the readings is worth just that."""
    mix = mixture(failing(p))
    back = worth(mix, *lasting(mix, soft, hard))
    assert np.allclose(back, (soft, hard), rtol=1e-9, atol=1e-12)
    assert np.allclose(worth(mix, *mix.read_seconds), mix.read_seconds)


@pytest.mark.parametrize("p", [0.9, 0.95, 0.99])
def test_the_solver_s_seconds_print_what_was_wished(p: float) -> None:
    """Both tones come where they are wanted, and either light is the usual answer stretched by the law."""
    paper, plain = failing(p), soft_hard(demo(), LIGHT, DARK)
    found = soft_hard(paper, LIGHT, DARK)
    assert isinstance(found, Reached)
    assert isinstance(plain, Reached)
    printed_ = densities(mixture(paper), found.pair.soft_seconds, found.pair.hard_seconds, [1.25, 0.22])
    assert np.allclose(printed_, [0.16, 1.95], atol=0.002)
    for is_, was, at in (
        (found.pair.soft_seconds, plain.pair.soft_seconds, paper.read_seconds[0]),
        (found.pair.hard_seconds, plain.pair.hard_seconds, paper.read_seconds[1]),
    ):
        assert is_ == pytest.approx(at * (was / at) ** (1 / p), rel=1e-6)
    assert found.pair.range_exact == pytest.approx(plain.pair.range_exact, abs=1e-6)


def test_another_contrast_leaves_the_held_tone() -> None:
    """What is held prints as it did, and an answer out of reach is the nearest that lasts so long."""
    paper = failing(0.9)
    before = float(densities(mixture(paper), 12.0, 6.0, 0.7))
    answer = hold(paper, 12.0, 6.0, 0.7, 95.0)
    pair = answer.nearest if isinstance(answer, OutOfReach) else answer.pair
    assert float(densities(mixture(paper), pair.soft_seconds, pair.hard_seconds, 0.7)) == pytest.approx(
        before, abs=1e-3
    )
    far = soft_hard(paper, Tone(1.25, 0.16), Tone(1.1, 2.0))
    assert isinstance(far, OutOfReach)
    lit = far.nearest.soft_seconds, far.nearest.hard_seconds
    assert np.allclose(densities(mixture(paper), *lit, [1.25, 1.1]), far.nearest.predicted)


def test_another_set_up_takes_its_factor_to_the_power_1_over_p() -> None:
    """A stop more is 2^(1/0.9) = 2.16 times as long (derived), and the same without a test of the paper."""
    stood = demo().setup.model_copy(update={"magnification": 2.0, "aperture": 8.0})
    for p, factor in ((1.0, 2.0), (0.9, 2.0 ** (1 / 0.9))):
        paper = failing(p).model_copy(update={"setup": stood})
        assert seconds_factor(paper, 2.0, 11.0) == (pytest.approx(factor), True)
        assert set_up_factor(stood, 2.0, 11.0) == (pytest.approx(2.0), True)


def test_spots_at_the_easel_are_solved_in_seconds_that_last() -> None:
    """Every spot falls where the two lights print it, and one light without numpy agrees with the curve."""
    paper = failing(0.92)
    spots = (Measured("highlight", 1.25, 0.16), Measured("shadow", 0.22, 1.95), Measured("A", 0.7, 1.2))
    found = reckon(paper, spots)
    lit = found.pair.soft_seconds, found.pair.hard_seconds
    for each in found.spots:
        assert each.print_density == pytest.approx(float(densities(mixture(paper), *lit, each.spot.density)))
    seconds = seconds_for(paper, "soft", 1.25, 0.2)
    assert float(densities(mixture(paper), seconds, 0.0, 1.25)) == pytest.approx(0.2, abs=1e-6)
    assert printed(paper, "hard", 40.0, 0.6) == pytest.approx(float(densities(mixture(paper), 0.0, 40.0, 0.6)))


def test_a_flash_counts_as_it_is() -> None:
    """It is short, and found by a strip of its own: nothing is stretched for it."""
    assert most_seconds(failing(0.9)) == most_seconds(demo())
    assert alone(failing(0.9), Flash(seconds=0.4)) == alone(demo(), Flash(seconds=0.4))


@pytest.mark.parametrize(("name", "tone", "wish"), [("sky", 1.45, 0.15), ("hand", 0.7, 1.35), ("coat", 0.22, 1.85)])
def test_a_spot_s_burn_is_a_light_of_its_own(name: str, tone: float, wish: float) -> None:
    """Base and burn are two lights, each worth t_r·(t/t_r)^p; a dodged area has one, the open part (derived)."""
    paper, p = failing(0.85), 0.85
    found = reckon(
        paper, (Measured("highlight", 1.25, 0.16), Measured("shadow", 0.22, 1.95), Measured(name, tone, wish))
    )
    work, soft, hard = found.spots[2].work, found.pair.soft_seconds, found.pair.hard_seconds
    assert work is not None
    lights = {"soft": [soft], "hard": [hard]}
    if work.act == "burn":
        lights[work.filter].append(work.seconds)
    else:
        lights[work.filter] = [lights[work.filter][0] - work.seconds]
    had = [
        sum(at * (t / at) ** p for t in lights[which])
        for which, at in zip(("soft", "hard"), paper.read_seconds, strict=True)
    ]
    assert float(densities(steady(mixture(paper)), *had, tone)) == pytest.approx(wish, abs=1e-3)


@pytest.mark.parametrize("p", [1.0, 0.9])
def test_a_flash_at_another_set_up_is_the_same_flash(p: float) -> None:
    """By its density, by a level, carried over: at f/11 each takes 2^(1/p) as long, and prints what it printed.

    Schwarzschild's law leaves nothing else: I·t^p is the same where t' = t·2^(1/p) (derived).
    """
    stood = demo().setup.model_copy(update={"magnification": 2.0, "aperture": 8.0})
    paper = failing(p).model_copy(update={"setup": stood})
    stand, longer = EnlargerStand(magnification=2.0, aperture=11.0), 2.0 ** (1.0 / p)
    asked = flash_of_density(paper, stand, 0.02)
    assert float(asked.seconds) == pytest.approx(most_seconds(paper, density=0.02) * longer, abs=0.01)
    at = standing(paper, stand, 600_000)
    under, said = flash_on(at, asked)
    assert said is not None
    assert said.alone == pytest.approx(0.02, abs=0.001)
    level = FlashLevel(
        sheet="s",
        number=1,
        day="2026-11-30",
        filter="soft",
        seconds=Decimal("0.4"),
        stand=LevelStand(magnification=2.0, aperture=8.0),
    )
    there = flash_from(level, "just under", stand_on(paper, stand), light_of(paper, level), paper.exponent)
    assert float(there.seconds) == pytest.approx(0.4 * longer, abs=0.006)
    under, _ = flash_on(at, there)
    assert under is not None
    assert under.seconds == pytest.approx(0.4, rel=0.01)


def test_a_box_that_took_longer_prints_as_it_was_picked() -> None:
    """A check strip expected at 10 s and picked at 12.6: on the new box 12.6 s print what 10 s did on the old one."""
    paper = failing(0.9)
    new = respeed_from_pick(paper, 10.0, 12.6, BOX)
    was, is_ = (float(densities(mixture(each), t, 0.0, 0.8)) for each, t in ((paper, 10.0), (new, 12.6)))
    assert is_ == pytest.approx(was, abs=1e-4)


def test_a_paper_that_was_not_tested_is_as_it_was() -> None:
    """Its file says nothing of it, and what is reckoned with is the same to the last bit."""
    assert "reciprocity" not in write_paper(demo())
    assert read_paper(write_paper(failing(0.9)), "paper").exponent == 0.9
    mix = mixture(demo())
    assert steady(mix) is mix
    assert soft_hard(failing(1.0), LIGHT, DARK) == soft_hard(demo(), LIGHT, DARK)
