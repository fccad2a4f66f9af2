"""A preview is the practice darkroom's print of the same negative: they agree within 0.03 of density.

The bound is the design's: the mean of absolute differences over the picture, with the paper as the program has fitted
it to readings, and a scan of 8 bits.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from tools.densities import densities_of
from tools.picture_darkroom import printed, recipe
from tools.preview_scans import file_of, fitted_one, invented, light_through, ties_of

from controller.picture.negatives import SHEETS
from controller.picture.raster import raster
from controller.preview.drawn import drawn_areas
from controller.preview.easel_map import tied
from controller.preview.lights import of_pair, of_plan
from controller.preview.orders import DrawnArea, Order
from controller.preview.prints import render
from controller.recipe.compile_recipe import compile_any
from controller.unpack.greys import Fit, read_greys

PAIRS = ((12.0, 4.4), (10.1, 8.0), (6.0, 14.0))
WITHIN = 0.03


def _work(name: str) -> tuple[dict[str, Any], ...]:
    """A burn and a dodge on the negative's own areas, and an edge."""
    one, two = [area.letter for area in invented(name).areas][:2]
    return (
        {"area": one, "act": "burn", "filter": "soft", "stops": "2/3"},
        {"area": two, "act": "dodge", "filter": "hard", "stops": "1/2"},
        {"area": "D", "act": "edge burn", "filter": "soft", "stops": "1/3", "edges": ["top", "left"]},
    )


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("name", SHEETS)
def test_a_preview_is_the_print(name: str, pair: tuple[float, float]) -> None:
    """Four negatives, three pairs, a burn, a dodge and an edge: mean difference at most 0.03, and the tones' too."""
    model = recipe(("soft", pair[0]), ("hard", pair[1]), local=_work(name))
    print_ = printed(model, negative=name)
    rows, columns = raster(print_.scene).open_window
    wanted = print_.dry[rows, columns]
    height, width = wanted.shape
    greys = read_greys(io.BytesIO(file_of(light_through(name, height, width), "JPEG 8")), "scan", Fit(10**9, 10**6))
    plan = compile_any(model, source="test", version=1)
    order = Order(
        paper=fitted_one(),
        ties=ties_of(name),
        prints=(of_plan(plan, lambda filter_: "soft" if filter_ == "soft" else "hard"),),
        areas=tuple(DrawnArea(letter=area.letter, outline=area.outline) for area in invented(name).areas),
        side=max(height, width),
    )
    scan = tied(greys.whole(), greys.coding, order.ties)
    picture, shown = render(order, scan)
    off = np.abs(densities_of(picture) - wanted)
    assert off.mean() <= WITHIN
    assert shown.mean_density == pytest.approx(float(wanted.mean()), abs=WITHIN)
    # the hands' work is really in it: the straight print is another
    straight, _ = render(order.model_copy(update={"prints": (of_pair(*pair),)}), scan)
    assert np.abs(densities_of(straight) - wanted).mean() > off.mean() + 0.005


FLASH = {"seconds": 0.3, "filter": "soft", "way": "no negative"}
OPAL = FLASH | {"seconds": 1.0, "way": "opal under the lens"}


@pytest.mark.parametrize(
    "flash",
    [FLASH, OPAL, FLASH | {"beforehand": True}, OPAL | {"beforehand": True}],
    ids=["no negative", "opal", "beforehand", "opal beforehand"],
)
def test_flash_running_dodge_and_dry_down_are_in_it(flash: dict[str, Any]) -> None:
    """A flash before the print, a dodge in one running light, and bases less their dry-down are as they are printed."""
    local = ({"area": "C", "act": "dodge", "filter": "soft", "stops": "1/2", "how": "running"},)
    model = recipe(("soft", 12.0), ("hard", 4.4), local=local, flash=flash, dry_down_percent=8)
    print_ = printed(model, negative="crane")
    rows, columns = raster(print_.scene).open_window
    wanted = print_.dry[rows, columns]
    greys = read_greys(io.BytesIO(file_of(light_through("crane", *wanted.shape), "PNG 16")), "scan", Fit(10**9, 10**6))
    plan = compile_any(model, source="test", version=1)
    order = Order(
        paper=fitted_one(),
        ties=ties_of("crane"),
        prints=(of_plan(plan, lambda filter_: "soft" if filter_ == "soft" else "hard"),),
        areas=tuple(DrawnArea(letter=area.letter, outline=area.outline) for area in invented("crane").areas),
        side=max(wanted.shape),
    )
    scan = tied(greys.whole(), greys.coding, order.ties)
    off = np.abs(densities_of(render(order, scan)[0]) - wanted).mean()
    assert off <= WITHIN
    unflashed = tuple(lit for lit in order.prints[0] if lit.way not in ("bare", "opal"))
    assert len(unflashed) < len(order.prints[0])
    bare, _ = render(order.model_copy(update={"prints": (unflashed,)}), scan)
    assert np.abs(densities_of(bare) - wanted).mean() > off + 0.01


