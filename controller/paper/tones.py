"""The kinds of number that papers and readings hold, each with its limits; numbers only, never text."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from controller.exposure.stops import shown
from controller.words import say

__all__ = ["Density", "LightSeconds", "PrintDensity", "Seconds", "Stops", "shown"]

Density = Annotated[float, Field(strict=True, ge=0.0, le=6.0)]
"""Of a negative or tablet."""
PrintDensity = Annotated[float, Field(strict=True, ge=-0.05, le=4.0)]
"""As read; a densitometer set to zero on paper white may read a little under it."""
LightSeconds = Annotated[float, Field(strict=True, ge=0.0, le=3600.0)]
"""Through one filter; none is none."""
Seconds = Annotated[float, Field(strict=True, gt=0.0, le=3600.0)]
Stops = Annotated[float, Field(strict=True, ge=-6.0, le=6.0)]


TonePlace = Literal["first", "skin", "middle", "dark", "last", "black"]
"""A tone by its name, for whoever has no densitometer."""


OVER_WHITE: Final[dict[str, float]] = {"first": 0.08, "skin": 0.25, "middle": 0.70}
"""Density over paper white that stands for a light tone's name (common practice)."""


OF_SCALE: Final[dict[str, float]] = {"dark": 0.75, "last": 0.92, "black": 0.97}
"""The same of a dark tone, as a part of the way from white to black."""


def density_of(tone: TonePlace | float, dmin: float, dmax: float) -> float:
    """Return the print density that a tone's name stands for, between a paper's white and black."""
    if not isinstance(tone, str):
        return float(tone)
    return dmin + OVER_WHITE[tone] if tone in OVER_WHITE else dmin + OF_SCALE[tone] * (dmax - dmin)


_UNDER_OVER_WHITE: Final = ((0.04, "paper.tone-white"), (0.15, "paper.tone-first"), (0.45, "paper.tone-skin"))
"""Density over base + fog under which a tone goes by each name (common practice)."""
_UNDER_OF_SCALE: Final = ((0.60, "paper.tone-middle"), (0.88, "paper.tone-dark"), (0.96, "paper.tone-last"))
"""The same, of the whole scale from white to black."""


def tone_words(density: float, dmin: float, dmax: float) -> str:
    """Return what a print density is called on a paper with this white and black."""
    over = density - dmin
    for most, key in _UNDER_OVER_WHITE:
        if over < most:
            return say(key)
    for share, key in _UNDER_OF_SCALE:
        if over < share * (dmax - dmin):
            return say(key)
    return say("paper.tone-black")
