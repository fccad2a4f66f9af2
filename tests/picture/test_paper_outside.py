"""The picture against what stands outside the project: the definitions of ISO 6846, sRGB, and density itself."""

from __future__ import annotations

import io
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image
from tools.densities import densities_of
from tools.picture_darkroom import printed, recipe, steady, worked

from controller.paper.iso import range_of
from controller.picture.develop import develop_sheet
from controller.picture.light import LADDER, second_through
from controller.picture.negatives import Negative
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Scene
from controller.unpack.srgb import level_of, light_of

STEPS = 21
TABLET = np.round(0.05 + 0.15 * np.arange(STEPS), 2)
"""A step tablet: 21 steps of 0.15 from 0.05 (a maker's list, seen)."""


def _tablet(height: int, width: int) -> np.ndarray:
    step = np.minimum((np.arange(width) * STEPS) // width, STEPS - 1)
    return np.broadcast_to(TABLET[step].astype(np.float32), (height, width))


def _patches(png: bytes, scene: Scene) -> np.ndarray:
    """The integrated density of each step: −log10 of the mean reflectance of its middle, read off the picture."""
    seen = densities_of(png)
    height, width = seen.shape
    per_mm = width / scene.paper_mm[0]
    left, wide = width / 2 - 120 * per_mm, 240 * per_mm
    out = []
    for n in range(STEPS):
        one, two = (round(left + wide * (n + share) / STEPS) for share in (0.25, 0.75))
        patch = seen[height // 2 - 20 : height // 2 + 20, one:two]
        out.append(-np.log10(np.mean(10.0**-patch)))
    return np.array(out)


@pytest.mark.parametrize("paper", ["one", "two"])
@pytest.mark.parametrize(("filter_name", "seconds"), [("soft", 80.0), ("2", 60.0), ("hard", 60.0)])
def test_a_rendered_step_tablet_gives_the_paper_its_range(paper: str, filter_name: str, seconds: float) -> None:
    """R by the definitions of ISO 6846, from patches of the picture of a step tablet, is the paper's R within 2.

    Source: ISO 6846:1992 (low point 0.04 over base + fog, high point 90 % of the net density; seen and from memory);
    fractions of a step on a monotone curve through the readings. Base + fog is read beside the tablet, the maximum
    density from its clearest step.
    """
    from scipy.interpolate import PchipInterpolator

    model = recipe((filter_name, seconds))
    scene = Scene((Negative("tablet", "step tablet", (120.0, 96.0), _tablet),), pixels=600_000)
    made = develop_sheet(worked(model, steady(model, 120.0)).records[0], (), scene, practice_paper(paper))
    read = _patches(made.png(), scene)
    dmin, dmax = read[-1], read[0]
    curve = PchipInterpolator(TABLET, read)
    fine = np.linspace(TABLET[0], TABLET[-1], 30_001)
    drawn = curve(fine)[::-1]
    low, high = np.interp([dmin + 0.04, dmin + 0.9 * (dmax - dmin)], drawn, fine[::-1])
    second = second_through(filter_name)
    assert 100.0 * (low - high) == pytest.approx(
        range_of(practice_paper(paper).mixture(), second.green, second.blue), abs=2.0
    )


def test_the_ranges_of_paper_one() -> None:
    """Paper one has R 140.6 through soft, 61.1 through hard, and less through each filter than through the one before.

    Source: reckoned from the demo paper's formula (derived).
    """
    mix = practice_paper("one").mixture()
    ranges = [range_of(mix, light.green, light.blue) for _, light in LADDER]
    assert ranges[0] == pytest.approx(140.6, abs=0.1)
    assert ranges[-1] == pytest.approx(61.1, abs=0.1)
    assert all(one > two + 3 for one, two in pairwise(ranges))


def test_reflectance_is_shown_by_the_srgb_transfer() -> None:
    """18 % is level 118 of 255 and D 0.745, 2 % is level 39 and D 1.699.

    Source: D = −log10 ρ (ISO 5-4; check values derived); IEC 61966-2-1 (its formula from memory).
    """
    assert np.round(255 * level_of(np.array([0.18, 0.02, 0.0, 1.0]))).tolist() == [118, 39, 0, 255]
    assert densities_of(_grey(118))[0, 0] == pytest.approx(0.745, abs=0.005)
    assert densities_of(_grey(39))[0, 0] == pytest.approx(1.699, abs=0.012)
    levels = np.linspace(0, 1, 256)
    assert level_of(light_of(levels)) == pytest.approx(levels, abs=1e-6)


def _grey(level: int) -> bytes:
    out = io.BytesIO()
    Image.new("L", (1, 1), level).save(out, "PNG")
    return out.getvalue()


def test_dry_down() -> None:
    """A fibre print that dries looks as if it had had 8 % more light; an RC one stays as it is.

    Source: −8 to −12 % of time usual on fibre, near none on RC (second-hand).
    """
    full, less = (printed(recipe(("2", seconds)), paper="two") for seconds in (20.0, 18.4))
    reading = {each.tone: each for each in full.readings}
    for tone in ("cloud", "quay", "stones"):
        assert reading[tone].wet == pytest.approx(less.density(tone), abs=0.004)
        assert reading[tone].wet < reading[tone].density
    resin = printed(recipe(("2", 20.0)))
    assert np.array_equal(resin.wet, resin.dry)


def test_a_picture_says_what_it_is() -> None:
    """The PNG is 8-bit grey, says that it is sRGB, and is as large as the sheet."""
    made = printed(recipe(("2", 12.0)))
    with Image.open(io.BytesIO(made.png())) as picture:
        assert (picture.mode, picture.format) == ("L", "PNG")
        assert picture.info["srgb"] == 0
        assert picture.width / picture.info["dpi"][0] == pytest.approx(10.0, abs=0.01)
