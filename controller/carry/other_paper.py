"""From one kept paper to another: the separate stops that soft and hard need for the print to look the same.

Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.solver import Answer, Reached, Tone, soft_hard
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

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
        stops = (light - need) / LOG_STOP
        return Corrections(stops if soft_seconds else None, stops if hard_seconds else None, None)
    wanted_dark = float(new.dmin + (prints[1] - old.dmin) / old.net * new.net)
    answer = soft_hard(after, Tone(light, wanted_light), Tone(dark, wanted_dark))
    pair = answer.pair if isinstance(answer, Reached) else answer.nearest
    if min(pair.soft_seconds / soft_seconds, pair.hard_seconds / hard_seconds) < 1e-3:
        raise Impossible(say("paper.swap-one-light"))
    return Corrections(
        float(np.log2(pair.soft_seconds / soft_seconds)), float(np.log2(pair.hard_seconds / hard_seconds)), answer
    )
