"""Where frames lie on a photograph of the contact sheet: cut by rows and columns, straight or askew."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.negatives.on_proof import WHOLE, cells

SIZE = (1600, 1200)
corner = st.floats(0.0, 0.25)
ASKEW = st.tuples(*([st.tuples(corner, corner)] * 4)).map(
    lambda by: (
        (by[0][0], by[0][1]),
        (1 - by[1][0], by[1][1]),
        (1 - by[2][0], 1 - by[2][1]),
        (by[3][0], 1 - by[3][1]),
    )
)


def test_a_sheet_that_fills_the_photograph_is_cut_evenly() -> None:
    """With the photograph's own corners each frame is a row's and a column's even share, row by row."""
    found = cells(WHOLE, SIZE, 3, 4)
    assert len(found) == 12
    assert found[0].corners == ((0, 0), (400, 0), (400, 400), (0, 400))
    assert found[5].corners[0] == (400, 400)
    assert found[11].corners[2] == (1600, 1200)
    assert found[0].shape == 1.0


@given(ASKEW, st.integers(1, 8), st.integers(1, 8))
def test_frames_fill_the_field_and_share_their_edges(
    corners: tuple[tuple[float, float], ...], rows: int, columns: int
) -> None:
    """However askew, the outer frames reach the four corners, and neighbours meet: nothing is left out or cut twice."""
    found = cells(corners, SIZE, rows, columns)
    at = [(x * SIZE[0], y * SIZE[1]) for x, y in corners]
    ends = (found[0], found[columns - 1], found[-1], found[-columns])
    for number, one in enumerate(ends):
        assert one.corners[number] == pytest.approx(at[number], abs=1e-6)
    for left, right in itertools.pairwise(found[:columns]):
        assert left.corners[1] == pytest.approx(right.corners[0])
        assert left.corners[2] == pytest.approx(right.corners[3])


@given(ASKEW)
def test_a_straight_line_on_the_sheet_is_one_on_the_photograph(corners: tuple[tuple[float, float], ...]) -> None:
    """A flat sheet seen from anywhere keeps its lines straight (perspective); so the diagonal's middle stays on it."""
    (first, *_, last) = cells(corners, SIZE, 2, 2)
    (ax, ay), (mx, my), (bx, by) = first.corners[0], first.corners[2], last.corners[2]
    assert (bx - ax) * (my - ay) - (by - ay) * (mx - ax) == pytest.approx(0, abs=1e-3)


@given(ASKEW)
def test_a_frames_middle_comes_to_the_middle_and_its_edges_to_the_edges(
    corners: tuple[tuple[float, float], ...],
) -> None:
    """What brings a frame into a field brings its middle there, and the middles of its edges to those of the field."""
    one = cells(corners, SIZE, 3, 3)[4]
    a, b, c, d, e, f = one.matrix(120.0, 80.0)

    def brought(*points: tuple[float, float]) -> tuple[float, float]:
        x, y = (sum(axis) / len(points) for axis in zip(*points, strict=True))
        return a * x + c * y + e, b * x + d * y + f

    assert brought(*one.corners) == pytest.approx((60, 40))
    assert brought(one.corners[0], one.corners[3]) == pytest.approx((0, 40), abs=1e-6)
    assert brought(one.corners[2], one.corners[3]) == pytest.approx((60, 80), abs=1e-6)
