"""A carrier out of square in the practice darkroom: what a grain focuser finds there, and how the picture suffers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from controller.picture.raster import raster
from controller.picture.scene import Enlarger, Scene, negatives_named
from controller.practice.board import bare_scene
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import OUT_MM, PracticeScene
from controller.practice.probe import sharp_at
from controller.trials import alignment
from controller.trials.alignment import CORNERS, Corner, Lens

CRANE = negatives_named("crane")
AT: dict[Corner, tuple[float, float]] = {
    "far left": (0.03, 0.03),
    "far right": (0.97, 0.03),
    "near right": (0.97, 0.97),
    "near left": (0.03, 0.97),
}


def looked_at(carrier: str, m: float) -> alignment.AlignmentFound:
    """Stand a grain focuser at the corners of the practice easel, and reckon."""
    lies = InCarrier(name="crane", magnification=m, aperture=5.6, focal_mm=150.0)
    scene = bare_scene(CRANE, PracticeScene.model_validate({"carrier": carrier}), lies)
    assert sharp_at(scene, (0.5, 0.5)) == pytest.approx(0.0)
    heights = {corner: sharp_at(scene, AT[corner]) for corner in CORNERS}
    return alignment.found(heights, Lens(150.0, m, 5.6), circle_mm=0.1)


@pytest.mark.parametrize("carrier", ["left", "right", "front", "back"])
@pytest.mark.parametrize("m", [2.0, 6.0])
def test_half_a_millimetre_is_found_on_its_side(carrier: str, m: float) -> None:
    """The side that the practice carrier has too high is the one that is told, with its half millimetre."""
    found = looked_at(carrier, m)
    (side, mm), *more = alignment.higher_sides(found)
    assert side == carrier
    assert mm == pytest.approx(OUT_MM, abs=0.05)
    assert not more
    assert not alignment.bent(found)


def test_a_square_one_is_square() -> None:
    """No height anywhere, and square."""
    found = looked_at("square", 6.0)
    assert found.out_mm == pytest.approx(0.0, abs=1e-6)
    assert found.square


def _scene(**stand: Any) -> Scene:
    enlarger = Enlarger(magnification=6.0, aperture=4.0, **stand)
    return Scene(CRANE, enlarger=enlarger, paper_mm=(720.0, 576.0), pixels=500_000)


def _fine(image: np.ndarray, columns: slice) -> float:
    """Return how much is finer than three pixels: less where the picture is out of focus."""
    part = image[30:-30, columns]
    return float(np.abs(2.0 * part[:, 1:-1] - part[:, :-2] - part[:, 2:]).mean())


def test_the_sides_of_the_picture_go_soft_and_the_middle_does_not() -> None:
    """Six millimetres at m 6 and f/4: a circle of some 4 mm at the sides, none in the middle; square: as it was."""
    sharp, soft = raster(_scene()).image, raster(_scene(left_high_mm=6.0)).image
    width = sharp.shape[1]
    for columns in (slice(30, width // 8), slice(7 * width // 8, width - 30)):
        assert _fine(soft, columns) < 0.75 * _fine(sharp, columns)
    middle = slice(width // 2 - 6, width // 2 + 6)
    assert _fine(soft, middle) > 0.9 * _fine(sharp, middle)
    assert float(soft.mean()) == pytest.approx(float(sharp.mean()), rel=0.01), "light is spread, not lost"
    assert np.array_equal(raster(_scene(left_high_mm=0.0)).image, sharp)
