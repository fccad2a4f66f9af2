"""The figures that a paper is drawn from: its curves with the negative's tones on them, and what soft and hard reach.

Values only; a page draws them. Importing this module loads neither numpy nor scipy, reckoning does.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

from controller.model import Frozen
from controller.paper.tones import tone_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.paper.flash import Flash
    from controller.paper.paper import Paper
    from controller.paper.solver import Answer, Tone

LOG_STOP: Final = math.log10(2.0)
STOPS_ACROSS: Final = 10
"""Stops of light across: the whole of a soft curve."""
POINTS: Final = 121
MOST_FLAGS: Final = 12
LIGHT_ACROSS: Final = 0.9
"""Density of the lightest tones that anyone aims a highlight at."""


class NamedTone(Frozen):
    """A tone of the negative, as the printer calls it; moved by a dodge (−) or a burn (+) of so many stops."""

    name: str
    negative_density: float
    moved_stops: float = 0.0


class Flag(Frozen):
    """A tone on the curve of both lights: where across in stops, what it prints, and what a printer calls that."""

    name: str
    stops: float
    moved_stops: float
    density: float
    words: str


class Curve(Frozen):
    """Print densities through one light, at even stops from the least light of the picture to the most."""

    light: Literal["both", "soft", "hard"]
    densities: tuple[float, ...]


class Curves(Frozen):
    """A paper's characteristic curves: across light in stops, up print density; twelve tones at the most."""

    paper: str
    low_stops: float
    most_density: float
    curves: tuple[Curve, ...]
    flags: tuple[Flag, ...]

    @property
    def high_stops(self) -> float:
        """The most light of the picture."""
        return self.low_stops + STOPS_ACROSS


class Reach(Frozen):
    """What soft and hard can do with a light and a dark tone: for each density of the light one, those of the dark one.

    `wanted` and `comes` are the two tones' densities; `refused` is why the wanted ones cannot be had, or empty.
    """

    paper: str
    right: float
    most_density: float
    light: tuple[float, ...]
    all_soft: tuple[float, ...]
    all_hard: tuple[float, ...]
    wanted: tuple[float, float]
    comes: tuple[float, float]
    soft_seconds: float
    hard_seconds: float
    refused: str = ""


def curves_of(
    paper: Paper, soft_seconds: float, hard_seconds: float, tones: Sequence[NamedTone], flash: Flash | None = None
) -> Curves:
    """Return the curves of soft, hard and both, each over the flash, and the tones on the curve of both."""
    import numpy as np

    from controller.paper.emulsions import densities, mixture, thinnest

    mix, tones = mixture(paper), tones[:MOST_FLAGS]
    negatives = [tone.negative_density for tone in tones]
    printed = densities(mix, soft_seconds, hard_seconds, negatives, flash).tolist() if tones else []
    half = (mix.dmin + mix.dmax) / 2.0
    low = -float(thinnest(mix, soft_seconds, hard_seconds, half)) / LOG_STOP - STOPS_ACROSS / 2
    lights: list[tuple[Literal["both", "soft", "hard"], float, float]] = [("both", soft_seconds, hard_seconds)]
    if soft_seconds and hard_seconds:
        lights += [("soft", soft_seconds, 0.0), ("hard", 0.0, hard_seconds)]
    stops = np.linspace(low, low + STOPS_ACROSS, POINTS)
    return Curves(
        paper=paper.name,
        low_stops=low,
        most_density=_ceiling(mix.dmax),
        curves=tuple(
            Curve(light=name, densities=tuple(densities(mix, soft, hard, -stops * LOG_STOP, flash).tolist()))
            for name, soft, hard in lights
        ),
        flags=tuple(
            Flag(
                name=tone.name,
                stops=-tone.negative_density / LOG_STOP,
                moved_stops=tone.moved_stops,
                density=density,
                words=tone_words(density, mix.dmin, mix.dmax),
            )
            for tone, density in zip(tones, printed, strict=True)
        ),
    )


def reach_of(
    paper: Paper, light: Tone, dark: Tone, answer: Answer, factor: float = 1.0, flash: Flash | None = None
) -> Reach:
    """Return what can be had of two tones, what was wanted, and what comes; its seconds are the paper's · `factor`."""
    from controller.paper.emulsions import mixture
    from controller.paper.solver import Reached, reach

    pair = answer.pair if isinstance(answer, Reached) else answer.nearest
    # Light tones alone are looked at closely: past them soft and hard come together.
    right = _ceiling(max(LIGHT_ACROSS, light.print_density))
    lights, softest, hardest = reach(paper, light.negative_density, dark.negative_density, flash=flash)
    shown = lights <= right
    return Reach(
        paper=paper.name,
        right=right,
        most_density=_ceiling(max(mixture(paper).dmax, dark.print_density)),
        light=tuple(lights[shown].tolist()),
        all_soft=tuple(softest[shown].tolist()),
        all_hard=tuple(hardest[shown].tolist()),
        wanted=(light.print_density, dark.print_density),
        comes=pair.predicted,
        soft_seconds=pair.soft_seconds * factor,
        hard_seconds=pair.hard_seconds * factor,
        refused="" if isinstance(answer, Reached) else answer.sentence,
    )


def _ceiling(density: float) -> float:
    """Return the density at the top of a picture: the half above, with room for a flag."""
    return math.ceil((density + 0.1) * 2.0) / 2.0
