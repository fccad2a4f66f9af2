"""A check strip's pick: which carried recipe it confirms, and what it corrects there; every stop stays as it is."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from controller.carrying import Carry, read_carry
from controller.errors import Unreadable
from controller.paper.checks import corrected
from controller.recipes import Light, Recipe
from controller.strips import Strip

if TYPE_CHECKING:
    from controller.printing.picks import Pick
    from controller.shelf import Shelf


def confirmed_by(shelf: Shelf, strip: str) -> Carry | None:
    """Return what was carried over that this strip is to confirm, the last where there are several; None where none."""
    for kept in shelf.latest("carry"):
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
        Light(filter=each.filter, seconds=Decimal(str(pick.seconds))) if each.filter == pick.filter else each
        for each in strip.under
    )
    return strip.model_copy(update={"under": under}) if under != strip.under else strip
