"""Alignment, pure: heights at the easel, and how the carrier lies for them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible, Unreadable
from controller.trials import alignment
from controller.trials.alignment import CORNERS, Corner, Lens

AT_SIX = Lens(focal_mm=150.0, magnification=6.0, f_number=5.6)
TWICE = Lens(focal_mm=150.0, magnification=2.0, f_number=5.6)


def heights(lens: Lens, **raised: float) -> dict[Corner, float]:
    """Return where the grain is sharp on the easel for a negative that lies so much higher at its own corners.

    `raised` names the carrier's corners; on the easel they lie across (thin lens: the image stands on its head).
    """
    across = {
        "far left": "front_right",
        "far right": "front_left",
        "near right": "back_left",
        "near left": "back_right",
    }
    return {corner: alignment.sharp_mm(raised.get(across[corner], 0.0), lens) for corner in CORNERS}


def test_the_published_depth() -> None:
    """f/5.6, a circle of 0.5 mm, m 6: 1.09 mm at the negative (published, facts of the trade; 2·N·c·(m+1)/m²)."""
    found = alignment.found(dict.fromkeys(CORNERS, 0.0), AT_SIX, circle_mm=0.5)
    assert found.depth_mm == pytest.approx(1.09, abs=0.002)
    assert found.square


def test_half_a_millimetre_is_told_with_its_direction() -> None:
    """The carrier's left side 0.5 mm too high: at m 6 sharp some 18 mm apart on the easel, and told as that."""
    seen = heights(AT_SIX, front_left=0.25, back_left=0.25, front_right=-0.25, back_right=-0.25)
    assert seen["far right"] - seen["far left"] == pytest.approx(18.0, abs=0.1)  # 0.5 · m², to first order (derived)
    found = alignment.found(seen, AT_SIX, circle_mm=0.5)
    assert found.across_mm == pytest.approx(0.5, abs=0.002)
    assert found.along_mm == pytest.approx(0.0, abs=0.002)
    assert alignment.higher_sides(found) == (("left", pytest.approx(0.5, abs=0.002)),)
    assert found.square
    assert not alignment.bent(found)
    # half the circle allows 0.54 mm, which 0.5 still keeps; a quarter of it does not
    assert not alignment.found(seen, AT_SIX, circle_mm=0.125).square


def test_the_back_too_high() -> None:
    """The same along: what is at the back of the carrier is near on the easel."""
    found = alignment.found(heights(TWICE, back_left=0.5, back_right=0.5), TWICE, circle_mm=0.1)
    assert alignment.higher_sides(found)[0][0] == "back"
    assert found.along_mm == pytest.approx(0.5, abs=0.002)
    assert alignment.sharp_from(found) == pytest.approx(5.6 * 0.5 / found.depth_mm, rel=0.01)


@given(st.floats(-1.0, 1.0), st.sampled_from([TWICE, AT_SIX, Lens(50.0, 8.0, 4.0)]))
def test_heights_there_and_back(raised: float, lens: Lens) -> None:
    """What is sharp at a height lies so much higher: one is the other turned round."""
    assert alignment.raised_mm(alignment.sharp_mm(raised, lens), lens) == pytest.approx(raised, abs=1e-6)


def test_four_corners_in_no_plane() -> None:
    """Opposite corners up, the others down: a negative that bulges or a corner misread, no tilt."""
    found = alignment.found(heights(TWICE, front_left=0.6, back_right=0.6), TWICE, circle_mm=0.1)
    assert alignment.bent(found)
    assert not alignment.higher_sides(found)


def test_a_focus_that_moved_and_a_height_that_is_none() -> None:
    """The centre sharp elsewhere in the end, a missing corner, a height beyond any: sentences, nothing found."""
    with pytest.raises(Impossible, match=r"\+6\.0 mm elsewhere.*all corners again.*Nothing was set"):
        alignment.found(dict.fromkeys(CORNERS, 0.0), TWICE, again_mm=6.0)
    with pytest.raises(Unreadable, match="near left corner") as refused:
        alignment.found({corner: 0.0 for corner in CORNERS if corner != "near left"}, TWICE)
    assert refused.value.place == ("near left",)
    with pytest.raises(Unreadable, match=r"400 mm cannot be") as refused:
        alignment.found(dict.fromkeys(CORNERS, 0.0) | {"far right": 400.0}, TWICE)
    assert refused.value.place == ("far right",)
