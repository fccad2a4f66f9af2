"""Lens, condenser, fall-off, size, aperture, Callier factor and flare, on the sheet."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tools.picture_darkroom import printed, recipe, worked

from controller.picture.develop import develop_sheet
from controller.picture.invented import invented
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import raster
from controller.picture.scene import Enlarger, Scene, paper_size_mm, scene_for

CRANE = (invented("crane"),)
PIXELS = 40_000


def maps(**stand: float):
    return raster(Scene(CRANE, enlarger=Enlarger.model_validate(stand), pixels=PIXELS))


def test_cos_to_the_fourth() -> None:
    """With an even source the light falls off the axis as cos⁴ θ; with a graded one it does not.

    Source: the law of natural fall-off (optics handbooks, from memory); v = f(1 + m) = 450 mm (Sinclair handbook's
    form, seen): at 120 mm off the axis tan θ = 120/450 and cos⁴ θ = 0.8717 (derived).
    """
    even = maps(falloff=1.0)
    height, width = even.empty.shape
    off = round(120 * even.per_mm)
    middle, side = even.empty[height // 2, width // 2], even.empty[height // 2, width // 2 + off]
    assert side / middle == pytest.approx((1 + (120 / 450) ** 2) ** -2, abs=0.002)
    graded = maps().empty
    assert graded.min() == pytest.approx(graded.max())


def test_the_wrong_condenser_lights_only_the_middle() -> None:
    """A condenser for 24×36 (diagonal 43 mm) under a 4×5 in negative leaves the corners dark (common practice)."""
    lit = maps(condenser_mm=43.27).empty
    height, width = lit.shape
    assert lit[height // 2, width // 2] == pytest.approx(1.0)
    assert lit[5, 5] == 0.0
    share = float((lit > 0.5).mean())
    # a circle of about 43 mm on the negative, 87 mm and a little more on a sheet of 254 × 203 mm
    assert share == pytest.approx(math.pi * 45**2 / (254 * 203.2), abs=0.04)


def test_a_short_lens_does_not_cover() -> None:
    """A 50 mm lens leaves the corners of a 4×5 in negative dark, one of its diagonal does not (common practice)."""
    assert maps(focal_mm=50.0).empty[3, 3] == 0.0
    assert maps(focal_mm=150.0).empty.min() == pytest.approx(1.0)


def test_size_and_aperture() -> None:
    """Light goes by ((1 + m₁)/(1 + m₂))² and by marked stops.

    Source: 8×10 to 16×20 from 4×5, m 2 to 4, is 2.78 times the time (a public worked example, seen); f/8 to f/5.6 is
    one marked stop (ISO 517; derived).
    """
    base = Enlarger().light_factor
    assert base == pytest.approx(1.0)
    assert 1.0 / Enlarger(magnification=4.0).light_factor == pytest.approx(2.78, abs=0.005)
    assert Enlarger(aperture=5.6).light_factor == pytest.approx(2.0)
    small = printed(recipe(("2", 12.0)))
    large = recipe(("2", 33.3), magnification=4.0, image_mm=[480, 384], paper={"name": "one", "size": "16x20 in"})
    assert printed(large).density("stones") == pytest.approx(small.density("stones"), abs=0.01)


def test_callier_widens_a_projected_negative_only() -> None:
    """A condenser's Q of 1.2 makes densities 1.2 times as dense on the easel, and nothing in a contact print."""
    plain, hard = maps().image, maps(callier=1.2).image
    middle = slice(30, 150), slice(30, 190)
    assert np.log10(hard[middle]) == pytest.approx(1.2 * np.log10(plain[middle]), abs=1e-4)
    four = tuple(invented(name) for name in ("crane", "slip", "platform", "fence"))
    flat, same = (raster(Scene(four, "contact", Enlarger(callier=q), pixels=PIXELS)).image for q in (1.0, 1.2))
    assert np.array_equal(flat, same)


def test_flare_takes_off_the_range_and_no_light() -> None:
    """Flare lifts the dense parts and leaves the mean light as it was."""
    plain, veiled = maps().image, maps(flare_share=0.1).image
    assert veiled.mean() == pytest.approx(plain.mean(), rel=1e-4)
    middle = slice(30, 150), slice(30, 190)
    ranges = [float(each[middle].max() / each[middle].min()) for each in (plain, veiled)]
    assert ranges[1] < 0.7 * ranges[0]


def test_the_rebate_prints_where_the_easel_lets_it() -> None:
    """Round the frame lies clear film: black in the print where the easel is open, white where its blades cover it."""
    masked = printed(recipe(("2", 20.0)))
    model = recipe(("2", 20.0))
    played = worked(model)
    scene = Scene(CRANE, pixels=150_000)
    whole = develop_sheet(played.records[0], (), scene, practice_paper("one"))
    assert whole.density("rebate") > 2.0
    with pytest.raises(KeyError):
        masked.density("rebate")


@pytest.mark.parametrize(
    ("text", "size"),
    [("8x10 in", (254.0, 203.2)), ("24 × 30 cm", (300.0, 240.0)), ("9.5x12", (304.8, 241.3)), ("", (254.0, 203.2))],
)
def test_paper_sizes_are_read(text: str, size: tuple[float, float]) -> None:
    """A paper's size is read as it is written, longer side first."""
    assert paper_size_mm(text) == pytest.approx(size)


def test_a_scene_takes_what_the_recipe_says() -> None:
    """Magnification, aperture, lens and image come from the recipe; the light source does not."""
    scene = scene_for(
        recipe(("2", 8.0), lens={"focal_mm": 135, "aperture": 11}, magnification=1.6, image_mm=[192, 150]),
        CRANE,
        enlarger=Enlarger(callier=1.2),
    )
    stand = scene.enlarger
    assert (stand.focal_mm, stand.aperture, stand.magnification, stand.callier) == (135.0, 11.0, 1.6, 1.2)
    assert scene.open_mm == (192.0, 150.0)
