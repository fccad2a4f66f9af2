"""One tone through one light, without numpy: the seconds that print it as it is wished."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

from controller.errors import Impossible
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

_NORMAL_SCALE: Final = 1.702
"""As `controller.paper.emulsions`, whose formula this is in plain numbers; a test holds the two equal."""
_HALVINGS: Final = 60
_DECADES: Final = 12.0


def same_print_seconds(known_seconds: float, known_density: float, density: float) -> float:
    """Return the seconds that print a tone of `density` as `known_seconds` print one of `known_density`.

    Source: *Photography: Theory and Practice* §511: light times time reaching the paper is what counts, so the time
    goes as 10 to the difference of densities (12 s under 1.5 is 30 s under 1.9, a ratio of 2.5).
    """
    return float(known_seconds * 10.0 ** (density - known_density))


def seconds_for(paper: Paper, light: Literal["soft", "hard"], density: float, wanted: float) -> float:
    """Return the seconds of one light alone that print a tone of the negative as `wanted`.

    Raises:
        Impossible: the paper has no such print density.
    """
    if not paper.dmin < wanted < paper.dmax:
        raise Impossible(say("paper.off-scale", dmin=f"{paper.dmin:.2f}", dmax=f"{paper.dmax:.2f}"))
    low, high = -_DECADES, _DECADES
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if printed(paper, light, 10.0**middle, density) < wanted:
            low = middle
        else:
            high = middle
    return float(10.0 ** ((low + high) / 2.0))


def printed(paper: Paper, light: Literal["soft", "hard"], seconds: float, density: float) -> float:
    """Return the print density of a tone of the negative under one light alone."""
    shown = 0.0
    lasted = paper.read_seconds[0 if light == "soft" else 1]
    worth = seconds if paper.exponent == 1.0 else lasted * (seconds / lasted) ** paper.exponent
    for each in paper.emulsions:
        speed, stops = (
            (each.soft_speed, sum(change.soft_stops for change in paper.speeds))
            if light == "soft"
            else (each.hard_speed, sum(change.hard_stops for change in paper.speeds))
        )
        z = paper.contrast * (math.log10(worth) + speed + stops * math.log10(2.0) - density)
        shown += each.weight * _share(paper, z)
    return paper.dmin + (paper.dmax - paper.dmin) * shown


def _share(paper: Paper, z: float) -> float:
    if paper.shape == "logistic":
        plain = 1.0 / (1.0 + math.exp(-z)) if z > -700.0 else 0.0
    else:
        plain = 0.5 * math.erfc(-z / _NORMAL_SCALE / math.sqrt(2.0))
    return float(plain**paper.shoulder)
