"""From what a printer wants to what is reckoned: sizes by any measure, distances, one kept paper against another."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from controller.carry.changes import FilterStops, ToSize
from controller.carry.wanted import CarryWanted, Distances, KeptPapers, SizeWanted
from controller.contrast.recipe_lights import lights_of, stand_of, which_light
from controller.errors import Impossible
from controller.exposure.size import lens_to_easel_mm, lens_to_negative_mm, magnification_at
from controller.paper.libraries import with_libraries
from controller.paper.tones import OF_SCALE, OVER_WHITE
from controller.recipe.fields import BOTH
from controller.recipe.recipe import Lens, Recipe
from controller.words import say

if TYPE_CHECKING:
    from controller.carry.carry import Carried
    from controller.paper import paper as papers


def said_too(recipe: Recipe, wanted: CarryWanted) -> Recipe:
    """Return the recipe with what it did not say itself: its magnification, aperture and focal length."""
    update: dict[str, object] = {}
    if recipe.magnification is None and wanted.now_magnification is not None:
        update["magnification"] = wanted.now_magnification
    lens = recipe.lens or Lens()
    aperture = lens.aperture if lens.aperture is not None else wanted.now_aperture
    focal = lens.focal_mm if lens.focal_mm is not None else wanted.focal_mm
    if (aperture, focal) != (lens.aperture, lens.focal_mm):
        told = {"aperture": aperture, "focal_mm": focal}
        update["lens"] = Lens(**{name: value for name, value in told.items() if value is not None})
    return recipe.model_copy(update=update) if update else recipe


def size_change(recipe: Recipe, wanted: SizeWanted) -> ToSize:
    """Return the change of size that is wanted.

    Raises:
        Impossible: none or several sizes are told, or the lens would stand nearer than its focal length.
    """
    told = [wanted.magnification, wanted.image_mm, wanted.lens_to_easel_mm]
    if sum(each is not None for each in told) != 1:
        raise Impossible(say("carry.one-size"), ("size", "magnification"))
    magnification = wanted.magnification
    if wanted.lens_to_easel_mm is not None:
        if recipe.lens is None or recipe.lens.focal_mm is None:
            raise Impossible(say("carry.no-focal"), ("focal_mm",))
        found = magnification_at(Fraction(recipe.lens.focal_mm), Fraction(wanted.lens_to_easel_mm))
        if not Fraction(1, 100) <= found <= 200:
            words = {"distance": f"{wanted.lens_to_easel_mm:f}", "focal": f"{recipe.lens.focal_mm:f}"}
            raise Impossible(say("carry.too-near", **words), ("size", "lens_to_easel_mm"))
        magnification = round(Decimal(found.numerator) / Decimal(found.denominator), 4)
    return ToSize(
        magnification=magnification,
        image_mm=wanted.image_mm,
        pupil=wanted.pupil,
        head_height_mm=wanted.head_height_mm,
        paper_size=wanted.paper_size or None,
    )


def distances(before: Recipe, after: Recipe) -> tuple[Distances, Distances] | None:
    """Return where the lens stands before and after; None where focal length or magnification is not known."""
    if before.lens is None or before.lens.focal_mm is None:
        return None
    focal, found = Fraction(before.lens.focal_mm), []
    for recipe in (before, after):
        if recipe.magnification is None:
            return None
        m = Fraction(recipe.magnification)
        found.append(
            Distances(
                lens_to_easel_mm=_tenths(lens_to_easel_mm(focal, m)),
                lens_to_negative_mm=_tenths(lens_to_negative_mm(focal, m)),
            )
        )
    return found[0], found[1]


def _tenths(mm: Fraction) -> Decimal:
    return Decimal(round(mm * 10)) / 10


def corrections_of(
    recipe: Recipe, wanted: KeptPapers, before: papers.Paper, after: papers.Paper, notes: list[str]
) -> tuple[FilterStops, ...]:
    """Return the stops for each of a recipe's filters from one kept paper to another.

    Raises:
        Impossible: a tone cannot be matched, or the recipe has other lights than soft and hard.
    """
    with with_libraries():
        from controller.carry.other_paper import corrections
        from controller.paper.emulsions import mixture, thinnest
        from controller.paper.paper import set_up_factor
        from controller.paper.solver import OutOfReach

    lights = lights_of(recipe, before.setup)
    stand = stand_of(recipe)
    factors = []
    for paper in (before, after):
        factor, whole = set_up_factor(paper.setup, stand.magnification, stand.aperture)
        factors.append(factor)
        if not whole:
            notes.append(say("carry.setup-unknown", paper=paper.name))
    soft, hard = lights.soft / factors[0], lights.hard / factors[0]
    old = mixture(before)
    tones = [
        old.dmin + OVER_WHITE["first"] if wanted.light is None else wanted.light,
        old.dmin + OF_SCALE["last"] * old.net if wanted.dark is None else wanted.dark,
    ]
    for name, tone in zip(("light", "dark"), tones, strict=True):
        if not old.dmin < tone < old.dmax:
            words = say("paper.off-scale", dmin=f"{old.dmin:.2f}", dmax=f"{old.dmax:.2f}")
            raise Impossible(words, ("paper", name))
    light, dark = (float(each) for each in thinnest(old, soft, hard, tones))
    if light <= dark:
        raise Impossible(say("carry.tones-crossed"), ("paper", "light"))
    found = corrections(before, after, soft, hard, light, dark)
    if isinstance(found.answer, OutOfReach):
        notes.append(say("carry.nearest", why=found.answer.sentence))
    apart = math.log2(factors[1] / factors[0])
    stops = {"soft": found.soft_stops, "hard": found.hard_stops, None: None}
    named = [*(each.filter for each in recipe.light), *(work.filter for work in recipe.local)]
    named += [recipe.flash.filter] if recipe.flash is not None and recipe.flash.filter is not None else []
    return tuple(
        FilterStops(filter=name, stops=max(-6.0, min(6.0, each + apart)))
        for name in dict.fromkeys(named)
        if name != BOTH and (each := stops[which_light(recipe, before.setup, name)]) is not None
    )


def bases_sentence(carried: Carried) -> str:
    """Return the whole of it in one sentence: each base as it was and as it is."""
    pairs = zip(carried.before.light, carried.recipe.light, strict=True)
    bases = [
        say("carry.base", filter=new.filter, old=f"{float(old.seconds):.1f}", new=f"{float(new.seconds):.1f}")
        for old, new in pairs
    ]
    same = all(one.seconds == two.seconds for one, two in zip(carried.before.light, carried.recipe.light, strict=True))
    if same:
        return say("carry.same-bases")
    sentence = say("carry.bases", bases=", ".join(bases))
    return sentence[:1].upper() + sentence[1:]
