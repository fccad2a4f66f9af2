"""Areas as a finger draws them: few points, near the stroke, the same area; what is no area is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from controller.errors import Impossible
from controller.recipe.outline import (
    MOST_POINTS,
    SURE,
    Outline,
    drawn,
    parse_places,
    places_text,
    simplified,
    size,
)

SQUARE = ((0.2, 0.2), (0.8, 0.2), (0.8, 0.8), (0.2, 0.8))


def _round(points: int, radius: float = 0.3, shake: float = 0.0) -> list[tuple[float, float]]:
    """A stroke round the middle, shaken as a hand shakes: eight times on the way round."""
    found = []
    for n in range(points):
        turn = 2.0 * math.pi * n / points
        reach = radius + shake * math.sin(8.0 * turn)
        found.append((0.5 + reach * math.cos(turn), 0.5 + reach * math.sin(turn)))
    return found


def _off(point: tuple[float, float], outline: tuple[tuple[float, float], ...]) -> float:
    """Distance of a point from a polygon's line, by trying many points of it: a check of its own."""
    best = math.inf
    for n in range(len(outline)):
        (ax, ay), (bx, by) = outline[n - 1], outline[n]
        for part in range(41):
            share = part / 40
            best = min(best, math.dist(point, (ax + share * (bx - ax), ay + share * (by - ay))))
    return best


def test_a_square_is_its_corners() -> None:
    """Points along straight sides are left out, and its area is the textbook's."""
    sides = [
        (ax + (bx - ax) * n / 50, ay + (by - ay) * n / 50)
        for (ax, ay), (bx, by) in zip(SQUARE, (*SQUARE[1:], SQUARE[0]), strict=True)
        for n in range(50)
    ]
    found = drawn("A", sides)
    assert sorted(found.places) == sorted(SQUARE)
    assert size(found.places) == pytest.approx(0.36)


def test_a_circle_s_area_is_pi_r_squared() -> None:
    """Of 500 points a few are kept; the area is the circle's within 2 %."""
    found = drawn("sky", _round(500))
    assert len(found.points) <= MOST_POINTS
    assert size(found.places) == pytest.approx(math.pi * 0.3**2, rel=0.02)


@given(
    points=st.integers(12, 900),
    radius=st.floats(0.05, 0.45),
    shake=st.floats(0.0, 0.03),
)
def test_what_is_kept_lies_along_the_stroke(points: int, radius: float, shake: float) -> None:
    """However long and shaken: at most so many points, each of the stroke; none of the stroke is far from them."""
    stroke = _round(points, radius, shake)
    kept = simplified(stroke)
    assert 3 <= len(kept) <= MOST_POINTS
    assert set(kept) <= set(stroke)
    far = max(_off(point, kept) for point in stroke[::11])
    assert far <= (SURE + 0.003 if shake < 0.004 else 0.03)


@given(st.lists(st.tuples(st.floats(-1, 2), st.floats(-1, 2)), max_size=60))
def test_any_stroke_is_an_outline_or_a_sentence(stroke: list[tuple[float, float]]) -> None:
    """It lies on the picture and reads back the same, or it is said that it holds next to nothing."""
    try:
        found = drawn("B", stroke)
    except Impossible:
        return
    assert all(0.0 <= each <= 1.0 for place in found.places for each in place)
    assert Outline.model_validate_json(found.model_dump_json()) == found
    assert parse_places(places_text(found.places)) == found.places


@pytest.mark.parametrize(
    "stroke",
    [
        (),
        ((0.1, 0.1), (0.9, 0.9)),
        ((0.1, 0.1), (0.5, 0.5), (0.9, 0.9)),
        ((0.5, 0.5), (0.501, 0.5), (0.501, 0.501), (0.5, 0.501)),
        ((1.5, 1.5), (1.6, 1.5), (1.6, 1.6)),
    ],
)
def test_next_to_nothing_is_refused(stroke: tuple[tuple[float, float], ...]) -> None:
    """A line, a dot, a stroke beside the picture."""
    with pytest.raises(Impossible, match="The outline of A holds next to nothing"):
        drawn("A", stroke)


def test_a_file_with_a_bad_outline_is_refused() -> None:
    """Shares outside the picture, two points, too many, no area: none is read."""
    good = drawn("A", SQUARE).model_dump(mode="json")
    for points in (
        [[0.1, 0.1], [0.2, 1.2], [0.3, 0.1]],
        [[0.1, 0.1], [0.9, 0.9]],
        [[0.1, 0.1], [0.5, 0.5], [0.9, 0.9]],
        [[0.5 + 0.4 * math.cos(n), 0.5 + 0.4 * math.sin(n)] for n in range(MOST_POINTS + 1)],
    ):
        with pytest.raises(ValidationError):
            Outline.model_validate(good | {"points": points})


def test_what_is_no_point_is_left_out() -> None:
    """A form may hold anything: what is no share of the picture, or near it, is no point."""
    assert parse_places("0.1,0.2 x 0.3 0.4,nan 1e9,0 ,, 0.5,0.6") == ((0.1, 0.2), (0.5, 0.6))
    assert len(parse_places("0.5,0.5 " * 100_000)) < 10_000
