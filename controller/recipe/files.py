"""Recipes, strips and foot traces as files: read into their models, refused in a sentence, and written back."""

from __future__ import annotations

import json
from typing import Final

from controller.keeping import Keeps, ThingKind
from controller.recipe import foot_trace as feet
from controller.recipe import recipe as recipes
from controller.recipe import strip as strips
from controller.recipe import versioned
from controller.recipe.fields import LONGEST_MS
from controller.recipe.foot_trace import FEET, FeetTrace
from controller.recipe.recipe import RECIPE, RECIPE_2, Recipe
from controller.recipe.strip import STRIP, Strip
from controller.recipe.versioned import PlaceNames, VersionedForm

_FORMS: Final[tuple[VersionedForm[Recipe | Strip], ...]] = (
    VersionedForm(RECIPE, Recipe, recipes.upgrade, typed=True),
    VersionedForm(RECIPE_2, Recipe, recipes.upgrade, typed=True),
    VersionedForm(STRIP, Strip, strips.upgrade, typed=True),
)
_FEET: Final = VersionedForm(FEET, FeetTrace, feet.upgrade, typed=True, nulls=(("filter_in",),))


def read_recipe(
    text: str | bytes, name: str, *, longest_ms: int = LONGEST_MS, place_names: PlaceNames | None = None
) -> Recipe | Strip:
    """Return the recipe or strip that `text` holds, by its `format`; `name` is the file's, for the refusal.

    A refusal says “local 3” as the file has it, or what `place_names` calls that place.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, *_FORMS, context={"longest_ms": longest_ms}, place_names=place_names)


def read_tree(
    tree: object, name: str, *, longest_ms: int = LONGEST_MS, place_names: PlaceNames | None = None
) -> Recipe | Strip:
    """Return the recipe or strip in a tree of plain values, as JSON would give it or a page's form fills it.

    Raises:
        Unreadable: as `read_recipe`.
    """
    return versioned.read_tree(tree, name, *_FORMS, context={"longest_ms": longest_ms}, place_names=place_names)


def read_feet(text: str | bytes, name: str) -> FeetTrace:
    """Return the foot trace that `text` holds.

    Raises:
        Unreadable: as `read_recipe`.
    """
    return versioned.read(text, name, _FEET, context={"longest_ms": LONGEST_MS})


def write(model: Recipe | Strip | FeetTrace) -> str:
    """Return the file of a model: its keys as they were written, typed values and exact stops, never products."""
    known = model.model_dump(mode="json", exclude_unset=True, exclude_none=not isinstance(model, FeetTrace))
    form: str = model.written_as if isinstance(model, Recipe) else model.format
    return json.dumps({"format": form} | known | {"format": form}, ensure_ascii=False, indent=2) + "\n"


_LONGEST_ANYWHERE_MS: Final = 900_000
"""The most that the longest light can be set to; what it is on this machine is asked when a recipe is loaded."""
_SPOKEN: Final = frozenset({"notes", "name", "area", "what", "words"})
"""Keys whose words a search looks through."""


def _title(text: str, name: str) -> str:
    return read_recipe(text, name, longest_ms=_LONGEST_ANYWHERE_MS).title


def _words(body: str) -> str:
    return " ".join(versioned.words_under(_SPOKEN, body))


KEEPS: Final = Keeps(
    room="recipe",
    things=(
        ThingKind("recipe", "recipes", RECIPE, _title, _words),
        ThingKind("strip", "strips", STRIP, _title, _words),
    ),
)
