"""Recipes, strips and foot traces as kept: what was typed stays, and a file written again says the same."""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from pydantic import ValidationError
from tools.written_files import EXAMPLES, Tree, recipe_2_trees, recipe_of, recipe_trees, strip_of, strip_trees, text_of

from controller.recipe.files import read_feet, read_recipe, read_tree, write
from controller.recipe.foot_trace import FeetTrace
from controller.recipe.recipe import Dodge, HandsEntry, Recipe, Tool
from controller.recipe.strip import Rhythm, Strip

FILES = sorted(path.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.rglob("*.json"))

NEVER_EDITED = {
    "old/crane.recipe.json": "cbe2196707746d2f990994ac5d64516baa11ea5cbf9333b84fff16ea751e0ad2",
    "old/everything.recipe.json": "249527c7831c7cd2b1bb159c7e120061136169bbde3d77a49949373d43f278ec",
    "old/everything.strip.json": "58973c28c0cb91c21b55e8e5143867d04a84e7670b76d1530c5e84db3fe863e3",
    "old/sky.strip.json": "4d3d281ce54e63de677ee767f251f129ba6f6f7959a6c7f1a4981547bb96ae67",
    "old/everything.feet.json": "98de7896ce83499d5d8e58257d0035fff1c4fab229a587cd351b3d7769e6d39f",
}


def _read(name: str) -> Recipe | Strip | FeetTrace:
    text = text_of(name)
    return read_feet(text, name) if "feet" in name else read_recipe(text, name)


def _as_typed(text: str) -> Any:
    """Return a file's tree with its numbers as text, so that 12.0 and 12 are told apart."""
    return json.loads(text, parse_float=str, parse_int=str)


@pytest.mark.parametrize("name", FILES)
def test_a_file_written_again_says_the_same(name: str) -> None:
    """File to model to file is the identity, numbers in the digits they were typed in."""
    assert _as_typed(write(_read(name))) == _as_typed(text_of(name))


@pytest.mark.parametrize("name", FILES)
def test_a_written_file_is_read_as_the_same_model(name: str) -> None:
    """Model to file to model is the identity."""
    model = _read(name)
    again = (read_feet if isinstance(model, FeetTrace) else read_recipe)(write(model), name)
    assert again == model


@settings(max_examples=150)
@given(recipe_trees())
def test_every_valid_recipe_goes_round(tree: Tree) -> None:
    """Any valid recipe comes out of its model as it went in."""
    text = json.dumps(tree)
    model = read_recipe(text, "made up")
    assert _as_typed(write(model)) == _as_typed(text)
    assert read_recipe(write(model), "again") == model


@settings(max_examples=150)
@given(recipe_2_trees())
def test_every_valid_recipe_of_the_second_form_goes_round(tree: Tree) -> None:
    """Tools, hands, words and carriers come out as they went in, under the form that has them."""
    text = json.dumps(tree)
    model = read_recipe(text, "made up")
    assert _as_typed(write(model)) == _as_typed(text)
    assert read_recipe(write(model), "again") == model


@settings(max_examples=50)
@given(recipe_trees())
def test_a_second_form_that_uses_nothing_new_is_written_as_the_first(tree: Tree) -> None:
    """Byte for byte what the first form's file is."""
    first, second = (read_recipe(json.dumps(tree | {"format": f"treadle/recipe/{n}"}), "made up") for n in (1, 2))
    assert write(first) == write(second)


@settings(max_examples=150)
@given(strip_trees())
def test_every_valid_strip_goes_round(tree: Tree) -> None:
    """Any valid strip comes out of its model as it went in."""
    text = json.dumps(tree)
    model = read_recipe(text, "made up")
    assert _as_typed(write(model)) == _as_typed(text)
    assert read_recipe(write(model), "again") == model


@pytest.mark.parametrize(("name", "digest"), NEVER_EDITED.items())
def test_an_old_example_is_never_edited_and_still_read(name: str, digest: str) -> None:
    """A file from the first day is still what it was, and is still understood."""
    assert hashlib.sha256((EXAMPLES / name).read_bytes()).hexdigest() == digest
    assert _read(name).format.endswith("/1")


def test_every_old_example_is_held_to_its_digest() -> None:
    """No stored old example goes unwatched."""
    assert sorted(path.relative_to(EXAMPLES).as_posix() for path in (EXAMPLES / "old").iterdir()) == sorted(
        NEVER_EDITED
    )


def test_typed_values_and_exact_stops_are_kept() -> None:
    """A recipe keeps its seconds as typed and its stops as text, never a rounded product."""
    recipe = recipe_of("crane.recipe.json")
    assert recipe.light[0].seconds == Decimal("10.1")
    dodge = recipe.local[1]
    assert isinstance(dodge, Dodge)
    assert dodge.stops == "1/3"
    assert dodge.exact_stops == Fraction(1, 3)
    written = write(recipe)
    assert '"seconds": 10.1' in written
    assert '"seconds": 8.0' in written


def test_every_key_of_the_forms_is_understood() -> None:
    """Recipe and strip hold every optional part of their forms."""
    recipe = recipe_of("everything.recipe.json")
    second = recipe_of("two-negatives.recipe.json")
    assert recipe.model_fields_set | second.model_fields_set == set(Recipe.model_fields)
    assert {key for tool in second.tools for key in tool.model_fields_set} == set(Tool.model_fields)
    assert {key for hands in second.hands for key in hands.model_fields_set} == set(HandsEntry.model_fields)
    strip = strip_of("everything.strip.json")
    assert strip.model_fields_set == set(Strip.model_fields)
    assert strip.pace == Rhythm(kind="rhythm", gap_seconds=Decimal(4))


def test_a_trace_tells_unknown_from_unsaid() -> None:
    """A trace without `filter_in` differs from one whose filter is unknown."""
    unsaid, unknown = (read_feet(text_of(f"{name}.feet.json"), name) for name in ("proof", "everything"))
    assert (unsaid.filter_said, unknown.filter_said) == (False, True)
    assert unsaid.filter_in is None
    assert unknown.filter_in is None
    assert '"filter_in": null' in write(unknown)
    assert "filter_in" not in write(unsaid)


def test_a_tree_from_a_form_is_read_as_a_file_is() -> None:
    """A tree of plain floats and integers gives the model that the same text gives."""
    text = text_of("everything.recipe.json")
    assert read_tree(json.loads(text), "form") == read_recipe(text, "file")


def test_longest_light_is_a_matter_of_the_start() -> None:
    """Seconds reach to the longest light that is asked for, ten minutes unless told."""
    tree = json.loads(text_of("proof.recipe.json"))
    tree["light"][0]["seconds"] = 700
    longer = read_tree(tree, "longer", longest_ms=900_000)
    assert isinstance(longer, Recipe)
    assert longer.light[0].seconds == 700


def test_kept_models_cannot_be_changed() -> None:
    """A recipe that has been read cannot be changed under anyone's hands."""
    recipe = recipe_of("proof.recipe.json")
    with pytest.raises(ValidationError, match="frozen"):
        recipe.title = "another"  # type: ignore[misc]


def test_a_byte_order_mark_is_no_fault() -> None:
    """A file saved by an editor that marks its byte order is read all the same."""
    text = text_of("proof.recipe.json")
    assert read_recipe(b"\xef\xbb\xbf" + text.encode(), "marked") == read_recipe(text, "plain")
