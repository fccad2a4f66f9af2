"""Where the first strip begins: published size examples, what a condenser starts with, and what is learned."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.enlarger import first_strip
from controller.enlarger.first_strip import COARSE, USUAL, Learned
from controller.errors import Impossible

sizes = st.fractions(Fraction(1, 2), 20, max_denominator=20)
looks = st.sampled_from([Fraction(n, 3) for n in range(-3, 4)])


def _factor(before: Fraction | str, after: Fraction | str, **more: object) -> Fraction:
    return first_strip.factor(proof_magnification=Fraction(before), magnification=Fraction(after), **more)  # type: ignore[arg-type]


def test_from_a_proof_of_fifteen_seconds() -> None:
    """15 s at m 2 are 23.4 s at m 2.75: × 1.5625 (derived: (3.75/3)²)."""
    assert _factor("2", "2.75") == Fraction("1.5625")
    assert first_strip.centre_ms(15_000, _factor("2", "2.75")) == 23_400


def test_the_published_print_size_example() -> None:
    """From m 2 to m 4, 8×10 to 16×20 from 4×5, it is × 2.778 (public print-size worked example, "2.78", seen)."""
    assert float(_factor("2", "4")) == pytest.approx(2.778, abs=5e-4)


def test_opening_up_a_marked_stop_halves_it() -> None:
    """f/8 → f/5.6 counts as one stop less, as the ring is marked, and not as (8/5.6)² (NAVEDTRA 14209, seen)."""
    assert _factor("2", "2", proof_aperture=8, aperture=Fraction("5.6")) == Fraction(1, 2)


@given(sizes, sizes, looks, st.integers(-24, 24))
def test_each_part_of_the_rule_is_a_factor_by_itself(
    one: Fraction, two: Fraction, look: Fraction, twelfths: int
) -> None:
    """Size, look and k multiply; too light on the proof wants more."""
    k = Fraction(twelfths, 12)
    whole = _factor(one, two, look=look, k=k)
    alone = float(_factor(one, two)) * 2.0 ** float(look) * 2.0 ** float(k)
    assert float(whole) == pytest.approx(alone, rel=1e-12)
    assert _factor(one, two, look=Fraction(1)) == 2 * _factor(one, two)


@pytest.mark.parametrize(("callier", "stops"), [(1.0, 0.0), (1.1, 0.42), (1.2, 0.83), (1.3, 1.25)])
def test_what_a_condenser_starts_with(callier: float, stops: float) -> None:
    """At Q 1.1, 1.2 and 1.3 a condenser's k starts at 0.42, 0.83 and 1.25 (derived: (Q − 1)·1.25/0.301)."""
    assert first_strip.k_at_first("condenser", callier) == pytest.approx(stops, abs=5e-3)


def test_a_diffuser_starts_with_nothing() -> None:
    """A diffuser sees the negative as the contact proof does, whatever Q was typed."""
    assert first_strip.k_at_first("diffuser", 1.3) == 0.0


def test_too_short_is_refused() -> None:
    """A middle band under 0.1 s is refused, with the remedy."""
    with pytest.raises(Impossible) as refused:
        first_strip.centre_ms(400, Fraction(1, 10))
    assert "stop down" in str(refused.value)
    assert first_strip.centre_ms(500, Fraction(1, 10)) == 100


# ---- what is learned


def test_until_a_negative_has_taught_it_the_start_counts() -> None:
    """Without negatives k is its start; the first one found takes its place."""
    assert first_strip.learn([], 0.83) == Learned(0.83, 0)
    assert first_strip.learn([0.25], 0.83) == Learned(0.25, 1)


def test_the_median_of_the_last_ten_that_are_near() -> None:
    """What is over two stops off teaches nothing, and of the rest the last ten count."""
    old, new = [1.5] * 10, [0.5] * 5 + [0.7] * 5
    assert first_strip.learn([*old, *new], 0.0) == Learned(pytest.approx(0.6), 10)
    assert first_strip.learn([*new, 2.01, -3.0], 0.0) == Learned(pytest.approx(0.6), 10)
    assert first_strip.learn([2.0], 0.0) == Learned(2.0, 1)


def test_one_mistake_moves_it_little() -> None:
    """One strip with the lens left open by a stop and a half does not move k beyond what the others lie apart."""
    honest = [0.4, 0.5, 0.6]
    assert 0.4 <= first_strip.learn([*honest, -1.1], 0.0).k <= 0.6


def test_finer_from_the_third_negative_on() -> None:
    """Five bands by halves until k rests on three negatives, then seven by thirds: both reach a stop either way."""
    got = [first_strip.fineness(Learned(0.0, number)) for number in range(5)]
    assert got == [COARSE, COARSE, COARSE, USUAL, USUAL]
    for each in (COARSE, USUAL):
        assert each.step * (each.bands - 1) == 2


def test_it_is_learned_in_ten_negatives() -> None:
    """An enlarger with k 0.6, its negatives 0.2 stop apart: found to 0.03 on the mean, three in four times to 0.1.

    Simulated: 200 enlargers of 20 negatives each, fixed seed.
    """
    true, rng = 0.6, np.random.default_rng(6)
    after_ten, after_all = [], []
    for _ in range(200):
        estimate = Fraction(10_000)
        found = [round(10_000 * 2.0 ** (true + rng.normal(0.0, 0.2))) for _ in range(20)]
        wanted = [first_strip.wanted_more(ms, estimate) for ms in found]
        after_ten.append(first_strip.learn(wanted[:10], 0.0).k - true)
        after_all.append(first_strip.learn(wanted, 0.0).k - true)
    for errors in (after_ten, after_all):
        assert abs(np.mean(errors)) < 0.03
        assert np.mean(np.abs(errors) < 0.1) > 0.75
