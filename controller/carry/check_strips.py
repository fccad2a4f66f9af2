"""The strip that confirms a carried recipe, and what its pick corrects: the bases, while stops stay as they are."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from controller.carry.carry import Carried, carried_seconds
from controller.carry.wanted import Carry, read_carry
from controller.errors import Impossible, Unreadable
from controller.recipe.compile_recipe import compile_strip
from controller.recipe.fields import BOTH, LONGEST_MS
from controller.recipe.recipe import FilterTime, Recipe
from controller.recipe.strip import StopTimes, Strip
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.pick import Pick
    from controller.store.shelf import Shelf


STEPS: Final = ("1/6", "1/3", "1/2", "1")
"""Fine first: a carried time is nearly right. Coarser where bands would come out alike at 0.1 s."""
BANDS: Final = 5


def check_strips(carried: Carried, *, longest_ms: int = LONGEST_MS) -> tuple[Strip, ...]:
    """Return the strips to make: one through the first filter, or one a filter where each was corrected by itself.

    A strip through a later filter has the earlier bases under it, as far as they are of the same negative; of two
    negatives the first base through a filter is tested, and the other goes by its ratio.

    Raises:
        Impossible: the first base is too short or too long for any strip around it.
    """
    recipe = carried.recipe
    tested = [n for n, each in enumerate(recipe.light) if recipe.base(each.filter) is each]
    return tuple(_strip(recipe, number, longest_ms) for number in (tested if carried.apart else tested[:1]))


def corrected(
    recipe: Recipe, filter_name: str, picked_seconds: Decimal, *, apart: bool, longest_ms: int = LONGEST_MS
) -> Recipe:
    """Return a recipe with one base set to a check strip's pick; with `apart` it alone, else all by its ratio.

    Stops stay as they are; work in seconds through a corrected filter follows.

    Raises:
        Impossible: no base goes through that filter, or a time comes out longer than can be given.
    """
    tested = recipe.base(filter_name)
    if tested is None:
        raise Impossible(say("paper.check-no-base", filter=filter_name))
    ratio = Fraction(picked_seconds) / Fraction(tested.seconds)
    names = [filter_name] if apart else [each.filter for each in recipe.light]
    light = tuple(
        each.model_copy(
            update={
                "seconds": picked_seconds
                if each is tested
                else carried_seconds(each.seconds, ratio, longest_ms, ("light", n, "seconds"))
            }
        )
        if each.filter in names
        else each
        for n, each in enumerate(recipe.light)
    )
    local: list[Any] = []
    for n, work in enumerate(recipe.local):
        follows = work.filter in names or (work.filter == BOTH and not apart)
        if work.seconds is None or not follows:
            local.append(work)
        else:
            seconds = carried_seconds(work.seconds, ratio, longest_ms, ("local", n, "seconds"))
            local.append(work.model_copy(update={"seconds": seconds}))
    return recipe.model_copy(update={"light": light, "local": tuple(local)})


def _strip(recipe: Recipe, number: int, longest_ms: int) -> Strip:
    light = recipe.light[number]
    problem: Impossible | None = None
    for step in STEPS:
        written = {"negative", "lens", "head_height_mm", "magnification", "filters", "paper", "flash"}
        kept = written & recipe.model_fields_set  # over the flash, or the strip would not show what the print does
        strip = Strip(
            title=say("paper.check-title", title=recipe.title[:160], filter=light.filter),
            filter=light.filter,
            times=StopTimes(kind="stops", centre=light.seconds, step=step, bands=BANDS),
            card="cover",
            pace="press",
            under=tuple(each.bare for each in recipe.light[:number] if each.carrier == light.carrier),
            **{name: getattr(recipe, name) for name in kept if getattr(recipe, name) is not None},
        )
        try:
            compile_strip(strip, source="", version=1, longest_ms=longest_ms)
        except Impossible as error:
            problem = error
        else:
            return strip
    assert problem is not None
    raise problem


def confirmed_by(shelf: Shelf, strip: str) -> Carry | None:
    """Return what was carried over that this strip is to confirm, the last where there are several; None where none."""
    for kept in shelf.holding("carry", strip):
        try:
            link = read_carry(kept.body)
        except Unreadable:
            continue  # of a newer version; the strip is a strip like any other then
        if any(each.id == strip for each in link.strips):
            return link
    return None


def take_check_pick(link: Carry, recipe: Recipe, pick: Pick, *, longest_ms: int) -> Recipe:
    """Return a carried recipe with its bases corrected by its check strip's pick; every stop stays.

    Raises:
        Impossible: the recipe has no such base any more, or a time comes out longer than can be given.
    """
    seconds = Decimal(str(pick.seconds))
    return corrected(recipe, pick.filter, seconds, apart=link.apart, longest_ms=longest_ms)


def follow_pick(strip: Strip, pick: Pick) -> Strip:
    """Return a check strip with the picked base under it, where its filter lies under the strip's own."""
    under = tuple(
        FilterTime(filter=each.filter, seconds=Decimal(str(pick.seconds))) if each.filter == pick.filter else each
        for each in strip.under
    )
    return strip.model_copy(update={"under": under}) if under != strip.under else strip
