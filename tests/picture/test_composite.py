"""Two negatives on one sheet, each under its mask: against a reckoning in this file, of none of the program's code."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from tools.picture_darkroom import presses

from controller.commands.replay import play_recipe
from controller.commands.replay_picture import developed
from controller.picture.develop import Conditions, Developed
from controller.picture.hands import Slips
from controller.picture.negatives import Negative, Tone
from controller.picture.practice_papers import practice_paper
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe

Map = NDArray[np.float64]
NEAR = 0.02
SKY_FOOT, SHORE_TOP = 0.48, 0.52
"""Where the two masks end, from the top: a little of the image lies between, where both negatives print."""
SOFT_A, HARD_A, SOFT_B, BURN_B = 11.0, 6.0, 9.5, 4.0
MASK_MM, HOLE_MM = 25.0, 90.0
HOLE = ((0.55, 0.10), (0.85, 0.10), (0.85, 0.32), (0.55, 0.32))
LAND = {"quay": (0.2, 0.75, 0.35), "hull": (0.5, 0.75, 0.60), "spray": (0.8, 0.75, 1.05), "far": (0.5, 0.25, 0.90)}
CLOUDS = {"blue": (0.2, 0.20, 0.70), "cloud": (0.7, 0.20, 1.20), "haze": (0.45, 0.35, 1.00), "low": (0.5, 0.75, 0.40)}
"""The named tones of either negative: from the left, from the top, density. One of each lies under its mask."""


def painted(tones: dict[str, tuple[float, float, float]], height: int, width: int) -> Map:
    """Densities of a negative: a slope, and each tone as a field of its own."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    out = 0.5 + 0.3 * (x + 0.5) / width + 0.0 * y
    for across, down, density in tones.values():
        inside = (abs((x + 0.5) / width - across) < 0.1) & (abs((y + 0.5) / height - down) < 0.07)
        out[inside] = density
    return out


def negative(name: str, tones: dict[str, tuple[float, float, float]]) -> Negative:
    def draw(height: int, width: int) -> NDArray[np.float32]:
        return painted(tones, height, width).astype(np.float32)

    named = tuple(Tone(each, density, x, y, x - 0.05, x + 0.05) for each, (x, y, density) in tones.items())
    return Negative(name=name, title=name, frame_mm=(120.0, 96.0), draw=draw, tones=named)


A, B = negative("land", LAND), negative("clouds", CLOUDS)


def recipe(*, masks: bool = True, mask_mm: float = MASK_MM) -> Recipe:
    """The land under a mask of its sky, then the clouds under a mask of the shore, with a burn of theirs."""
    tools: list[dict[str, Any]] = [
        {"letter": "M", "kind": "mask", "name": "sky mask", "height_mm": mask_mm},
        {"letter": "N", "kind": "mask", "name": "shore mask", "height_mm": mask_mm},
        {"letter": "C", "kind": "hole", "name": "oval", "height_mm": HOLE_MM, "outline": HOLE},
    ]
    tools[0]["outline"] = [[0, 0], [1, 0], [1, SKY_FOOT], [0, SKY_FOOT]]
    tools[1]["outline"] = [[0, SHORE_TOP], [1, SHORE_TOP], [1, 1], [0, 1]]
    asks = [
        {"before": 1, "words": "sky mask in"},
        {"before": 3, "words": "change to the clouds", "carrier": "B"},
        {"before": 3, "words": "sky mask out, shore mask in"},
    ]
    tree = {
        "format": "treadle/recipe/2",
        "title": "Two on one sheet",
        "magnification": 2.0,
        "image_mm": [240, 192],
        "lens": {"focal_mm": 150, "aperture": 8},
        "light": [
            {"filter": "soft", "seconds": SOFT_A, "carrier": "A"},
            {"filter": "hard", "seconds": HARD_A, "carrier": "A"},
            {"filter": "2", "seconds": SOFT_B, "carrier": "B"},
        ],
        "local": [{"area": "C", "act": "burn", "filter": "2", "seconds": BURN_B}],
        "tools": tools,
        "hands": asks if masks else asks[1:2],
    }
    made = read_recipe(json.dumps(tree), "two")
    assert isinstance(made, Recipe)
    return made


@pytest.fixture(scope="module")
def sheet() -> Developed:
    """The sheet, worked by foot from end to end in virtual time, and developed."""
    return worked(recipe())


def worked(model: Recipe, **more: Any) -> Developed:
    played = play_recipe(model, presses(*(40.0 * n for n in range(14)), close=600.0), name="two")
    assert [record.outcome for record in played.records] == ["complete"]
    return developed(played, model, negatives=(A,), second=B, paper=practice_paper("one"), pixels=150_000, **more)


