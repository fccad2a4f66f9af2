"""What a sheet was given goes into its recipe, as the next version: one burn that was added, or all of the sheet."""

from __future__ import annotations

from controller.daemon.recipe_shelf import RecipeShelf
from controller.errors import ControllerError, Impossible
from controller.model import Frozen
from controller.recipe.as_given import BASES, Got, as_given, with_burn
from controller.recipe.files import write
from controller.recipe.plan import Step
from controller.recipe.recipe import Recipe
from controller.recipe.set_up import NEARLY, SetUp
from controller.store.records import SheetRecord, StepRecord
from controller.store.said_of_sheets import WentIn
from controller.words import say


class Offered(Frozen):
    """Whether all that a sheet was given can become its recipe's next version, and why not where it cannot."""

    all: bool = False
    why_not: str = ""
    """Empty as well where there is nothing to ask: it was given what its recipe says."""


def offered(recipes: RecipeShelf, record: SheetRecord) -> Offered:
    """Return what a sheet's record offers."""
    same = all(_got(step).as_planned for step in record.steps) and not any(step.added for step in record.steps)
    if same or record.plan.kind != "recipe" or not record.closed or any(each.step == 0 for each in record.went_in):
        return Offered()
    try:
        _all_of(recipes, record)
    except ControllerError as problem:
        return Offered(why_not=str(problem))
    return Offered(all=True)


def into_recipe(recipes: RecipeShelf, record: SheetRecord, step: int) -> WentIn:
    """Keep the recipe's next version with the burn that was step `step` of a sheet, or for 0 with all it was given.

    A burn goes into the last version there is; all of a sheet is put together from the version it was made by.

    Raises:
        Impossible: it is in already, the sheet is open or a strip's, or as `controller.recipe.as_given`.
        NotThere, Unreadable, StoreTrouble: the recipe cannot be had, or the new version not be kept.
    """
    if record.plan.kind != "recipe":
        raise Impossible(say("store.not-a-recipe", title=record.plan.title))
    if not record.closed:
        raise Impossible(say("recipe.given-open", number=record.number))
    if (already := next((each for each in record.went_in if each.step in (0, step)), None)) is not None:
        raise Impossible(say("recipe.given-already", version=already.recipe_version))
    made = _all_of(recipes, record) if step == 0 else _with_burn(recipes, record, step)
    kept = recipes.save(write(made), record.plan.source)
    return WentIn(sheet=record.id, step=step, recipe=kept.id, recipe_version=kept.version)


def _all_of(recipes: RecipeShelf, record: SheetRecord) -> Recipe:
    if record.outcome != "complete":
        raise Impossible(say("recipe.given-spoiled"))
    recipe = recipes.recipe(record.plan.source, record.plan.version)
    made = as_given(recipe, [_got(step) for step in record.steps], longest_ms=recipes.longest_ms())
    latest = recipes.recipe(record.plan.source)  # its title and notes are of the recipe, not of one sheet
    return made.model_copy(update={name: getattr(latest, name) for name in ("title", "notes")})


def _with_burn(recipes: RecipeShelf, record: SheetRecord, number: int) -> Recipe:
    step = next((each for each in record.steps if each.added and each.step.number == number), None)
    if step is None:
        raise Impossible(say("recipe.given-no-burn", step=number, number=record.number))
    latest = recipes.recipe(record.plan.source)
    of_base_ms = _base_ms(record, step.step) if _carried_since(record, latest) else 0
    return with_burn(latest, _got(step), of_base_ms=of_base_ms, longest_ms=recipes.longest_ms())


def _carried_since(record: SheetRecord, latest: Recipe) -> bool:
    """Tell whether a recipe stands at another size or aperture by now than a sheet of it was made at."""
    was, now = record.plan.set_up or SetUp(), SetUp.of_written(latest)
    figures = ((was.magnification, now.magnification), (was.aperture, now.aperture))
    return any(one and two and abs(one - two) > NEARLY * two for one, two in figures)


def _base_ms(record: SheetRecord, burn: Step) -> int:
    """Return what a sheet's base through a burn's filter was given."""
    of_base = (each for each in record.steps if each.step.act in BASES and not each.added)
    return sum(
        each.worth_ms[1] for each in of_base if (each.step.filter, each.step.carrier) == (burn.filter, burn.carrier)
    )


def _got(step: StepRecord) -> Got:
    least_ms, most_ms = step.worth_ms
    return Got(step=step.step, least_ms=least_ms, most_ms=most_ms, added=step.added)
