"""Laws of soft and hard light on any paper that the model can be."""

from __future__ import annotations

from itertools import accumulate

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.special import expit, ndtr
from tools.hidden_papers import BOX

from controller.paper.emulsions import densities, gradient, logistic, mixture, normal, thinnest
from controller.paper.iso import range_of
from controller.paper.paper import Emulsion, Paper


@st.composite
def papers(draw: st.DrawFn) -> Paper:
    """Any paper as the fit could leave it: equal blue but for a little leak, green staggered."""
    count = draw(st.integers(2, 4))
    gaps = draw(st.lists(st.floats(0.05, 0.9), min_size=count - 1, max_size=count - 1))
    parts = draw(st.lists(st.floats(0.3, 3.0), min_size=count, max_size=count))
    soft = draw(st.floats(-3.0, 1.0)) - np.array([0.0, *accumulate(gaps)])
    leak = draw(st.floats(0.0, 0.05))
    hard = draw(st.floats(-3.0, 1.0)) + np.log10(1.0 + leak * 10.0 ** (soft - soft[0]))
    weights = np.array(parts) / sum(parts)
    dmin = draw(st.floats(0.02, 0.1))
    return Paper(
        name="any",
        box=BOX,
        shape=draw(st.sampled_from(["logistic", "normal"])),
        contrast=draw(st.floats(5.0, 16.0)),
        shoulder=draw(st.floats(0.7, 1.4)),
        dmin=dmin,
        dmax=dmin + draw(st.floats(1.5, 2.3)),
        emulsions=tuple(
            Emulsion(weight=float(w), soft_speed=float(s), hard_speed=float(h))
            for w, s, h in zip(weights, soft, hard, strict=True)
        ),
        rms_density=0.0,
        worst_density=0.0,
    )


seconds = st.floats(0.5, 120.0)
tones = st.floats(0.0, 2.5)


@given(paper=papers(), shares=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=8, unique=True))
@settings(max_examples=60, deadline=None)
def test_range_falls_with_the_hard_share(paper: Paper, shares: list[float]) -> None:
    """R lies strictly between the pure lights' values and falls strictly with the hard share."""
    mix = mixture(paper)
    soft_unit, hard_unit = 10.0 ** -mix.soft.mean(), 10.0 ** -mix.hard.mean()
    soft, hard = range_of(mix, 1.0, 0.0), range_of(mix, 0.0, 1.0)
    assert hard < soft
    rising = sorted(share for share in shares if 0.01 <= share <= 0.99)
    ranges = [range_of(mix, soft_unit * (1.0 - share), hard_unit * share) for share in rising]
    assert all(hard < each < soft for each in ranges)
    for one, two in zip(range(len(rising)), range(1, len(rising)), strict=False):
        if rising[two] - rising[one] > 1e-4:
            assert ranges[two] < ranges[one]


@given(paper=papers(), parts=st.lists(st.tuples(st.booleans(), st.floats(0.1, 20.0)), min_size=2, max_size=8), d=tones)
@settings(max_examples=60, deadline=None)
def test_order_of_light_is_irrelevant(paper: Paper, parts: list[tuple[bool, float]], d: float) -> None:
    """Soft and hard light in any order and in any parts print the same as one soft and one hard light."""
    mix = mixture(paper)

    def given_in_order(order: list[tuple[bool, float]]) -> float:
        # Light is booked on each emulsion as it comes, as a sheet gets it.
        got = np.zeros(len(mix.weights))
        for is_soft, lit in order:
            got += lit * 10.0 ** (mix.soft if is_soft else mix.hard) * 10.0**-d
        return _printed(mix, got)

    soft = sum(lit for is_soft, lit in parts if is_soft)
    hard = sum(lit for is_soft, lit in parts if not is_soft)
    whole = float(densities(mix, soft, hard, d))
    assert given_in_order(parts) == pytest.approx(whole, abs=1e-9)
    assert given_in_order(parts[::-1]) == pytest.approx(whole, abs=1e-9)
    assert given_in_order(sorted(parts)) == pytest.approx(whole, abs=1e-9)


def _printed(mix, got: np.ndarray) -> float:
    """The density of a sheet whose emulsions got this light: the same formula, written out again."""
    z = mix.contrast * np.log10(got)
    each = (expit(z) if mix.shape == "logistic" else ndtr(z / 1.702)) ** mix.shoulder
    return float(mix.dmin + (mix.dmax - mix.dmin) * (each @ mix.weights))


