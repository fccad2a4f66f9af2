"""Evenness, pure: cos⁴ in stops, why light is uneven, what edge burns mend, and what cannot be so."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.trials import evenness
from controller.trials.evenness import AT, CORNERS, PLACES, SIDES, Place, Stand

ON_4X5 = Stand(magnification=4.0, focal_mm=150.0, aperture=8.0, negative_format="4x5", light_source="condenser")


def by_law(focal_mm: float, magnification: float) -> dict[Place, float]:
    """Return the nine places of a 4×5 by cos⁴ itself, from the angle."""
    found: dict[Place, float] = {}
    for place, (x, y) in AT.items():
        angle = math.atan(math.hypot(60.0 * x, 48.0 * y) * magnification / (focal_mm * (1.0 + magnification)))
        found[place] = 4.0 * math.log2(math.cos(angle))
    return found


@pytest.mark.parametrize(("magnification", "stops"), [(2.0, -0.32), (4.0, -0.45)])
def test_cos4_in_the_corners_of_a_4x5(magnification: float, stops: float) -> None:
    """A 150 mm lens on 4×5 loses 0.32 stop in the corners at m 2 and 0.45 at m 4.

    Source: the cos⁴ law (optics handbooks, from memory); image corners of 96 × 120 mm; derived.
    """
    radius = math.hypot(96.0, 120.0) / 2.0
    assert evenness.natural_stops(150.0, magnification, radius) == pytest.approx(stops, abs=0.005)
    assert by_law(150.0, magnification)["far right"] == pytest.approx(stops, abs=0.005)


def test_the_lens_is_known_by_its_law() -> None:
    """Corners as cos⁴ has them are the lens's own; half a stop more are not; nothing known tells neither."""
    stops = by_law(150.0, 4.0)
    assert evenness.judged(stops, ON_4X5).cause == "lens"
    darker = {
        place: value - (0.5 if place in CORNERS else 0.2 if place != "centre" else 0.0)
        for place, value in stops.items()
    }
    assert evenness.judged(darker, ON_4X5).cause == "uneven"
    assert evenness.judged(darker, Stand()).natural is None
    graded = {place: value / 2.0 for place, value in stops.items()}
    assert evenness.judged(graded, ON_4X5).cause == "lens", "a graded source makes up for half of it"
    assert evenness.judged(dict.fromkeys(PLACES, -0.1) | {"centre": 0.0}, ON_4X5).cause == "even"


def test_a_light_source_for_a_smaller_format_is_named() -> None:
    """Corners and short ends of a 4×5 without light, under a lens that covers: the condenser lights 6×7 at the most.

    The diagonal of 6×7, 56 × 70 mm, is 89.64 mm, and of 6×9 101 (derived from the frames).
    """
    stops: dict[Place, float] = dict.fromkeys(PLACES, 0.0)
    stops |= dict.fromkeys(CORNERS, -5.0) | {"left": -4.0, "right": -4.0, "far": -0.3, "near": -0.3}
    found = evenness.judged(stops, ON_4X5)
    assert (found.cause, found.circle_mm, found.fits) == ("light source", (96.0, 120.0), "6x7")
    assert not found.covered
    short = Stand(4.0, 80.0, 8.0, "4x5")
    assert evenness.judged(stops, short).cause == "short lens"
    assert evenness.judged(stops, Stand()).cause == "circle"


def test_one_dark_corner_is_something_in_the_light() -> None:
    """Where light ends in one corner alone no lens and no condenser is blamed."""
    stops: dict[Place, float] = dict.fromkeys(PLACES, 0.0) | {"near left": -3.0}
    found = evenness.judged(stops, ON_4X5)
    assert (found.cause, found.ended) == ("shaded", ("near left",))


def test_the_darker_side_is_told() -> None:
    """A lamp that is off its centre: the side that it is away from."""
    stops = {place: -0.2 * x - 0.2 * abs(x) for place, (x, _) in AT.items()}
    found = evenness.judged(stops, ON_4X5)
    assert (found.cause, found.side) == ("one side", "right")


@given(
    st.floats(0.0, 0.55),
    st.floats(0.0, 0.55),
    st.lists(st.floats(-0.05, 0.05), min_size=9, max_size=9),
)
def test_burns_bring_every_place_within_a_sixth(wide: float, high: float, noise: list[float]) -> None:
    """Whatever a lens's fall-off, edge burns of whole twelfths leave no place over a sixth of a stop off."""
    stops = {place: -wide * x * x - high * y * y + noise[n] for n, (place, (x, y)) in enumerate(AT.items())}
    stops["centre"] = 0.0
    burns = evenness.edge_burns(stops)
    assert all(0 < each <= evenness.MOST_BURN for each in burns.values())
    assert max(abs(each) for each in evenness.burnt(stops, burns).values()) <= evenness.EVEN + 0.01


def test_a_burn_adds_the_bases_own_light() -> None:
    """+1 stop at one edge doubles its light; a corner of two such edges has three times as much (derived)."""
    after = evenness.burnt(dict.fromkeys(PLACES, 0.0), {"far": 12, "right": 12})
    assert after["far"] == pytest.approx(1.0)
    assert after["far right"] == pytest.approx(math.log2(3.0))
    assert after["near left"] == after["centre"] == 0.0


def test_what_burns_cannot_mend_is_said() -> None:
    """A corner without light is not burnt in."""
    stops: dict[Place, float] = dict.fromkeys(PLACES, 0.0) | {"near left": -3.0}
    with pytest.raises(Impossible, match="Edge burns do not even it out"):
        evenness.edge_burns(stops)


def test_the_burns_turn_with_the_picture() -> None:
    """Far is the top where the picture's head lies away; with its head to the left, left is the top, far the right."""
    burns = {"far": 1, "right": 2, "near": 3, "left": 4}
    assert evenness.as_it_lies(burns, "far") == {"top": 1, "right": 2, "bottom": 3, "left": 4}  # type: ignore[arg-type]
    assert evenness.as_it_lies(burns, "left") == {"top": 4, "right": 1, "bottom": 2, "left": 3}  # type: ignore[arg-type]
    assert evenness.as_it_lies(burns, "near") == {"top": 3, "right": 4, "bottom": 1, "left": 2}  # type: ignore[arg-type]


LEVELS: dict[Place, float] = dict.fromkeys(PLACES, 1000.0)


def test_a_probe_that_moved_is_said_and_nothing_found() -> None:
    """An edge darker than both corners beside it, a centre that has changed, a place that is missing: sentences."""
    with pytest.raises(
        Impossible, match=r"far edge, middle came out darker.*Measure all places again.*Nothing was set"
    ):
        evenness.stops_at(LEVELS | {"far": 700.0})
    with pytest.raises(Impossible, match=r"\+0\.14 stop different.*Nothing was set"):
        evenness.stops_at(LEVELS, again=1100.0)
    with pytest.raises(Impossible, match=r"near left corner.*in one go"):
        evenness.stops_at({place: level for place, level in LEVELS.items() if place != "near left"})
    with pytest.raises(Impossible, match="brighter than the centre"):
        evenness.stops_at(dict.fromkeys(PLACES, 3000.0) | {"centre": 1000.0})
    assert evenness.stops_at(LEVELS, again=1030.0) == dict.fromkeys(PLACES, 0.0)


def test_every_side_has_two_corners() -> None:
    """A side's corners lie at its ends."""
    for side in SIDES:
        assert len(evenness.corners_of(side)) == 2
        assert all(side in corner for corner in evenness.corners_of(side))
