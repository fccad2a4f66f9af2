"""Carries a recipe over: to another size, aperture or paper, another dry-down or flash; every step old and new.

More time by one exact factor a filter: size ((1 + m₂/P)/(1 + m₁/P))², aperture 2^(marked stops), paper 2^(its
stops for that filter). Where long times tell less, by that factor to the power 1/p (Schwarzschild's p, measured
by the user; t' = t·F^(1/p)). Stops of burns and dodges stay, since they are of the base. The flash follows size,
aperture and paper, but never dry-down, which multiplies only what goes through the negative (common practice).
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any, Final, Literal

from pydantic import ValidationError

from controller.carry.changes import Change, ToAperture, ToDryDown, ToFlash, ToPaper, ToSize, carried_value
from controller.errors import Impossible
from controller.exposure.size import aperture_factor, area_rule, negative_to_easel_mm, size_factor
from controller.exposure.stops import light_factor, shown, stops_between
from controller.model import Frozen
from controller.recipe.asks import hands_moved
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.fields import BOTH, LONGEST_MS
from controller.recipe.plan import Step
from controller.recipe.recipe import Flash, Lens, Paper, Recipe
from controller.recipe.set_up import NEARLY_MM, SetUp
from controller.words import say

AREA_RULE_OFF: Final = 0.1
"""Stops: where the area rule is off by more, it is shown as wrong."""


class CarriedStep(Frozen):
    """One step of the sheet, as it was and as it is now."""

    name: str
    filter: str
    stops: str | None
    old_ms: int
    new_ms: int


class FilterFactor(Frozen):
    """What one filter's times were multiplied by, and what that is in stops."""

    filter: str
    factor: float
    stops: float


class Carried(Frozen):
    """A recipe carried over."""

    before: Recipe
    recipe: Recipe
    factors: tuple[FilterFactor, ...]
    lines: tuple[CarriedStep, ...]
    notes: tuple[str, ...]
    """What to know or to do, one sentence each."""
    apart: bool
    """Whether soft and hard were corrected by different factors, so that each wants a check strip of its own."""


def carry(
    recipe: Recipe, changes: tuple[Change, ...], *, exponent: float = 1.0, longest_ms: int = LONGEST_MS
) -> Carried:
    """Return a recipe carried over through some changes, in order.

    `exponent` is the user's reciprocity exponent p of the paper, 1 unless measured.

    Raises:
        Impossible: something the change needs is not in the recipe, or a time comes out longer or shorter than
            can be given; the sentence says what to fill in or to do.
    """
    if not 0.5 <= exponent <= 1.5:
        raise Impossible(say("paper.carry-exponent", found=f"{exponent:g}"))
    names = recipe.filter_names()
    common = Fraction(1)
    own: dict[str, Fraction] = dict.fromkeys(names, Fraction(1))
    notes: list[str] = []
    fields: dict[str, Any] = {}
    flash: Flash | Literal["same"] | None = "same"
    of_flash: Fraction | None = None
    pupil = Fraction(1)
    for change in changes:
        now = recipe.model_copy(update=fields)
        match change:
            case ToSize():
                factor, put = _sized(now, change, notes)
                common *= factor
                pupil = Fraction(change.pupil)
                fields |= put
            case ToAperture():
                if now.lens is None or now.lens.aperture is None:
                    raise Impossible(say("paper.carry-no-aperture"), ("lens", "aperture"))
                common *= aperture_factor(float(now.lens.aperture), float(change.aperture))
                fields["lens"] = Lens(focal_mm=now.lens.focal_mm, aperture=change.aperture)
            case ToPaper():
                for name in names:
                    own[name] *= _paper_factor(change, name)
                fields |= {"paper": change.paper, "dry_down_percent": change.dry_down_percent}
                if change.flash is not None:
                    flash = change.flash
                elif recipe.flash is not None and change.flash_stops is not None:
                    of_flash = light_factor(_exact(change.flash_stops))
                    notes.append(say("paper.carry-flash-reckoned"))
                elif recipe.flash is not None:
                    notes.append(say("paper.carry-flash-paper"))
            case ToDryDown():
                fields["dry_down_percent"] = change.dry_down_percent
            case ToFlash():
                flash = _found(change, now, pupil, exponent, longest_ms, notes)
    factors = {name: _reciprocal(common * own[name], exponent) for name in names}
    if exponent != 1.0:
        notes.append(say("paper.carry-reciprocity", exponent=f"{exponent:g}"))
    fields["light"] = tuple(
        each.model_copy(
            update={"seconds": carried_seconds(each.seconds, factors[each.filter], longest_ms, ("light", n, "seconds"))}
        )
        for n, each in enumerate(recipe.light)
    )
    local = _local(recipe, factors, longest_ms)
    fields["local"] = tuple(work for _, work in local)
    if recipe.hands:
        fields["hands"] = hands_moved(recipe, range(len(recipe.light)), [line for line, _ in local])
    if flash != "same":
        fields["flash"] = flash
    elif recipe.flash is not None:
        name = recipe.flash.filter or recipe.light[0].filter
        factor = factors[name] if of_flash is None else _reciprocal(common * of_flash, exponent)
        seconds = carried_seconds(recipe.flash.seconds, factor, longest_ms, ("flash", "seconds"))
        fields["flash"] = recipe.flash.model_copy(update={"seconds": seconds})
    return finished(recipe, recipe.model_copy(update=fields), factors, tuple(notes), longest_ms)


