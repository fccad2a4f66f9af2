"""Readings by eye alone: the first step told from paper white, the first that merges with black.

Between them lies the paper's range: R = 100 · (tablet density at the one − at the other); with the usual tablet
15 times the steps (ISO 6846 by counting steps; that the eye's first tone is 0.04 over white and its black nine
tenths of the scale is common practice). Both steps are found from the same side, so half a step of doubt
at either end cancels in the mean and leaves R ± 6 with steps of 0.15 (derived).
"""

from __future__ import annotations

import math
from typing import Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.iso import HIGH_SHARE, LOW
from controller.paper.readings import MOST_STEPS, Exposure, Reading, Tablet
from controller.paper.tones import LightSeconds
from controller.words import say

USUAL_DMIN: Final = 0.06
USUAL_DMAX: Final[dict[str, float]] = {"RC": 2.05, "FB": 2.1, "matt": 1.65}
"""Dry prints without a densitometer (common practice); they set the scale, not the range."""
STEP_SPREAD: Final = 1.0 / math.sqrt(12.0)
"""Of a place known to a step."""
TYPICAL_SLOPE: Final = 0.35, 1.6
"""Density per decade at the low and at the high point of a middling paper, to turn doubt across into doubt up."""

Surface = Literal["RC", "FB", "matt"]


class EyePicks(Frozen):
    """Two steps of one print of a tablet, picked by eye in white light, the print dry."""

    soft_seconds: LightSeconds
    hard_seconds: LightSeconds
    first_told: int = Field(ge=1, le=MOST_STEPS)
    """Going from the paper-white end: the first step told from white."""
    first_black: int = Field(ge=1, le=MOST_STEPS)
    """Going on: the first step that merges with black."""


def iso_range(picks: EyePicks, tablet: Tablet) -> tuple[float, float]:
    """Return R, exact, and its standard deviation.

    Raises:
        Impossible: the steps are not on the tablet, or the wrong way round; the sentence says what to look at.
    """
    told, black = _densities(picks, tablet)
    return 100.0 * (told - black), 100.0 * tablet.spacing * STEP_SPREAD * math.sqrt(2.0)


def exposure(picks: EyePicks, tablet: Tablet, surface: Surface = "RC") -> Exposure:
    """Return the two picks as readings that a paper can be fitted to, each with its doubt.

    Raises:
        Impossible: as `iso_range`.
    """
    told, black = _densities(picks, tablet)
    net = USUAL_DMAX[surface] - USUAL_DMIN
    doubt = tablet.spacing * STEP_SPREAD
    return Exposure(
        soft_seconds=picks.soft_seconds,
        hard_seconds=picks.hard_seconds,
        how="eye",
        noise_density=0.05,
        readings=(
            Reading(
                step=picks.first_black,
                tablet_density=black,
                print_density=round(USUAL_DMIN + HIGH_SHARE * net, 3),
                noise_density=round(TYPICAL_SLOPE[1] * doubt, 4),
            ),
            Reading(
                step=picks.first_told,
                tablet_density=told,
                print_density=round(USUAL_DMIN + LOW, 3),
                noise_density=round(TYPICAL_SLOPE[0] * doubt, 4),
            ),
        ),
    )


def _densities(picks: EyePicks, tablet: Tablet) -> tuple[float, float]:
    """Return the tablet densities where white and black begin: half a step past the steps picked."""
    if picks.first_told > tablet.steps or picks.first_black > tablet.steps:
        step = max(picks.first_told, picks.first_black)
        raise Impossible(say("paper.eye-no-step", step=step, steps=tablet.steps))
    if picks.first_told <= picks.first_black:
        raise Impossible(say("paper.eye-order", told=picks.first_told, black=picks.first_black))
    if picks.first_told == tablet.steps:
        raise Impossible(say("paper.eye-no-white", step=picks.first_told))
    if picks.first_black == 1:
        raise Impossible(say("paper.eye-no-black"))
    return tablet.density(picks.first_told + 0.5), tablet.density(picks.first_black + 0.5)
