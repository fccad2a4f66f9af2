"""Size, distance and aperture: laws that hold for every lens."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from controller.exposure import size
from controller.exposure import size as aperture

TIMES = st.fractions(Fraction(1, 10), 20, max_denominator=100)
MARKED = st.sampled_from([1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64])


@given(TIMES, TIMES)
def test_there_and_back_is_nothing(one: Fraction, two: Fraction) -> None:
    """Enlarging and going back leaves every time as it was."""
    assert size.size_factor(one, two) * size.size_factor(two, one) == 1


@given(TIMES, TIMES, TIMES)
def test_by_way_of_a_third_size_is_the_same(one: Fraction, two: Fraction, three: Fraction) -> None:
    """Two changes of size in turn are one change."""
    assert size.size_factor(one, two) * size.size_factor(two, three) == size.size_factor(one, three)


@given(TIMES, TIMES)
def test_larger_needs_more_but_less_than_the_area_rule(one: Fraction, two: Fraction) -> None:
    """A larger print needs more light, and always less more than its area would say."""
    if two > one:
        assert 1 < size.size_factor(one, two) < size.area_rule(one, two)


def test_the_area_rule_is_right_in_the_end() -> None:
    """For great magnifications the factor comes to the rule of areas."""
    one, two = Fraction(1000), Fraction(2000)
    assert abs(size.size_factor(one, two) / size.area_rule(one, two) - 1) < Fraction(1, 500)


@given(TIMES, st.integers(25, 300))
def test_the_factor_is_the_square_of_the_distances(m: Fraction, focal: int) -> None:
    """At equal pupils the factor of size is the square of the distances from lens to easel."""
    before, after = (size.lens_to_easel_mm(Fraction(focal), x) for x in (m, m + 1))
    assert (after / before) ** 2 == size.size_factor(m, m + 1)
    assert size.magnification_at(Fraction(focal), before) == m


@given(TIMES, st.integers(25, 300))
def test_at_life_size_the_whole_is_four_focal_lengths_and_never_less(m: Fraction, focal: int) -> None:
    """Negative and easel are nearest, four focal lengths apart, at magnification 1."""
    assert size.negative_to_easel_mm(Fraction(focal), Fraction(1)) == 4 * focal
    assert size.negative_to_easel_mm(Fraction(focal), m) >= 4 * focal


@given(MARKED, MARKED)
def test_marked_stops_are_whole(one: float, two: float) -> None:
    """Between two full marks of the ring lie whole stops, there and back the same."""
    assert aperture.aperture_stops(one, two).denominator == 1
    assert aperture.aperture_factor(one, two) * aperture.aperture_factor(two, one) == 1
