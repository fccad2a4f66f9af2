"""The column rule: distances against published tables, and the magnification that a scale's reading gives."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.enlarger import column
from controller.errors import Impossible

focals = st.integers(20, 400)
magnifications = st.fractions(1, 40, max_denominator=60)
offsets = st.integers(-2000, 2000)


@pytest.mark.parametrize(
    ("focal_in", "times", "to_easel", "to_negative"),
    [
        ("6", "4", "30", "7.5"),  # British Journal Almanac, table of distances, seen
        ("3", "8", "27", "3.375"),  # British Journal Almanac, table of distances, seen
        ("7", "2", "21", "10.5"),  # Sinclair Handbook of Photography, table of distances, seen
    ],
)
def test_the_published_tables_of_distances(focal_in: str, times: str, to_easel: str, to_negative: str) -> None:
    """From negative to easel it is what the tables give from lens to easel and from negative to lens together.

    The rule knows no unit: inches in are inches out.
    """
    whole = Fraction(to_easel) + Fraction(to_negative)
    assert column.distance_mm(Fraction(focal_in), Fraction(times)) == whole
    assert column.magnification_at(Fraction(focal_in), 0, whole) == pytest.approx(float(times), abs=1e-12)


@pytest.mark.parametrize(("m", "distance"), [(2, 675.0), (4, 937.5)])
def test_a_lens_of_150(m: int, distance: float) -> None:
    """With 150 mm it is 675.0 mm at m 2 and 937.5 mm at m 4 (derived: 150·(2 + m + 1/m))."""
    assert float(column.distance_mm(150, m)) == distance


@given(focals, magnifications, magnifications, offsets)
def test_one_known_pair_is_enough(focal: int, known: Fraction, other: Fraction, offset: int) -> None:
    """The offset of one known pair gives the magnification at every other reading of that column."""
    reading = column.distance_mm(focal, known) - offset
    found = column.offset_mm(focal, known, reading)
    assert found == offset
    there = column.distance_mm(focal, other) - offset
    assert column.magnification_at(focal, found, there) == pytest.approx(float(other), rel=1e-9)


@given(focals, st.fractions(Fraction(1, 40), 40, max_denominator=60))
def test_of_two_magnifications_the_greater(focal: int, m: Fraction) -> None:
    """A reduction and an enlargement stand at one distance; the enlargement is told."""
    at = (2 + m + 1 / m) * focal
    assert column.magnification_at(focal, 0, at) == pytest.approx(float(max(m, 1 / m)), rel=1e-9)


@given(focals, st.fractions(0, 4, max_denominator=1000).filter(lambda part: part < 4))
def test_nearer_than_four_focal_lengths_is_refused(focal: int, part: Fraction) -> None:
    """No picture is sharp nearer than four focal lengths: the sentence says both distances."""
    with pytest.raises(Impossible) as refused:
        column.magnification_at(focal, 0, part * focal)
    assert f"{4 * focal:.1f} mm" in str(refused.value)
    assert refused.value.place == ("reading",)


def test_four_focal_lengths_are_life_size() -> None:
    """At just four focal lengths the magnification is 1, and 1 is not refused."""
    assert column.magnification_at(150, 0, 600) == 1.0
    assert column.distance_mm(150, 1) == 600


def test_a_reduction_is_refused() -> None:
    """A magnification under 1 is refused: its reading would be told as an enlargement."""
    with pytest.raises(Impossible) as refused:
        column.distance_mm(150, 0.5)
    assert "0.5" in str(refused.value)
