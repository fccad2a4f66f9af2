"""Sheets for the tests of pictures: an example or a tree of a recipe, worked by foot in virtual time, and developed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from controller.commands.replay import Played, play_recipe
from controller.commands.replay_picture import developed, read_negatives
from controller.picture.develop import Developed
from controller.picture.practice_papers import practice_paper
from controller.recipe.files import read_feet, read_recipe
from controller.recipe.foot_trace import FeetTrace
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
PRESS_MS = 150
HOLD_MS = 900


def example(name: str) -> Recipe | Strip:
    return read_recipe((EXAMPLES / name).read_bytes(), name)


def example_feet(name: str) -> FeetTrace:
    return read_feet((EXAMPLES / name).read_bytes(), name)


def strip(**more: Any) -> Strip:
    tree = {"format": "treadle/strip/1", "title": "Strip", "card": "cover", "pace": "press", **more}
    made = read_recipe(json.dumps(tree), "strip")
    assert isinstance(made, Strip)
    return made


def recipe(*light: tuple[str, float], local: tuple[dict[str, Any], ...] = (), **more: Any) -> Recipe:
    tree = {
        "format": "treadle/recipe/1",
        "title": "Sheet",
        "magnification": 2.0,
        "image_mm": [240, 192],
        "light": [{"filter": name, "seconds": seconds} for name, seconds in light],
        "local": list(local),
        **more,
    }
    made = read_recipe(json.dumps(tree), "recipe")
    assert isinstance(made, Recipe)
    return made


def presses(*seconds: float, close: float | None = None) -> FeetTrace:
    """Short presses at these times, and a closing hold."""
    edges: list[list[object]] = []
    for at in seconds:
        edges += [[round(at * 1000), "down"], [round(at * 1000) + PRESS_MS, "up"]]
    if close is not None:
        edges += [[round(close * 1000), "down"], [round(close * 1000) + HOLD_MS, "up"]]
    return read_feet(json.dumps({"format": "treadle/feet/1", "edges": edges}), "feet")


def steady(model: Recipe | Strip, apart: float = 40.0) -> FeetTrace:
    """A press often enough for every step and filter change of a sheet, and a hold at the end."""
    from controller.recipe.compile_recipe import compile_any

    plan = compile_any(model, source="test", version=1)
    changes = sum(one.filter != two.filter for one, two in zip(plan.steps, plan.steps[1:], strict=False))
    asks = sum((step.hands is not None) + len(step.asks) for step in plan.steps) + len(plan.end_asks)
    count = len(plan.steps) + changes + asks
    return presses(*(apart * n for n in range(count)), close=apart * count)


def worked(model: Recipe | Strip, feet: FeetTrace | None = None, lag_ms: int = 0) -> Played:
    played = play_recipe(model, feet or steady(model), name="test", lag_ms=lag_ms)
    assert [record.outcome for record in played.records] == ["complete"]
    return played


def printed(
    model: Recipe | Strip,
    feet: FeetTrace | None = None,
    *,
    negative: str = "crane",
    paper: str = "one",
    lag_ms: int = 0,
    pixels: int = 150_000,
    **more: Any,
) -> Developed:
    return developed(
        worked(model, feet, lag_ms),
        model,
        negatives=read_negatives(negative),
        paper=practice_paper(paper),
        pixels=pixels,
        **more,
    )
