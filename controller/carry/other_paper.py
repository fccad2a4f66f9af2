"""From one kept paper to another: the separate stops that soft and hard need for the print to look the same.

Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.carry.changes import FilterStops
from controller.contrast.recipe_lights import lights_of, stand_of, which_light
from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.flash import MOST_ALONE, Flash, alone, most_seconds
from controller.paper.paper import seconds_factor
from controller.paper.solver import LONGEST_SECONDS, Answer, OutOfReach, Reached, Tone, solved
from controller.paper.tones import OF_SCALE, OVER_WHITE
from controller.words import say

if TYPE_CHECKING:
    from controller.carry.wanted import KeptPapers
    from controller.paper.paper import Paper
    from controller.recipe.recipe import Recipe

LOG_STOP = float(np.log10(2.0))
LEAST_ALONE: Final = 0.002
"""Print density: what a flash prints less than by itself says nothing of how long it should be."""


@dataclass(frozen=True)
class Corrections:
    """How much more time soft and hard need, in stops; None for a light the recipe does not use.

    `answer` says what the new times print, or that the tones cannot be had on the new paper and what is nearest.
    """

    soft_stops: float | None
    hard_stops: float | None
    answer: Answer | None


@dataclass(frozen=True)
class Flashes:
    """A recipe's flash, in the seconds of either paper's readings, and how much more light it needs, in stops."""

    before: Flash
    after: Flash
    stops: float


def flashes_on(recipe: Recipe, before: Paper, after: Paper) -> Flashes | None:
    """Return the flash that prints by itself over white on the new paper what the recipe's does on the old one.

    Through an opal, which passes nobody knows how much, it counts as just under what a paper shows, as everywhere.
    None where there is none to reckon with: through another filter, or a grey of its own.
    """
    asked, stand = lights_of(recipe, before.setup).flash, stand_of(recipe)
    if asked is None:
        return None
    name = asked.filter
    factors = [seconds_factor(paper, stand.magnification, stand.aperture)[0] for paper in (before, after)]
    if asked.opal:
        old = Flash(seconds=most_seconds(before, name, MOST_ALONE / 2.0), filter=name)
    else:
        old = Flash(seconds=float(asked.seconds) / factors[0], filter=name)
    printed = alone(before, old)
    if not LEAST_ALONE <= printed <= MOST_ALONE:
        return None
    new = Flash(seconds=most_seconds(after, name, printed), filter=name)
    more = float(np.log2(new.seconds * factors[1] / (old.seconds * factors[0])))
    return Flashes(old, new, max(-6.0, min(6.0, more * after.exponent)))


def corrections(
    before: Paper,
    after: Paper,
    soft_seconds: float,
    hard_seconds: float,
    light: float,
    dark: float,
    flashes: Flashes | None = None,
) -> Corrections:
    """Return the stops from one paper to another for a print with these seconds.

    `light` and `dark` are densities of the negative: the light tone keeps its density over paper white, the dark
    one its share of the way to full black, since blacks differ from paper to paper; both over the flash. With one
    light alone there is nothing to match contrast with, and the light tone is kept.

    Raises:
        Impossible: a tone prints as bare white or full black, which fixes nothing; the densities are crossed; or
            the new paper needs none of a light that the old one used.
    """
    old, new = mixture(before), mixture(after)
    under, over = (None, None) if flashes is None else (flashes.before, flashes.after)
    prints = densities(old, soft_seconds, hard_seconds, [light, dark], under)
    wanted_light = float(new.dmin + prints[0] - old.dmin)
    if soft_seconds == 0.0 or hard_seconds == 0.0:
        need = float(thinnest(new, soft_seconds, hard_seconds, wanted_light, over))
        if not np.isfinite(need):
            raise Impossible(say("paper.swap-no-tone"))
        stops = (light - need) / LOG_STOP / new.exponent
        return Corrections(stops if soft_seconds else None, stops if hard_seconds else None, None)
    wanted_dark = float(new.dmin + (prints[1] - old.dmin) / old.net * new.net)
    answer = solved(after, Tone(light, wanted_light), Tone(dark, wanted_dark), LONGEST_SECONDS, over)
    pair = answer.pair if isinstance(answer, Reached) else answer.nearest
    if min(pair.soft_seconds / soft_seconds, pair.hard_seconds / hard_seconds) < 1e-3:
        raise Impossible(say("paper.swap-one-light"))
    return Corrections(
        float(np.log2(pair.soft_seconds / soft_seconds)), float(np.log2(pair.hard_seconds / hard_seconds)), answer
    )


def corrections_of(
    recipe: Recipe,
    wanted: KeptPapers,
    before: Paper,
    after: Paper,
    notes: list[str],
    flashes: Flashes | None = None,
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
    under = None if flashes is None else flashes.before
    light, dark = (float(each) for each in thinnest(old, soft, hard, tones, under))
    if not light > dark:  # or a tone that the flash alone is darker than
        raise Impossible(say("carry.tones-crossed"), ("paper", "light"))
    found = corrections(before, after, soft, hard, light, dark, flashes)
    if isinstance(found.answer, OutOfReach):
        notes.append(say("carry.nearest", why=found.answer.sentence))
    apart = float(np.log2(factors[1] / factors[0]))
    stops = {"soft": found.soft_stops, "hard": found.hard_stops, None: None}
    made = []
    for name in recipe.filter_names():
        more = stops[which_light(recipe, before.setup, name)]
        if more is not None:
            made.append(FilterStops(filter=name, stops=max(-6.0, min(6.0, (more + apart) * after.exponent))))
        elif flashes is not None:  # through which only the flash goes
            made.append(FilterStops(filter=name, stops=flashes.stops))
    return tuple(made)
