"""Tools as a recipe has them drawn: where they keep light away, and how softly."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from controller.exposure.penumbra import penumbra
from controller.picture.frames import image_box
from controller.picture.masks import SOFT, area_mask, soft_mask
from controller.picture.raster import raster
from controller.picture.scene import Scene, negatives_named, scene_for
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe

LEFT_HALF = [[0, 0], [0.5, 0], [0.5, 1], [0, 1]]


def with_tools(*tools: dict[str, Any], **more: Any) -> Recipe:
    tree = {
        "format": "treadle/recipe/2",
        "title": "Masked",
        "magnification": 2.0,
        "image_mm": [240, 192],
        "lens": {"focal_mm": 150, "aperture": 8},
        "light": [{"filter": "soft", "seconds": 10.0}],
        "local": [],
        "tools": list(tools),
        **more,
    }
    made = read_recipe(json.dumps(tree), "recipe")
    assert isinstance(made, Recipe)
    return made


def tool(kind: str, height_mm: float | None = None, outline: Any = LEFT_HALF) -> dict[str, Any]:
    more = {} if height_mm is None else {"height_mm": height_mm}
    return {"letter": "M", "kind": kind, "name": "tool", "outline": outline, **more}


def scene_of(*tools: dict[str, Any], pixels: int = 200_000, **more: Any) -> Scene:
    return scene_for(with_tools(*tools, **more), negatives_named("crane"), pixels=pixels)


def spread_mm(scene: Scene) -> float:
    """The standard deviation of a vertical edge across the middle row, in mm, of what the mask keeps away."""
    at = raster(scene)
    row = area_mask("M", scene, at)[scene.shape[0] // 2].astype(float)
    left, _, right, _ = image_box(scene)
    whole, edge = row, (left + right) / 2
    step = -np.diff(whole)
    x = (np.arange(len(step)) + 1.0 - edge) / at.per_mm
    inside = np.abs(x) < 60.0
    weight, x = step[inside], x[inside]
    assert weight.sum() == pytest.approx(1.0, abs=0.02), "from all to nothing"
    assert float((weight * x).sum()) == pytest.approx(0.0, abs=0.6), "the edge is where it was drawn"
    return float(np.sqrt((weight * x * x).sum() - (weight * x).sum() ** 2))


@pytest.mark.parametrize("height", [40, 120, 250])
def test_a_masks_edge_is_its_half_shadow(height: float) -> None:
    """A mask lies still: its edge is as soft as the lens's opening makes it at that height, and no softer.

    The half-shadow itself is held against traced rays in `tests/exposure/test_penumbra.py`.
    """
    scene = scene_of(tool("mask", height))
    assert spread_mm(scene) == pytest.approx(penumbra(height, 150, 8, 2).spread_mm, rel=0.08, abs=0.15)


def test_a_mask_on_the_paper_is_sharp() -> None:
    """Without a height it lies on the paper: all or nothing within a pixel or two."""
    scene = scene_of(tool("mask"))
    row = area_mask("M", scene, raster(scene))[scene.shape[0] // 2]
    assert int(((row > 0.02) & (row < 0.98)).sum()) <= 3


def test_a_tool_in_the_hand_is_moved_and_blurred() -> None:
    """A dodger's edge is smeared by the hand, and more so by its height; a mask's at the same height is not."""
    hand = SOFT * max(scene_of().shape) / raster(scene_of()).per_mm
    assert spread_mm(scene_of(tool("dodger"))) == pytest.approx(hand, rel=0.05)
    high = penumbra(250, 150, 8, 2).spread_mm
    assert spread_mm(scene_of(tool("dodger", 250))) == pytest.approx(np.hypot(hand, high), rel=0.05)
    assert spread_mm(scene_of(tool("mask", 250))) < 0.9 * np.hypot(hand, high)


@pytest.mark.parametrize("m", [1.0, 2.0, 3.0])
def test_an_outline_holds_at_every_size(m: float) -> None:
    """Shares of the image: the same part of the picture is masked however large it is printed."""
    image = [120 * m, 96 * m]
    size = f"{round(image[0] + 20)}x{round(image[1] + 20)} mm"
    scene = scene_of(tool("mask"), magnification=m, image_mm=image, paper={"name": "one", "size": size})
    at = raster(scene)
    left, top, right, bottom = (round(edge) for edge in image_box(scene))
    mask = area_mask("M", scene, at)[top:bottom, left:right]
    assert float(mask.mean()) == pytest.approx(0.5, abs=0.01)
    assert float(mask[:, : (right - left) // 2 - 3].min()) > 0.99
    assert float(mask[:, (right - left) // 2 + 3 :].max()) < 0.01


def test_a_tool_over_the_lens_counts_as_lying() -> None:
    """Nobody could reckon its shadow; it is drawn as sharp as one on the paper, and nothing breaks."""
    assert np.array_equal(
        area_mask("M", scene_of(tool("mask", 600)), raster(scene_of(tool("mask", 600)))),
        area_mask("M", scene_of(tool("mask")), raster(scene_of(tool("mask")))),
    )


def test_a_tool_of_known_height_keeps_its_negatives_area() -> None:
    """Without an outline it is where the practice negative has its letter."""
    lettered = {"letter": "A", "kind": "hole", "name": "sky", "height_mm": 30}
    plain, high = scene_of(), scene_of(lettered)
    one, other = area_mask("A", plain, raster(plain)), area_mask("A", high, raster(high))
    assert float(np.abs(one - other).max()) < 0.1
    assert float(np.abs(one - other).max()) > 0.0


def test_an_edge_of_any_softness_is_drawn_small() -> None:
    """However high a tool is held, its mask is drawn in a moment and stays within 0 and 1."""
    for spread in (0.0, 0.4, 3.0, 40.0, 200.0):
        mask = soft_mask((((50.0, 50.0), (250.0, 50.0), (250.0, 250.0), (50.0, 250.0)),), 300, 400, spread)
        assert mask.shape == (300, 400)
        assert 0.0 <= float(mask.min()) <= float(mask.max()) <= 1.0