def reckoned() -> dict[str, float]:
    """The print density of each named place, by figures and numpy alone.

    Source: the demo paper's formula, its table of light for soft, hard and 2 (the acceptance scenarios' invented data);
    a lens disc of f/N at v = f(1 + m) over the easel, whose light past an edge at a height is the share of the disc's
    area that the edge leaves free: summed here over points of the disc. The hand's own smear is the product's figure.
    """
    per_second = {"soft": (0.012648, 1.054), "hard": (0.161, 0.000322), "2": (0.111, 0.74)}
    across, down = 240.0, 192.0
    away, opening = 150.0 * 3.0, 150.0 / 8.0
    disc = [(u, v) for u in np.linspace(-0.5, 0.5, 41) for v in np.linspace(-0.5, 0.5, 41) if np.hypot(u, v) <= 0.5]

    def free(inside: Any, x: float, y: float, height: float) -> float:
        """The share of the lens that is seen from a place past a tool, whose shadow on the paper `inside` tells."""
        shift = opening * height / (away - height)
        seen = [inside(x * across + u * shift, y * down + v * shift) for u, v in disc]
        return 1.0 - float(np.mean(seen))

    def under_sky_mask(_x: float, y: float) -> bool:
        return y < SKY_FOOT * down

    def under_shore_mask(_x: float, y: float) -> bool:
        return y > SHORE_TOP * down

    def outside_hole(x: float, y: float) -> bool:
        xs, ys = [px * across for px, _ in HOLE], [py * down for _, py in HOLE]
        return not (min(xs) < x < max(xs) and min(ys) < y < max(ys))

    found = {}
    for name, (x, y, _) in {**LAND, **CLOUDS}.items():
        through_a, through_b = (
            10.0 ** -float(painted(tones, 960, 1200)[int(y * 960), int(x * 1200)]) for tones in (LAND, CLOUDS)
        )
        blue = green = 0.0
        for seconds, filter_name, through, left in (
            (SOFT_A, "soft", through_a, free(under_sky_mask, x, y, MASK_MM)),
            (HARD_A, "hard", through_a, free(under_sky_mask, x, y, MASK_MM)),
            (SOFT_B, "2", through_b, free(under_shore_mask, x, y, MASK_MM)),
            (BURN_B, "2", through_b, free(under_shore_mask, x, y, MASK_MM) * free(outside_hole, x, y, HOLE_MM)),
        ):
            blue += seconds * per_second[filter_name][0] * through * left
            green += seconds * per_second[filter_name][1] * through * left
        lights = [max(blue + share * green, 1e-9) for share in (1.0, 0.28, 0.08)]
        found[name] = 0.05 + sum(2.05 / 3.0 / (1.0 + np.exp(-10.0 * np.log10(light))) for light in lights)
    return found


def read_at(sheet: Developed, x: float, y: float) -> float:
    """What a densitometer reads at a place of the image."""
    height, width = sheet.dry.shape
    per_mm = width / 254.0
    column, row = (width - 240 * per_mm) / 2 + x * 240 * per_mm, (height - 192 * per_mm) / 2 + y * 192 * per_mm
    spot = sheet.dry[round(row) - 2 : round(row) + 3, round(column) - 2 : round(column) + 3]
    return float(np.median(spot))


def test_a_composite_has_its_densities(sheet: Developed) -> None:
    """Each named tone of either negative is, on the sheet of both, within 0.02 of a reckoning made apart."""
    wanted = reckoned()
    got = {name: read_at(sheet, x, y) for name, (x, y, _) in {**LAND, **CLOUDS}.items()}
    assert got == pytest.approx(wanted, abs=NEAR)
    assert len({round(density, 1) for density in wanted.values()}) > 4, "tones that differ"


def test_a_mask_keeps_the_other_negative_away(sheet: Developed) -> None:
    """Without masks both negatives lie over each other, and the same places are much darker."""
    both = worked(recipe(masks=False))
    for x, y, _ in (LAND["spray"], CLOUDS["cloud"]):
        assert read_at(both, x, y) > read_at(sheet, x, y) + 0.1


def test_a_forgotten_mask_lets_its_light_by(sheet: Developed) -> None:
    """The shore mask never comes: the clouds lie over the land too, and the sky is as it was."""
    slip = worked(recipe(), conditions=Conditions(slips=Slips(forgotten=("N",))))
    assert read_at(slip, *LAND["quay"][:2]) > read_at(sheet, *LAND["quay"][:2]) + 0.02
    assert read_at(slip, *LAND["spray"][:2]) > read_at(sheet, *LAND["spray"][:2]) + 0.1
    assert read_at(slip, *CLOUDS["cloud"][:2]) == pytest.approx(read_at(sheet, *CLOUDS["cloud"][:2]), abs=0.001)


def test_the_seam_is_as_soft_as_the_masks_are_high(sheet: Developed) -> None:
    """Where the masks end, the print goes from one negative to the other the more slowly the higher they are held."""
    rows = np.linspace(SKY_FOOT - 0.06, SHORE_TOP + 0.06, 40)
    low, high = (
        np.array([read_at(each, 0.06, y) for y in rows]) for each in (sheet, worked(recipe(mask_mm=8 * MASK_MM)))
    )
    assert float(np.abs(np.diff(high)).max()) < 0.5 * float(np.abs(np.diff(low)).max())
