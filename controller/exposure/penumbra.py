"""The half-shadow of a tool held over the paper: how wide its edge blurs, and how much larger its shadow is.

A lens of opening d = f/N stands v = f(1 + m) over the easel. A tool at height a over the paper blurs, by similar
triangles, over d · a/(v − a), and its shadow is v/(v − a) times as large as itself. The lens is thin here, and its
opening that of its f-number. Pure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from controller.errors import Impossible
from controller.exposure.size import lens_to_easel_mm
from controller.words import say

DISC_SPREAD: Final = 0.25
"""Standard deviation of a blurred edge over its width: the lens's opening is an even disc, seen from the side."""


@dataclass(frozen=True, slots=True)
class Penumbra:
    """What a tool's edge is on the paper."""

    blur_mm: float
    """From where the tool's shadow is whole to where there is none."""
    larger: float
    """How many times as large as the tool its shadow is, 1 on the paper itself."""

    @property
    def spread_mm(self) -> float:
        """The standard deviation of the edge."""
        return DISC_SPREAD * self.blur_mm


def penumbra(
    height_mm: float | Fraction, focal_mm: float | Fraction, f_number: float | Fraction, magnification: float | Fraction
) -> Penumbra:
    """Return the half-shadow of a tool `height_mm` over the paper.

    Raises:
        Impossible: the tool would be at the lens, or over it.
    """
    away = float(lens_to_easel_mm(Fraction(focal_mm), Fraction(magnification)))
    height = float(height_mm)
    if not 0.0 <= height < away:
        raise Impossible(say("reckoning.tool-over-lens", height=f"{height:g}", away=math.floor(away)))
    opening = float(focal_mm) / float(f_number)
    return Penumbra(blur_mm=opening * height / (away - height), larger=away / (away - height))