def finished(
    before: Recipe, after: Recipe, factors: dict[str, Fraction], notes: tuple[str, ...], longest_ms: int
) -> Carried:
    """Return what was carried, both sheets compiled and every step of one beside its step of the other.

    Raises:
        Impossible: the new sheet cannot be given; the sentence says which step.
    """
    # What is kept must be what a file could hold, whatever way it was put together.
    try:
        after = Recipe.model_validate(after.model_dump(exclude_unset=True), context={"longest_ms": longest_ms})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = [part for part in first["loc"] if isinstance(part, str)][-1:]
        words = say("paper.carry-value", where=shown("".join(where)), found=shown(first["input"]))
        raise Impossible(words, first["loc"]) from None
    old = _steps(before, longest_ms)
    new = _steps(after, longest_ms)
    return Carried(
        before=before,
        recipe=after,
        factors=tuple(
            FilterFactor(filter=name, factor=float(factor), stops=stops_between(Fraction(1), factor))
            for name, factor in factors.items()
        ),
        lines=_lines(old, new),
        notes=notes,
        apart=len({round(float(factors[each.filter]), 6) for each in before.light}) > 1,
    )


def _steps(recipe: Recipe, longest_ms: int) -> tuple[Step, ...]:
    return compile_recipe(recipe, source="", version=1, longest_ms=longest_ms).steps


def _lines(old: tuple[Step, ...], new: tuple[Step, ...]) -> tuple[CarriedStep, ...]:
    """Return the steps of two sheets side by side; a flash that only one of them has stands against nothing."""
    flash_old = [step for step in old if step.act == "flash"]
    flash_new = [step for step in new if step.act == "flash"]
    lines = []
    if flash_old or flash_new:
        either = (flash_new or flash_old)[0]
        lines.append(
            CarriedStep(
                name=either.name,
                filter=either.filter,
                stops=None,
                old_ms=sum(step.planned_ms for step in flash_old),
                new_ms=sum(step.planned_ms for step in flash_new),
            )
        )
    rest_old = [step for step in old if step.act != "flash"]
    rest_new = [step for step in new if step.act != "flash"]
    for was, now in zip(rest_old, rest_new, strict=True):
        lines.append(
            CarriedStep(name=now.name, filter=now.filter, stops=now.stops, old_ms=was.planned_ms, new_ms=now.planned_ms)
        )
    return tuple(lines)


def _sized(recipe: Recipe, change: ToSize, notes: list[str]) -> tuple[Fraction, dict[str, Any]]:
    """Return the factor of time of another size, and the recipe's fields that go with it."""
    if recipe.magnification is None:
        raise Impossible(say("paper.carry-no-magnification"), ("magnification",))
    before = Fraction(recipe.magnification)
    if change.magnification is not None:
        after = Fraction(change.magnification)
    elif change.image_mm is not None and recipe.image_mm is not None:
        after = before * Fraction(change.image_mm[0]) / Fraction(recipe.image_mm[0])
    else:
        raise Impossible(say("paper.carry-no-size"), ("image_mm",))
    magnification = change.magnification or carried_value(recipe.magnification, after / before, Decimal("0.01"), 6)
    put: dict[str, Any] = {"magnification": magnification}
    if change.image_mm is not None:
        put["image_mm"] = change.image_mm
    elif recipe.image_mm is not None:
        put["image_mm"] = tuple(carried_value(each, after / before, Decimal(1), 3) for each in recipe.image_mm)
    if change.paper_size is not None:
        put["paper"] = (recipe.paper or Paper()).model_copy(update={"size": change.paper_size})
    if recipe.head_height_mm is not None or change.head_height_mm is not None:
        put["head_height_mm"] = _head_height(recipe, before, after, change, notes)
    factor = size_factor(before, after, Fraction(change.pupil))
    wrong = stops_between(factor, area_rule(before, after))
    if abs(wrong) > AREA_RULE_OFF:
        notes.append(
            say("paper.carry-area-rule", factor=f"{float(area_rule(before, after)):.2f}", stops=f"{abs(wrong):.2f}")
        )
    return factor, put


