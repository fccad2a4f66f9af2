"""Laws of carrying over: there and back is nowhere, stops survive, light is exact."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from tools.check_picks import take_pick
from tools.crane_paper import CRANE, crane

from controller.carry.carry import Carried, carry
from controller.carry.changes import Change, FilterStops, ToAperture, ToPaper, ToSize, carried_value
from controller.errors import Impossible
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.files import write
from controller.recipe.recipe import Paper, Recipe

tenths = st.integers(5, 1200).map(lambda n: Decimal(n) / 10)
stops = st.sampled_from(["1/3", "1/2", "1", "1 1/3"])


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    """Any recipe typed to a tenth of a second, with burns and dodges in stops and burns in seconds."""
    names = draw(st.sampled_from([["soft"], ["soft", "hard"], ["2"], ["hard", "soft"]]))
    local: list[dict[str, Any]] = []
    for area in draw(st.lists(st.sampled_from("ABCDE"), max_size=3, unique=True)):
        one = {"area": area, "filter": draw(st.sampled_from(names))}
        if draw(st.booleans()):
            local.append(one | {"act": "burn", "stops": draw(stops)})
        else:
            local.append(one | {"act": "burn", "seconds": draw(tenths)})
    if draw(st.booleans()):
        local.append({"area": "D", "act": "dodge", "filter": names[0], "stops": "1/4"})
    more: dict[str, Any] = {}
    if draw(st.booleans()):
        more["flash"] = {"seconds": draw(tenths), "way": "no negative"}
    if draw(st.booleans()):
        more["dry_down_percent"] = Decimal(draw(st.integers(1, 12)))
    light = [{"filter": name, "seconds": draw(st.integers(40, 600).map(lambda n: Decimal(n) / 10))} for name in names]
    return crane(light=light, local=local, **more)


@st.composite
def changes(draw: st.DrawFn) -> tuple[Change, Change]:
    """A change, and the change that undoes it on the crane's recipe."""
    match draw(st.sampled_from(["size", "aperture", "paper"])):
        case "size":
            after = Decimal(draw(st.integers(60, 900))) / 100
            return ToSize(magnification=after), ToSize(
                magnification=Decimal("2.0"), image_mm=(Decimal(240), Decimal(192))
            )
        case "aperture":
            after = draw(st.sampled_from(["4", "5.6", "11", "16"]))
            return ToAperture(aperture=Decimal(after)), ToAperture(aperture=Decimal(8))
    moved = {name: draw(st.floats(-2.0, 2.0)) for name in ("soft", "hard", "2")}
    there, back = (tuple(FilterStops(filter=name, stops=sign * moved[name]) for name in moved) for sign in (1.0, -1.0))
    return ToPaper(paper=Paper(name="paper two"), stops=there), ToPaper(
        paper=Paper.model_validate(CRANE["paper"]), stops=back
    )


@given(recipe=recipes(), change=changes(), exponent=st.sampled_from([1.0, 1.0, 0.92]))
@settings(max_examples=150, deadline=None)
def test_there_and_back_is_the_identity(recipe: Recipe, change: tuple[Change, Change], exponent: float) -> None:
    """A recipe carried over and back is the stored recipe again, and every compiled step within 0.1 s."""
    there, back = change
    if isinstance(back, ToPaper):
        back = back.model_copy(update={"dry_down_percent": recipe.dry_down_percent})
    first = _carried(recipe, there, exponent)
    again = _carried(first.recipe, back, exponent)
    assert again.recipe == recipe
    assert write(again.recipe) == write(recipe) or _numbers(again.recipe) == _numbers(recipe)
    old = compile_recipe(recipe, source="", version=1).steps
    new = compile_recipe(again.recipe, source="", version=1).steps
    assert all(abs(a.planned_ms - b.planned_ms) <= 100 for a, b in zip(old, new, strict=True))


def _numbers(recipe: Recipe) -> object:
    return recipe.model_dump(mode="json", exclude_none=True)


def _carried(recipe: Recipe, change: Change, exponent: float) -> Carried:
    try:
        return carry(recipe, (change,), exponent=exponent)
    except Impossible:
        assume(False)
        raise


@given(recipe=recipes(), change=changes())
@settings(max_examples=60, deadline=None)
def test_stops_survive(recipe: Recipe, change: tuple[Change, Change]) -> None:
    """Every stop of a burn or dodge survives any carry-over and any pick, exactly as it was typed."""
    found = _carried(recipe, change[0], 1.0)
    assert [work.stops for work in found.recipe.local] == [work.stops for work in recipe.local]
    try:
        picked = take_pick(found, recipe.light[0].filter, Decimal("7.7"))
    except Impossible:
        return
    assert [work.stops for work in picked.recipe.local] == [work.stops for work in recipe.local]


@given(recipe=recipes(), change=changes())
@settings(max_examples=60, deadline=None)
def test_carried_light_is_exact(recipe: Recipe, change: tuple[Change, Change]) -> None:
    """Each carried base is its old one times its filter's factor, to half a tenth of a second or what that becomes."""
    found = _carried(recipe, change[0], 1.0)
    factors = {each.filter: each.factor for each in found.factors}
    for old, new in zip(recipe.light, found.recipe.light, strict=True):
        exact = float(old.seconds) * factors[old.filter]
        assert abs(float(new.seconds) - exact) <= 0.05 * min(1.0, factors[old.filter]) + 5e-4


@example(typed=40, factor=Fraction(4, 9))  # the nearest tenth lies just at the edge of what would come back
@given(typed=st.integers(1, 6000), factor=st.fractions(Fraction(1, 90), Fraction(90)))
@settings(max_examples=300, deadline=None)
def test_tenths_come_back(typed: int, factor: Fraction) -> None:
    """A time typed to a tenth comes back exactly from any factor between 1/90 and 90."""
    seconds = Decimal(typed) / 10
    there = carried_value(seconds, factor, Decimal("0.1"), 3)
    assume(there >= Decimal("0.1"))
    assert carried_value(there, 1 / factor, Decimal("0.1"), 3) == seconds


@given(seconds=st.decimals("0.1", "600", places=3), places=st.integers(0, 3))
def test_carried_nowhere_it_is_as_it_was_typed(seconds: Decimal, places: int) -> None:
    """Carried by a factor of 1 a time stays as it was typed, however fine that was."""
    typed = round(seconds, places)
    assume(typed > 0)
    assert carried_value(typed, Fraction(1), Decimal("0.1"), 3) == typed
