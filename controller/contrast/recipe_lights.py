"""A recipe's two lights: which of its bases is soft and which hard, and the recipe with two others in their place."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

from controller.contrast.asks import EnlargerStand, FlashAsk
from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.paper import Setup
from controller.recipe.asks import with_lights
from controller.recipe.files import read_tree
from controller.recipe.recipe import RECIPE, Base, Flash, Recipe, must_tell_lights_apart
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

TypedSeconds = tuple[Decimal, Decimal]


class TwoLights(Frozen):
    """A recipe's soft and hard seconds as they reach the paper, dry-down taken off; 0 where it has no such base."""

    soft: float
    hard: float
    flash: FlashAsk | None = None
    """Its flash, where that is through soft or hard; through an opal its seconds are a level's alone."""


def lights_of(recipe: Recipe, setup: Setup) -> TwoLights:
    """Return a recipe's two lights, by their names or by what is written on the filters.

    Raises:
        Impossible: it has a base through some other filter, or none of the two; the sentence names it.
    """
    must_tell_lights_apart(recipe)
    found = {"soft": 0.0, "hard": 0.0}
    for which, light in _two(recipe, setup):
        found[which] += float(light.seconds) * float(_left(recipe))
    return TwoLights(soft=found["soft"], hard=found["hard"], flash=_flash_of(recipe, setup))


def _flash_of(recipe: Recipe, setup: Setup) -> FlashAsk | None:
    flash = recipe.flash
    which = which_light(recipe, setup, flash.filter or recipe.light[0].filter) if flash is not None else None
    if flash is None or which is None:
        return None
    return FlashAsk(seconds=flash.seconds, filter=which, opal=flash.way != "no negative")


def _two(recipe: Recipe, setup: Setup) -> Iterator[tuple[str, Base]]:
    """Give each base with which of the two lights it is; raise `Impossible` at one that is neither."""
    for light in recipe.light:
        which = which_light(recipe, setup, light.filter)
        if which is None:
            raise Impossible(say("contrast.other-filter", title=recipe.title, filter=light.filter))
        yield which, light


def stand_of(recipe: Recipe) -> EnlargerStand:
    """Return how the enlarger stands for a recipe."""
    aperture = recipe.lens.aperture if recipe.lens else None
    return EnlargerStand(
        magnification=None if recipe.magnification is None else float(recipe.magnification),
        aperture=None if aperture is None else float(aperture),
    )


def put_lights(recipe: Recipe, setup: Setup, stand: EnlargerStand, seconds: TypedSeconds) -> Recipe:
    """Return the recipe with these soft and hard seconds for its bases; all else stays.

    With dry-down the bases are written so that what is left after it are these seconds.

    Raises:
        Impossible: the recipe stands at another magnification or aperture than the seconds are for, or some of
            its local work would be without its base.
        Unreadable: what comes out is no recipe; the sentence says why.
    """
    must_tell_lights_apart(recipe)
    here = stand_of(recipe)
    for name in ("magnification", "aperture"):
        ours, theirs = getattr(here, name), getattr(stand, name)
        if ours is not None and (theirs is None or abs(ours - theirs) > 1e-6):
            asked = "–" if theirs is None else f"{theirs:g}"
            raise Impossible(say(f"contrast.other-{name}", title=recipe.title, ours=f"{ours:g}", asked=asked), (name,))
    names = {"soft": "soft", "hard": "hard"}
    names |= {which: light.filter for which, light in _two(recipe, setup)}
    typed = {names["soft"]: seconds[0], names["hard"]: seconds[1]}
    for work in recipe.local:
        if work.stops is not None and work.filter in typed and not typed[work.filter]:
            raise Impossible(say("contrast.work-without-base", area=work.area, filter=work.filter))
    order = [*(light.filter for light in recipe.light), *names.values()]
    left = _left(recipe)
    old = {light.filter: light for light in recipe.light}
    light_list = tuple(
        (old.get(name) or Base(filter=name, seconds=typed[name])).model_copy(
            update={"seconds": _before(typed[name], left)}
        )
        for name in dict.fromkeys(order)
        if typed[name]
    )
    return with_lights(recipe, light_list)


def with_flash(recipe: Recipe, setup: Setup, flash: FlashAsk | None) -> Recipe:
    """Return the recipe with this flash, or with none; whether it is given beforehand stays as it was."""
    if flash is None:
        return recipe.model_copy(update={"flash": None})
    names = {"soft": "soft", "hard": "hard"} | {which: light.filter for which, light in _two(recipe, setup)}
    beforehand = {"beforehand": True} if recipe.flash is not None and recipe.flash.beforehand else {}
    made = Flash.model_validate(_flash(flash, names[flash.filter]) | beforehand)
    return recipe.model_copy(update={"flash": made})


def _flash(flash: FlashAsk, name: str) -> dict[str, Any]:
    way = "opal under the lens" if flash.opal else "no negative"
    return {"seconds": flash.seconds, "filter": name, "way": way}


def new_recipe(
    title: str, paper: Paper, stand: EnlargerStand, seconds: TypedSeconds, notes: str, flash: FlashAsk | None = None
) -> Recipe:
    """Return a recipe of two lights on a paper, over a flash where there is one.

    Raises:
        Unreadable: the title is none, or too long; the sentence says so.
    """
    tree: dict[str, Any] = {
        "format": RECIPE,
        "title": title,
        "light": [
            {"filter": name, "seconds": each} for name, each in zip(("soft", "hard"), seconds, strict=True) if each
        ],
        "local": [],
        "paper": {"name": paper.name},
        "notes": notes,
    }
    if flash is not None:
        tree["flash"] = _flash(flash, flash.filter)
    filters = {"soft": paper.setup.soft_filter, "hard": paper.setup.hard_filter}
    if any(filters.values()):
        tree["filters"] = {name: written for name, written in filters.items() if written}
    if stand.magnification is not None:
        tree["magnification"] = Decimal(str(stand.magnification))
    if stand.aperture is not None:
        tree["lens"] = {"aperture": Decimal(str(stand.aperture))}
    made = read_tree(tree, say("contrast.this-recipe"))
    assert isinstance(made, Recipe)
    return made


def with_note(recipe: Recipe, note: str) -> Recipe:
    """Return the recipe with one more line in its notes; a line that is there already is not written twice."""
    lines = (recipe.notes or "").splitlines()
    if note in lines:
        return recipe
    return recipe.model_copy(update={"notes": "\n".join([*lines, note])})


def which_light(recipe: Recipe, setup: Setup, name: str) -> Literal["soft", "hard"] | None:
    """Return which of the two a filter of a recipe is: by its name, or by what is written on it; None for another."""
    written = recipe.filters
    soft = {"soft", setup.soft_filter, written.soft if written else None}
    hard = {"hard", setup.hard_filter, written.hard if written else None}
    return "soft" if name in soft - {"", None} else "hard" if name in hard - {"", None} else None


def before_dry_down(recipe: Recipe, seconds: Decimal) -> Decimal:
    """Return the seconds to be typed into a recipe so that its dry-down leaves these."""
    return _before(seconds, _left(recipe))


def _left(recipe: Recipe) -> Fraction:
    """Return what dry-down leaves of a base."""
    return 1 - Fraction(recipe.dry_down_percent or 0) / 100


def _before(seconds: Decimal, left: Fraction) -> Decimal:
    """Return the seconds to be typed so that dry-down leaves these."""
    return seconds if left == 1 else round(seconds * left.denominator / left.numerator, 3)