@given(paper=papers(), soft=seconds, hard=seconds, more=st.floats(-2.0, 2.0), d=tones)
@settings(max_examples=60, deadline=None)
def test_scaling_both_times_shifts_only(paper: Paper, soft: float, hard: float, more: float, d: float) -> None:
    """Both times by one factor print as a negative thinner by its logarithm, and R stays."""
    mix = mixture(paper)
    factor = 10.0**more
    shifted = float(densities(mix, soft * factor, hard * factor, d + more))
    assert shifted == pytest.approx(float(densities(mix, soft, hard, d)), abs=1e-9)
    assert range_of(mix, soft * factor, hard * factor) == pytest.approx(range_of(mix, soft, hard), abs=1e-6)


@given(paper=papers(), soft=seconds, hard=seconds, share=st.floats(0.001, 0.999))
@settings(max_examples=60, deadline=None)
def test_turning_the_curve_round(paper: Paper, soft: float, hard: float, share: float) -> None:
    """The negative density that prints as a density prints as it; outside white and black there is none."""
    mix = mixture(paper)
    wanted = mix.dmin + share * mix.net
    tone = float(thinnest(mix, soft, hard, wanted))
    assert float(densities(mix, soft, hard, tone)) == pytest.approx(wanted, abs=1e-9)
    assert np.isnan(thinnest(mix, soft, hard, mix.dmin))
    assert np.isnan(thinnest(mix, soft, hard, mix.dmax + 0.1))


@given(paper=papers(), soft=seconds, hard=seconds, d=tones)
@settings(max_examples=40, deadline=None)
def test_slopes_are_the_formulas_own(paper: Paper, soft: float, hard: float, d: float) -> None:
    """Each slope of a density by a figure of the paper is what a small change of that figure makes."""
    mix = mixture(paper)
    slopes = gradient(mix, soft, hard, np.array([d]))[0]
    step = 1e-6

    def moved(**changes: object) -> float:
        changed = {name: getattr(mix, name) for name in mix.__dataclass_fields__} | changes
        return float(densities(type(mix)(**changed), soft, hard, d))

    singles = [
        lambda s: moved(dmin=mix.dmin + s),
        lambda s: moved(dmax=mix.dmax + s),
        lambda s: moved(contrast=mix.contrast * np.exp(s)),
        lambda s: moved(shoulder=mix.shoulder * np.exp(s)),
    ]
    numeric = [(each(step) - each(-step)) / (2 * step) for each in singles]
    for name in ("weights", "soft", "hard"):
        for place in np.eye(len(mix.weights)) * step:
            up, down = (moved(**{name: getattr(mix, name) + sign * place}) for sign in (1, -1))
            numeric.append((up - down) / (2 * step))
    assert slopes == pytest.approx(np.array(numeric), abs=1e-6)


@given(paper=papers(), soft=seconds, hard=seconds)
@settings(max_examples=30, deadline=None)
def test_more_light_is_never_lighter(paper: Paper, soft: float, hard: float) -> None:
    """More soft light, more hard light, or less density in the way never prints lighter."""
    mix = mixture(paper)
    d = np.linspace(-1.0, 3.0, 41)
    now = densities(mix, soft, hard, d)
    assume(bool(np.isfinite(now).all()))
    assert np.all(np.diff(now) <= 1e-12)
    assert np.all(densities(mix, soft * 1.1, hard, d) >= now - 1e-12)
    assert np.all(densities(mix, soft, hard * 1.1, d) >= now - 1e-12)


@pytest.mark.filterwarnings("error")
def test_the_curves_shapes_are_the_usual_functions() -> None:
    """The logistic and the normal function, to the last digits far into toe and shoulder; SciPy's are the measure."""
    z = np.concatenate([np.linspace(-37.0, 37.0, 4001), [-800.0, -1e4, 0.0, 800.0, 1e4, np.inf, -np.inf]])
    for ours, usual in ((logistic, expit), (normal, ndtr)):
        np.testing.assert_allclose(ours(z), usual(z), rtol=2e-13, atol=1e-300)
        assert ours(0.0) == 0.5
        assert ours(z.reshape(-1, 2)[:, :1]).shape == (len(z) // 2, 1)
