"""The demo print's recipe, and its change to the second demo paper, for tests of carrying over."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from controller.carry.changes import FilterStops, ToPaper
from controller.carry.other_paper import corrections
from controller.paper.fit import fit
from controller.recipe.recipe import Paper, Recipe
from tools.hidden_papers import BOX, paper_one, paper_two, readings

CRANE: dict[str, Any] = {
    "title": "Crane",
    "negative": {"name": "crane", "format": "4x5"},
    "paper": {"name": "paper one", "support": "RC", "size": "8x10 in"},
    "image_mm": [240, 192],
    "magnification": Decimal("2.0"),
    "lens": {"focal_mm": 150, "aperture": 8},
    "head_height_mm": 620,
    "light": [{"filter": "soft", "seconds": Decimal("10.1")}, {"filter": "hard", "seconds": Decimal("8.0")}],
    "local": [
        {"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1"},
        {"area": "C", "act": "dodge", "filter": "hard", "stops": "1/3"},
        {"area": "B", "act": "burn", "filter": "hard", "stops": "2/3"},
    ],
}


def crane(**more: Any) -> Recipe:
    return Recipe.model_validate(CRANE | more)


def seconds_of(recipe: Recipe) -> list[float]:
    return [float(light.seconds) for light in recipe.light]


def to_paper_two(recipe: Recipe) -> ToPaper:
    one, two = (fit(readings(each), BOX) for each in (paper_one(), paper_two()))
    found = corrections(one, two, *seconds_of(recipe), light=1.25, dark=0.22)
    assert found.soft_stops is not None
    assert found.hard_stops is not None
    return ToPaper(
        paper=Paper(name="paper two", support="FB"),
        stops=(
            FilterStops(filter="soft", stops=found.soft_stops),
            FilterStops(filter="hard", stops=found.hard_stops),
        ),
        dry_down_percent=Decimal(10),
    )
