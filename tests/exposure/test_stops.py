"""Stops: their text, their exact value, and the rounding of every computed time."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure.stops import (
    fraction_text,
    light_factor,
    parse_more_stops,
    parse_stops,
    round_ms,
    seconds_text,
    signed_text,
    stops_between,
)
from controller.exposure.strip_times import between_ms

WITHIN = st.fractions(-5, 5, max_denominator=48)


@pytest.mark.parametrize(
    ("text", "stops"),
    [
        ("1", Fraction(1)),
        (1, Fraction(1)),
        (-2, Fraction(-2)),
        ("1/3", Fraction(1, 3)),
        ("+1/3", Fraction(1, 3)),
        ("-1/3", Fraction(-1, 3)),
        ("−1/3", Fraction(-1, 3)),
        ("1 1/2", Fraction(3, 2)),
        ("-1 1/2", Fraction(-3, 2)),
        ("4/3", Fraction(4, 3)),
        ("0.5", Fraction(1, 2)),
        ("0", Fraction(0)),
        ("5", Fraction(5)),
        ("0.1", Fraction(1, 10)),
    ],
)
def test_every_form_is_read_exactly(text: str | int, stops: Fraction) -> None:
    """Each form of stops text stands for its exact fraction."""
    assert parse_stops(text) == stops


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "x",
        "1/0",
        "1/",
        "/3",
        "1//3",
        "1 2",
        "1 0.5",
        "1 1 1/3",
        "½",
        "0,5",
        "1e0",
        "nan",
        "inf",
        "--1",
        "0x1",
        ".",
        "1.",
        "١/٣",
        "1" * 50,
        True,
    ],
)
def test_what_is_no_stops_is_refused(text: str) -> None:
    """Text that says no stops is refused with the forms that do."""
    with pytest.raises(Impossible, match="is not stops, so write 1/3"):
        parse_stops(text)


@pytest.mark.parametrize("text", ["5.01", "-6", 6, "61/12", "5 1/12"])
def test_more_than_five_stops_are_refused(text: str | int) -> None:
    """Stops reach from −5 to 5."""
    with pytest.raises(Impossible, match="at most 5"):
        parse_stops(text)


@pytest.mark.parametrize("text", ["0", 0, "-1/3", "0/3"])
def test_none_and_less_are_refused_where_more_is_needed(text: str | int) -> None:
    """A burn, a dodge and a step need more than no stops."""
    with pytest.raises(Impossible, match="more than 0"):
        parse_more_stops(text)


@given(WITHIN)
def test_text_of_a_fraction_is_read_back(stops: Fraction) -> None:
    """A fraction's text is read back as the same fraction."""
    assert parse_stops(fraction_text(stops)) == stops


@given(WITHIN, WITHIN)
def test_more_stops_are_more_light(one: Fraction, two: Fraction) -> None:
    """The factor of light grows with the stops."""
    assert (one < two) == (light_factor(one) < light_factor(two))


@given(WITHIN)
def test_stops_of_a_factor_are_the_stops(stops: Fraction) -> None:
    """Doubling by stops and counting the doublings undo each other."""
    assert stops_between(Fraction(1), light_factor(stops)) == pytest.approx(float(stops), abs=1e-12)


@given(st.integers(-5, 5), st.integers(100, 900_000))
def test_whole_stops_are_exact(stops: int, ms: int) -> None:
    """A whole stop doubles or halves with nothing lost."""
    assert ms * light_factor(Fraction(stops)) == Fraction(ms) * Fraction(2) ** stops


@given(st.fractions(0, 900_000, max_denominator=10_000))
def test_rounding_goes_to_the_nearest_tenth(exact: Fraction) -> None:
    """A computed time moves by at most half a tenth of a second, and a half goes up."""
    rounded = round_ms(exact)
    assert rounded % 100 == 0
    assert -50 < rounded - exact <= 50


def test_a_half_goes_up() -> None:
    """Exactly half-way between two tenths, the longer is taken."""
    assert [round_ms(Fraction(ms)) for ms in (49, 50, 150, 249, 250)] == [0, 100, 200, 200, 300]


@given(st.integers(100, 600_000), st.integers(100, 600_000))
def test_between_lies_between(one: int, two: int) -> None:
    """The geometric mean lies between its two times, and is rounded to the nearest tenth of the exact root."""
    middle = between_ms(one, two)
    assert min(one, two) - 50 <= middle <= max(one, two) + 50
    assert (middle - 50) ** 2 <= one * two < (middle + 50) ** 2


@pytest.mark.parametrize(
    ("ms", "text"), [(12_000, "12.0"), (7_600, "7.6"), (100, "0.1"), (10_125, "10.125"), (2_250, "2.25")]
)
def test_seconds_are_said_to_the_tenth_unless_typed_finer(ms: int, text: str) -> None:
    """Seconds are shown to 0.1 s, and typed milliseconds are not hidden."""
    assert seconds_text(ms) == text


@pytest.mark.parametrize(
    ("text", "less", "said"), [("1", False, "+1"), ("+1/3", False, "+1/3"), ("1/3", True, "−1/3"), (1, True, "−1")]
)
def test_signed_stops_keep_their_text(text: str | int, less: bool, said: str) -> None:
    """Beside seconds, stops are said with a sign and in the words they were typed in."""
    assert signed_text(text, less=less) == said
