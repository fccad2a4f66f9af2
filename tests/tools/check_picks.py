"""A check strip's pick, taken into a carried recipe that was never kept."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from controller.carry.carry import Carried, finished
from controller.carry.check_strips import corrected
from controller.recipe.fields import LONGEST_MS


def take_pick(carried: Carried, filter_name: str, picked_seconds: Decimal, *, longest_ms: int = LONGEST_MS) -> Carried:
    """Return the recipe with its bases corrected by a check strip's pick; stops stay as they are.

    The pick is the base of the strip's filter now. Where one strip stands for all, the others follow by the
    same ratio; where each was corrected by itself they stay. Work in seconds through a corrected filter follows.

    Raises:
        Impossible: no base goes through that filter, or a time comes out longer than can be given.
    """
    recipe = carried.recipe
    after = corrected(recipe, filter_name, picked_seconds, apart=carried.apart, longest_ms=longest_ms)
    tested = recipe.base(filter_name)
    assert tested is not None
    ratio = Fraction(picked_seconds) / Fraction(tested.seconds)
    names = [filter_name] if carried.apart else [each.filter for each in recipe.light]
    factors = {each.filter: Fraction(each.factor) for each in carried.factors}
    factors |= {name: factors[name] * ratio for name in names}
    done = finished(carried.before, after, factors, carried.notes, longest_ms)
    return done.model_copy(update={"apart": carried.apart})
