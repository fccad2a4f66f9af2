"""The half-shadow of a tool over the paper, against rays traced one by one and against printed distances."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure.penumbra import penumbra

MM_PER_INCH = 25.4
HEIGHTS = st.floats(0.0, 0.95, allow_nan=False)
FOCAL = st.sampled_from([50, 63, 80, 105, 135, 150, 180, 240])
MARKED = st.sampled_from([2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0])
TIMES = st.floats(0.5, 20.0)


def landings(height: float, away: float, opening: float, count: int = 20_000) -> list[float]:
    """Where light of a lens's opening lands past an edge: from each point of the disc a straight line to the paper."""
    found, luck = [], random.Random(1)
    while len(found) < count:
        x, y = luck.uniform(-0.5, 0.5), luck.uniform(-0.5, 0.5)
        if math.hypot(x, y) <= 0.5:
            start = opening * x
            share = away / (away - height)  # the line through (start, away) and (0, height), at the paper
            found.append(start - start * share)
    return found


@pytest.mark.parametrize(
    ("focal", "f", "m", "height"), [(150, 8, 2, 50), (150, 5.6, 4, 120), (50, 8, 8, 30), (80, 11, 3, 200)]
)
def test_the_blur_is_where_rays_land(focal: float, f: float, m: float, height: float) -> None:
    """The blur is as wide as the farthest rays are apart, its spread their standard deviation.

    Source: v = f(1 + m) as in the Goerz table's (1 + m)², seen; rays are straight lines, and are traced here.
    """
    found = penumbra(height, focal, f, m)
    at = landings(height, focal * (1 + m), focal / f)
    assert max(at) - min(at) == pytest.approx(found.blur_mm, rel=0.02)
    assert math.sqrt(sum(x * x for x in at) / len(at)) == pytest.approx(found.spread_mm, rel=0.02)


def test_printed_distances_give_the_blur() -> None:
    """A 6 in lens at ×4 stands 30 in over the easel: at f/8 a card 6 in up blurs over 3/16 in, its shadow 5/4 as large.

    Source: British Journal Almanac, table of distances: f 6 in, ×4 → 30 in, seen; the rest similar triangles.
    """
    found = penumbra(6 * MM_PER_INCH, 6 * MM_PER_INCH, 8, 4)
    assert found.blur_mm / MM_PER_INCH == pytest.approx(3 / 16)
    assert found.larger == pytest.approx(5 / 4)


def test_the_blur_of_a_usual_dodger() -> None:
    """150 mm at f/8 and magnification 2, 50 mm up: 18.75 · 50/400 = 2.34 mm, the shadow 9/8 as large (derived)."""
    found = penumbra(50, 150, 8, 2)
    assert found.blur_mm == pytest.approx(2.34375)
    assert found.larger == pytest.approx(1.125)


@given(HEIGHTS, FOCAL, MARKED, TIMES)
def test_higher_is_softer_and_stopped_down_is_sharper(share: float, focal: int, f: float, m: float) -> None:
    """On the paper an edge is sharp; it blurs the more the higher its tool is, and half as much two stops down."""
    away = focal * (1 + m)
    low, high = penumbra(share * away / 2, focal, f, m), penumbra(share * away, focal, f, m)
    assert 0.0 <= low.blur_mm <= high.blur_mm
    assert penumbra(share * away, focal, 2 * f, m).blur_mm == pytest.approx(high.blur_mm / 2)
    assert penumbra(0, focal, f, m).blur_mm == 0.0
    assert high.larger >= low.larger >= 1.0


@pytest.mark.parametrize("height", [450, 451.5, -1])
def test_a_tool_at_the_lens_is_refused(height: float) -> None:
    """Over the lens there is no shadow; the sentence says how high the lens hangs."""
    with pytest.raises(Impossible, match="450 mm over it"):
        penumbra(Fraction(height), 150, 8, 2)
