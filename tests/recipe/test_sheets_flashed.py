"""Sheets that are flashed beforehand: a plan with a press for each, and the recipe whose sheets leave the flash out."""

from __future__ import annotations

import json
from typing import Any

import pytest
from tools.picture_darkroom import presses

from controller.commands.replay import play_recipe
from controller.errors import Impossible, Unreadable
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe, write
from controller.recipe.plan import Hands, StepKind
from controller.store.sessions import outline

SHEETS: dict[str, Any] = {
    "format": "treadle/strip/1",
    "title": "Flash 3 sheets",
    "filter": "soft",
    "times": {"kind": "sheets", "seconds": 0.3, "sheets": 3},
    "card": "cover",
    "pace": "press",
}
RECIPE: dict[str, Any] = {
    "format": "treadle/recipe/1",
    "title": "Quay",
    "light": [{"filter": "soft", "seconds": 4.8}, {"filter": "hard", "seconds": 10.2}],
    "local": [],
    "flash": {"seconds": 0.3, "filter": "soft", "way": "no negative", "beforehand": True},
}


def plan_of(tree: dict[str, Any]) -> Any:
    return compile_any(read_recipe(json.dumps(tree), "x"), source="x", version=1)


def test_a_press_for_each_sheet() -> None:
    """Negative out once, then one flash a sheet, each named by its number; a strip of it is no strip to pick from."""
    plan = plan_of(SHEETS)
    assert [(step.act, step.planned_ms, step.filter) for step in plan.steps] == [(StepKind.FLASH, 300, "soft")] * 3
    assert [step.name for step in plan.steps] == [f"sheet {n} of 3" for n in (1, 2, 3)]
    assert [step.hands for step in plan.steps] == [Hands.NEGATIVE_OUT, None, None]
    assert plan.flashes_sheets
    assert plan_of(SHEETS | {"opal": True}).steps[0].hands is Hands.OPAL_IN
    assert not plan_of(RECIPE).flashes_sheets


def test_each_sheet_is_recorded_by_foot() -> None:
    """A press answers for the hands, then three light three sheets, and the hold closes; the record has each light."""
    strip = read_recipe(json.dumps(SHEETS), "x")
    played = play_recipe(strip, presses(0, 30, 60, 90, 120, close=150), name="x", lag_ms=0)
    (record,) = played.records
    assert record.outcome == "complete"
    assert [step.given_most_ms for step in record.steps] == [300, 300, 300]
    assert outline(record).line.kind == "flashed"


def test_beforehand_leaves_the_flash_out_and_says_so() -> None:
    """The sheet's steps are its bases alone, the plan holds what was flashed; without the word the flash is a step."""
    plan = plan_of(RECIPE)
    assert [step.act for step in plan.steps] == [StepKind.BASE, StepKind.BASE]
    assert [step.hands for step in plan.steps] == [None, None]
    assert (plan.flashed.filter, plan.flashed.planned_ms, plan.flashed.opal) == ("soft", 300, False)
    own = plan_of(RECIPE | {"flash": RECIPE["flash"] | {"beforehand": False}})
    assert own.flashed is None
    assert own.steps[0].act is StepKind.FLASH
    assert "flashed" not in own.model_dump_json()


def test_files_without_it_are_written_as_they_were() -> None:
    """A recipe and a strip that use none of it are written without its keys; one that does comes back the same."""
    bare = {name: value for name, value in RECIPE.items() if name != "flash"}
    assert "beforehand" not in write(read_recipe(json.dumps(bare), "x"))
    for tree in (RECIPE, SHEETS):
        model = read_recipe(json.dumps(tree), "x")
        assert read_recipe(write(model), "x") == model


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"under": [{"filter": "soft", "seconds": 5}]}, "get the flash and nothing else"),
        ({"flash": {"seconds": 0.3, "way": "no negative"}}, "get the flash and nothing else"),
        ({"times": {"kind": "sheets", "seconds": 0.3, "sheets": 51}}, "sheets"),
        ({"times": {"kind": "sheets", "seconds": 0.05, "sheets": 3}}, "seconds"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises((Impossible, Unreadable), match=words):
        plan_of(SHEETS | changes)


def test_a_threshold_strip_has_no_flash_under_it() -> None:
    tree = SHEETS | {"times": {"kind": "stops", "centre": 4, "step": "1/6", "bands": 7}, "template": "flash"}
    assert plan_of(tree).steps[0].hands is Hands.NEGATIVE_OUT
    assert plan_of(tree | {"opal": True}).steps[0].hands is Hands.OPAL_IN
    with pytest.raises(Impossible, match="finds the flash"):
        plan_of(tree | {"flash": {"seconds": 0.3, "way": "no negative"}})