TOOLS: tuple[dict[str, Any], ...] = (
    {"letter": "M", "kind": "mask", "name": "sky mask", "height_mm": 30},
    {"letter": "C", "kind": "hole", "name": "small hole", "height_mm": 120},
)
OUTLINES = {"M": [[0, 0], [1, 0], [1, 0.3], [0, 0.4]], "C": [[0.2, 0.5], [0.6, 0.5], [0.6, 0.8], [0.2, 0.8]]}


def test_a_recipes_own_tools_are_in_it() -> None:
    """Outlines of the recipe's tools, a mask that lies in one light of two, and their half-shadows: as printed."""
    asks = [{"before": 1, "words": "sky mask in"}, {"before": 2, "words": "sky mask out"}]
    local = ({"area": "C", "act": "burn", "filter": "hard", "stops": "1"},)
    tools = [tool | {"outline": OUTLINES[tool["letter"]]} for tool in TOOLS]
    more = {"format": "treadle/recipe/2", "lens": {"focal_mm": 150, "aperture": 8}, "tools": tools, "hands": asks}
    model = recipe(("soft", 12.0), ("hard", 4.4), local=local, **more)
    print_ = printed(model, negative="crane")
    rows, columns = raster(print_.scene).open_window
    wanted = print_.dry[rows, columns]
    greys = read_greys(io.BytesIO(file_of(light_through("crane", *wanted.shape), "PNG 16")), "scan", Fit(10**9, 10**6))
    plan = compile_any(model, source="test", version=1)
    order = Order(
        paper=fitted_one(),
        ties=ties_of("crane"),
        prints=(of_plan(plan, lambda filter_: "soft" if filter_ == "soft" else "hard"),),
        areas=tuple(drawn_areas(model, {}).values()),
        side=max(wanted.shape),
    )
    scan = tied(greys.whole(), greys.coding, order.ties)
    off = np.abs(densities_of(render(order, scan)[0]) - wanted).mean()
    assert off <= WITHIN
    unmasked = tuple(lit.model_copy(update={"masked": ()}) for lit in order.prints[0])
    bare, _ = render(order.model_copy(update={"prints": (unmasked,)}), scan)
    assert np.abs(densities_of(bare) - wanted).mean() > off + 0.02
    moved = {name: area.model_copy(update={"spread": 0.1}) for name, area in drawn_areas(model, {}).items()}
    soft, _ = render(order.model_copy(update={"areas": tuple(moved.values())}), scan)
    assert np.abs(densities_of(soft) - wanted).mean() > off + 0.002, "its edges are as soft as the height makes them"


def test_a_wet_print_is_the_practice_darkroom_s_wet_one() -> None:
    """On fibre a print looks lighter while it is wet: as the practice darkroom's second paper, which is such a one."""
    from tools.hidden_papers import BOX, paper_two, readings

    from controller.paper.fit import fit

    print_ = printed(recipe(("soft", 12.0), ("hard", 4.4)), negative="crane", paper="two")
    rows, columns = raster(print_.scene).open_window
    wanted = print_.wet[rows, columns]
    greys = read_greys(io.BytesIO(file_of(light_through("crane", *wanted.shape), "PNG 16")), "scan", Fit(10**9, 10**6))
    order = Order(
        paper=fit(readings(paper_two()), BOX),
        ties=ties_of("crane"),
        prints=(of_pair(12.0, 4.4),),
        wet_percent=8.0,
        side=max(wanted.shape),
    )
    scan = tied(greys.whole(), greys.coding, order.ties)
    assert np.abs(densities_of(render(order, scan)[0]) - wanted).mean() <= WITHIN
    dry, _ = render(order.model_copy(update={"wet_percent": 0.0}), scan)
    assert np.abs(densities_of(dry) - wanted).mean() > 0.02