def _head_height(recipe: Recipe, before: Fraction, after: Fraction, change: ToSize, notes: list[str]) -> Decimal | None:
    """Return the column's reading at the new size: moved by what the way from negative to easel grows by."""
    if change.head_height_mm is not None:
        return change.head_height_mm
    assert recipe.head_height_mm is not None
    if recipe.lens is None or recipe.lens.focal_mm is None:
        notes.append(say("paper.carry-read-column"))
        return None
    focal = Fraction(recipe.lens.focal_mm)
    moved = negative_to_easel_mm(focal, after) - negative_to_easel_mm(focal, before)
    # Rounded before it is added, so that the way back takes off what was added.
    height = recipe.head_height_mm + Decimal(round(moved * 10)) / 10
    if not 0 <= height <= 10_000:
        notes.append(say("paper.carry-read-column"))
        return None
    notes.append(say("paper.carry-column", height=f"{height:f}"))
    return height


def _found(
    change: ToFlash, now: Recipe, pupil: Fraction, exponent: float, longest_ms: int, notes: list[str]
) -> Flash | None:
    """Return a new flash in seconds of the print: a strip's were of its own size and aperture."""
    flash, was, here = change.flash, change.found_at, SetUp.of_written(now)
    if flash is None or was is None:
        return flash
    factor, whole = Fraction(1), True
    if was.magnification is not None and here.magnification is not None:
        factor *= size_factor(Fraction(str(was.magnification)), Fraction(str(here.magnification)), pupil)
    else:
        stood, stands = was.head_height_mm, here.head_height_mm
        whole = stood is not None and stands is not None and abs(stood - stands) <= NEARLY_MM
    if was.aperture is not None and here.aperture is not None:
        factor *= aperture_factor(was.aperture, here.aperture)
    else:
        whole = False
    if not whole:
        notes.append(say("paper.carry-flash-stand"))
    if factor == 1:
        return flash
    seconds = carried_seconds(flash.seconds, _reciprocal(factor, exponent), longest_ms, ("flash", "sheet"))
    return flash.model_copy(update={"seconds": seconds})


def _paper_factor(change: ToPaper, name: str) -> Fraction:
    for each in change.stops:
        if each.filter == name:
            return light_factor(_exact(each.stops))
    raise Impossible(say("paper.carry-no-stops", filter=name))


def _exact(stops: float) -> Fraction:
    return Fraction(stops).limit_denominator(10**9)


def _reciprocal(factor: Fraction, exponent: float) -> Fraction:
    """Return F^(1/p), exact where p is 1."""
    if exponent == 1.0:
        return factor
    with localcontext() as context:
        context.prec = 60
        exact = Decimal(factor.numerator) / Decimal(factor.denominator)
        return Fraction(exact ** (1 / Decimal(str(exponent))))


def carried_seconds(typed: Decimal, factor: Fraction, longest_ms: int, place: tuple[int | str, ...]) -> Decimal:
    """Return typed seconds times a factor, as a recipe keeps them.

    Raises:
        Impossible: too short or too long to give; the sentence says how far to open the lens or stop it down.
    """
    seconds = carried_value(typed, factor, Decimal("0.1"), 3)
    if not Decimal("0.1") <= seconds <= Decimal(longest_ms) / 1000:
        key = "paper.carry-short" if seconds < 1 else "paper.carry-long"
        stops = math.ceil(abs(math.log2(float(factor))))
        raise Impossible(say(key, seconds=f"{float(typed * 1):g}", new=f"{float(seconds):.2f}", stops=stops), place)
    return seconds


def _local(recipe: Recipe, factors: dict[str, Fraction], longest_ms: int) -> list[tuple[int, Any]]:
    """Return local work, each with the line that it was, with its seconds carried and its stops as they were.

    Work in seconds through both filters is written once for each where their factors differ.
    """
    done: list[tuple[int, Any]] = []
    for n, work in enumerate(recipe.local):
        if work.seconds is None:
            done.append((n, work))
            continue
        place = ("local", n, "seconds")
        names = [work.filter] if work.filter != BOTH else list(dict.fromkeys(each.filter for each in recipe.light))
        apart = len({factors[name] for name in names}) > 1
        for name in names if apart else names[:1]:
            seconds = carried_seconds(work.seconds, factors[name], longest_ms, place)
            update = {"seconds": seconds} | ({"filter": name} if apart else {})
            done.append((n, work.model_copy(update=update)))
    return done
