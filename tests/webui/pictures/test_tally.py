"""Strokes in fives: as many as there were prints, within the picture, and a bar that fills by what is used."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webui.pictures import tally_picture
from webui.pictures.drawing import WIDTH
from webui.pictures.tally import MOST_STROKES

_LINE = re.compile(r'<path d="M([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)"')


def strokes(number: int, used: float | None = None) -> list[tuple[float, ...]]:
    """Return the ends of each stroke that is drawn."""
    drawn = str(tally_picture(number, used, ident="t", words="so many").svg)
    return [tuple(map(float, found)) for found in _LINE.findall(drawn)]


@pytest.mark.parametrize(
    ("number", "drawn"), [(0, 0), (1, 1), (5, 5), (26, 26), (100, 100), (101, 1), (199, 99), (200, 100), (1000, 100)]
)
def test_there_is_a_stroke_a_print_up_to_a_hundred(number: int, drawn: int) -> None:
    """Above it only those of the hundred that is being drawn: the number stands beside."""
    assert len(strokes(number)) == drawn


@given(st.integers(0, 2 * MOST_STROKES), st.none() | st.floats(0, 3))
def test_all_of_it_lies_in_the_picture(number: int, used: float | None) -> None:
    """No stroke is outside, none lies on another, and the bar is never longer than its box."""
    picture = tally_picture(number, used, ident="t", words="so many")
    found = strokes(number, used)
    assert all(
        0 <= x <= WIDTH and 0 <= y <= picture.height for x1, y1, x2, y2 in found for x, y in ((x1, y1), (x2, y2))
    )
    assert len(set(found)) == len(found)
    widths = [float(width) for width in re.findall(r'<rect x="[^"]*" y="[^"]*" width="([\d.]+)"', str(picture.svg))]
    assert widths == sorted(widths, reverse=True)


def test_each_fifth_stroke_crosses_the_four_before_it() -> None:
    """From left to right over all of them, as a hand counts."""
    *four, fifth = strokes(5)
    assert fifth[0] < min(min(one[0], one[2]) for one in four)
    assert fifth[2] > max(max(one[0], one[2]) for one in four)


def test_the_bar_fills_by_what_is_used() -> None:
    """Half is half of its box; without a capacity there is none."""
    whole, half = re.findall(
        r'<rect x="[^"]*" y="[^"]*" width="([\d.]+)"', str(tally_picture(3, 0.5, ident="t", words="x").svg)
    )
    assert float(half) * 2 == pytest.approx(float(whole))
    assert "<rect" not in str(tally_picture(3, None, ident="t", words="x").svg)
