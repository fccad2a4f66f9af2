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
