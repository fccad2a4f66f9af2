"""From one kept paper to another: the separate stops that soft and hard need for the print to look the same.

Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from controller.carry.changes import FilterStops
from controller.contrast.recipe_lights import lights_of, stand_of, which_light
from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.paper import seconds_factor
from controller.paper.solver import Answer, OutOfReach, Reached, Tone, soft_hard
from controller.paper.tones import OF_SCALE, OVER_WHITE
from controller.words import say

if TYPE_CHECKING:
    from controller.carry.wanted import KeptPapers
    from controller.paper.paper import Paper
    from controller.recipe.recipe import Recipe

LOG_STOP = float(np.log10(2.0))


@dataclass(frozen=True)
class Corrections:
    """How much more time soft and hard need, in stops; None for a light the recipe does not use.

    `answer` says what the new times print, or that the tones cannot be had on the new paper and what is nearest.
    """

    soft_stops: float | None
    hard_stops: float | None
    answer: Answer | None


def corrections(
    before: Paper, after: Paper, soft_seconds: float, hard_seconds: float, light: float, dark: float
) -> Corrections:
    """Return the stops from one paper to another for a print with these seconds.

    `light` and `dark` are densities of the negative: the light tone keeps its density over paper white, the dark
    one its share of the way to full black, since blacks differ from paper to paper. With one light alone there is
    nothing to match contrast with, and the light tone is kept.

    Raises:
        Impossible: a tone prints as bare white or full black, which fixes nothing; the densities are crossed; or
            the new paper needs none of a light that the old one used.
    """
    old, new = mixture(before), mixture(after)
    prints = densities(old, soft_seconds, hard_seconds, [light, dark])
    wanted_light = float(new.dmin + prints[0] - old.dmin)
    if soft_seconds == 0.0 or hard_seconds == 0.0:
        need = float(thinnest(new, soft_seconds, hard_seconds, wanted_light))
        if not np.isfinite(need):
            raise Impossible(say("paper.swap-no-tone"))
        stops = (light - need) / LOG_STOP / new.exponent
        return Corrections(stops if soft_seconds else None, stops if hard_seconds else None, None)
    wanted_dark = float(new.dmin + (prints[1] - old.dmin) / old.net * new.net)
    answer = soft_hard(after, Tone(light, wanted_light), Tone(dark, wanted_dark))
    pair = answer.pair if isinstance(answer, Reached) else answer.nearest
    if min(pair.soft_seconds / soft_seconds, pair.hard_seconds / hard_seconds) < 1e-3:
        raise Impossible(say("paper.swap-one-light"))
    return Corrections(
        float(np.log2(pair.soft_seconds / soft_seconds)), float(np.log2(pair.hard_seconds / hard_seconds)), answer
    )


def corrections_of(
    recipe: Recipe, wanted: KeptPapers, before: Paper, after: Paper, notes: list[str]
) -> tuple[FilterStops, ...]:
    """Return the stops for each of a recipe's filters from one kept paper to another.

    They are of light, as a printer's own are: `carry` makes time of them by the new paper's exponent.

    Raises:
        Impossible: a tone cannot be matched, or the recipe has other lights than soft and hard.
    """
    lights = lights_of(recipe, before.setup)
    stand = stand_of(recipe)
    factors = []
    for paper in (before, after):
        factor, whole = seconds_factor(paper, stand.magnification, stand.aperture)
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
    apart = float(np.log2(factors[1] / factors[0]))
    stops = {"soft": found.soft_stops, "hard": found.hard_stops, None: None}
    return tuple(
        FilterStops(filter=name, stops=max(-6.0, min(6.0, (each + apart) * after.exponent)))
        for name in recipe.filter_names()
        if (each := stops[which_light(recipe, before.setup, name)]) is not None
    )
