"""The outlines of a printing map lie where the practice darkroom's tools go."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import controller
from controller.picture.map_areas import print_areas
from controller.picture.masks import area_mask
from controller.picture.raster import raster
from controller.picture.scene import negatives_named, scene_for
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe

SAMPLE = Path(controller.__file__).parent / "samples" / "5-harbour-crane.recipe.json"


def recipe() -> Recipe:
    read = read_recipe(SAMPLE.read_bytes(), SAMPLE.name)
    assert isinstance(read, Recipe)
    return read


@pytest.mark.parametrize("negative", ["crane", "slip", "platform", "fence"])
def test_an_outline_holds_what_the_tool_shades(negative: str) -> None:
    """What is half shaded or more lies inside the outline, the rest outside, on every practice negative."""
    model = recipe()
    found = print_areas(model, negative, ["A", "B", "C", "E"])
    assert found is not None
    assert (found.across, found.down) == pytest.approx((240, 192), abs=1)
    assert [letter for letter, _ in found.outlines] == ["A", "B", "C", "E"]
    scene = scene_for(model, negatives_named(negative), pixels=20_000)
    at = raster(scene)
    left, top, right, bottom = at.open_box
    rows, columns = np.mgrid[0 : scene.shape[0], 0 : scene.shape[1]] + 0.5
    x, y = (columns - left) / (right - left), (rows - top) / (bottom - top)
    on_print = (x > 0) & (x < 1) & (y > 0) & (y < 1)
    for letter, outline in found.outlines:
        xs, ys = zip(*outline, strict=True)
        assert all(0 <= each <= 1 for each in (*xs, *ys))
        inside = (x > min(xs)) & (x < max(xs)) & (y > min(ys)) & (y < max(ys)) & on_print
        shaded = (area_mask(letter, scene, at) >= 0.5) & on_print
        assert (inside != shaded).sum() < 0.03 * on_print.sum()


@pytest.mark.parametrize("negative", ["own", "proof"])
def test_what_is_no_invented_negative_has_no_outlines(negative: str) -> None:
    """A picture of the printer's own and a contact sheet have no map that anybody drew."""
    assert print_areas(recipe(), negative, ["A"]) is None


def test_outlines_need_no_arithmetic_of_whole_pictures() -> None:
    """A daemon that has shown a printing map has loaded neither numpy nor Pillow: they would stay for good."""
    code = (
        "import sys; from pathlib import Path; from controller.picture.map_areas import print_areas; "
        "from controller.recipe.files import read_recipe; "
        "made = print_areas(read_recipe(Path(sys.argv[1]).read_bytes(), 'x'), 'crane', 'ABC'); "
        "print(len(made.outlines), *sorted({'numpy', 'PIL'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code, str(SAMPLE)], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["3"]
