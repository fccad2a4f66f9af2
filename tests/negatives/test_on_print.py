"""Places on a photograph that sees a flat print askew: to the image and back."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from controller.negatives.on_proof import WHOLE, Onto, goes_round

SHARE = st.floats(0.0, 1.0)
NEAR_CORNER = st.tuples(st.floats(0.0, 0.3), st.floats(0.0, 0.3))


@given(st.tuples(NEAR_CORNER, NEAR_CORNER, NEAR_CORNER, NEAR_CORNER), SHARE, SHARE)
def test_there_and_back_is_the_same_place(off: tuple[tuple[float, float], ...], u: float, v: float) -> None:
    """What is drawn on the photograph comes to its place of the image, and is shown again where it was drawn."""
    (a, b), (c, d), (e, f), (g, h) = off
    corners = ((a, b), (1.0 - c, d), (1.0 - e, 1.0 - f), (g, 1.0 - h))
    assume(goes_round(corners))
    at = Onto(corners)
    assert at.back(*at(u, v)) == pytest.approx((u, v), abs=1e-6)


@given(SHARE, SHARE)
def test_a_picture_that_the_image_fills_changes_nothing(u: float, v: float) -> None:
    """The picture's own corners are the image's."""
    assert Onto(WHOLE)(u, v) == pytest.approx((u, v))
    assert Onto(WHOLE).back(u, v) == pytest.approx((u, v))


def test_the_corners_come_to_the_corners() -> None:
    """The image's corners lie where they were tapped; the crossing of its diagonals is the image's middle.

    Source: a projective mapping keeps straight lines straight, so diagonals stay diagonals (geometry, textbook).
    """
    corners = ((0.1, 0.2), (0.8, 0.1), (0.95, 0.9), (0.05, 0.7))
    at = Onto(corners)
    for square, corner in zip(WHOLE, corners, strict=True):
        assert at(*square) == pytest.approx(corner)
        assert at.back(*corner) == pytest.approx(square, abs=1e-9)
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    # the crossing of two lines through two points each
    one, two = ax * cy - ay * cx, bx * dy - by * dx
    under = (ax - cx) * (by - dy) - (ay - cy) * (bx - dx)
    middle = ((one * (bx - dx) - (ax - cx) * two) / under, (one * (by - dy) - (ay - cy) * two) / under)
    assert at(0.5, 0.5) == pytest.approx(middle)


def test_what_is_seen_beyond_the_horizon_is_some_place() -> None:
    """No stroke on a photograph, however askew it looks, is without a place: nothing raises."""
    at = Onto(((0.45, 0.1), (0.55, 0.1), (1.0, 1.0), (0.0, 1.0)))
    for x in (-1.0, 0.0, 0.5, 1.0, 2.0):
        for y in (-1.0, 0.0, 0.01, 0.5, 1.0, 2.0):
            u, v = at.back(x, y)
            assert u == u
            assert v == v
