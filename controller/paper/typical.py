"""A typical paper, which stands in until the printer's own has been read; whatever comes of it is called typical.

It is invented, and no maker's: the middle of a family of three emulsions of equal weight and contrast that differ in
green sensitivity only, soft light mostly green and hard light nearly all blue (the kind of mixture a maker's
contrast-control sheet describes, second-hand). Only how soft and hard stand to each other counts: a brighter lamp or
a slower paper moves both alike, and the tones with them.
"""

from __future__ import annotations

import math
from datetime import date
from functools import cache
from typing import Final

from controller.paper.paper import Box, Emulsion, Paper
from controller.words import say

GREENS: Final = (1.0, 0.30, 0.09)
"""How sensitive each emulsion is to green light, against the first."""
DMIN: Final = 0.06
DMAX: Final = 2.08
_CONTRAST: Final = 10.0
_SOFT_BLUE, _SOFT_GREEN = 0.013, 1.05
_HARD_BLUE, _HARD_GREEN = 0.16, 0.001
_MADE: Final = date(2026, 1, 1)


@cache
def typical() -> Paper:
    """Return the paper."""
    return Paper(
        name=say("paper.typical"),
        box=Box(dated=_MADE),
        shape="logistic",
        contrast=_CONTRAST,
        shoulder=1.0,
        dmin=DMIN,
        dmax=DMAX,
        emulsions=tuple(
            Emulsion(
                weight=1.0 / len(GREENS),
                soft_speed=math.log10(_SOFT_BLUE + _SOFT_GREEN * green),
                hard_speed=math.log10(_HARD_BLUE + _HARD_GREEN * green),
            )
            for green in GREENS
        ),
        rms_density=0.0,
        worst_density=0.0,
    )
