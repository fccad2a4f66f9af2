"""Spots measured at the easel: each a level of light against the paper's reference, which is a density.

D = log10(reference / spot) is an *effective* density: size, aperture, the Callier effect, flare, bulb and today's mains
are in it, since they weaken the spot's light as the negative does. So no size or aperture factor is applied (derived:
what a paper gets is light times time, and the reference is the light that its curve was read with).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Final

from controller.errors import Impossible
from controller.exposure.stops import shown
from controller.words import say

MOST_SPOTS: Final = 12
LEAST_DENSITY: Final = -2.0
MOST_DENSITY: Final = 6.0
"""A lens opened by six stops since the reference, and blacker than any negative: beyond, something else is wrong."""
LONGEST_NAME: Final = 24
NAMES: Final[tuple[str, ...]] = ("highlight", "shadow", *ascii_uppercase)


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot's name, its level of light in the reference's unit, and the print density that is wished there."""

    name: str
    level: float
    wanted: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """A spot as a tone of the negative: its effective density, and what is wished there."""

    name: str
    density: float
    wanted: float | None = None


def spot_name(index: int) -> str:
    """Return what the spot of this place, from 0, is called: highlight, shadow, then A, B …"""
    return NAMES[index]


def letter_of(name: str) -> str:
    """Return the one letter that a spot is marked with: a further one's own, a small one of the first two."""
    return name[:1]


def density(reference: float, level: float) -> float:
    """Return the effective density of a spot: log10 of the reference's level over its own, both over 0."""
    return math.log10(reference / level)


def measured(reference: float, spots: Sequence[Spot], offset: float = 0.0) -> tuple[Measured, ...]:
    """Return spots as tones of the negative, `offset` being what the evening adds to each density.

    Raises:
        Impossible: none or too many, a level that is none, one name twice, a density that no negative has, or a shadow
            that is denser than the highlight; the sentence names the spot and what to do.
    """
    if not spots:
        raise Impossible(say("easel.no-spots"))
    if len(spots) > MOST_SPOTS:
        raise Impossible(say("easel.many-spots", most=MOST_SPOTS))
    if not _light(reference):
        raise Impossible(say("easel.no-reference-light"))
    names = [spot.name for spot in spots]
    for name in names:
        if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
            raise Impossible(say("easel.name", name=shown(name), most=LONGEST_NAME))
        if names.count(name) > 1:
            raise Impossible(say("easel.name-twice", name=name))
    tones = tuple(_measured(reference, spot, offset) for spot in spots)
    if len(tones) > 1 and tones[0].density <= tones[1].density:
        light, dark = tones[:2]
        raise Impossible(
            say(
                "easel.crossed",
                light=light.name,
                dark=dark.name,
                light_density=f"{light.density:.2f}",
                dark_density=f"{dark.density:.2f}",
            )
        )
    return tones


def _measured(reference: float, spot: Spot, offset: float) -> Measured:
    if not _light(spot.level):
        raise Impossible(say("easel.no-light", name=spot.name))
    found = density(reference, spot.level) + offset
    if not LEAST_DENSITY <= found <= MOST_DENSITY:
        raise Impossible(say("easel.density", name=spot.name, density=f"{found:.2f}"))
    return Measured(spot.name, found, spot.wanted)


def _light(level: float) -> bool:
    return math.isfinite(level) and level > 0.0
