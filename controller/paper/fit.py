"""Fits a paper to its readings, all exposures together, and says where they do not agree with it.

Importing this module loads numpy and scipy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from pydantic import ValidationError

from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture
from controller.paper.paper import Box, Emulsion, Paper, Setup
from controller.paper.readings import Exposure, Readings, shown_seconds
from controller.paper.search import Found, Kind, samples, search_all
from controller.words import say

KINDS: Final = (
    Kind("logistic", 3, 0.15, 0.50, 0.5),
    Kind("logistic", 4, 0.60, 0.35, 0.7),
    Kind("normal", 3, 0.60, 0.50, 0.5),
    Kind("normal", 4, 0.60, 0.35, 0.7),
)
"""Three emulsions alike but for their speed, as makers tell it; or more, or unlike; with either shape of curve."""
FEWEST: Final = 4
RMS_HIGH: Final = 1.5
"""Residuals over so many times the readings' noise mean that the paper is not what the model takes it for."""
WORST_HIGH: Final = 4.5


@dataclass(frozen=True)
class Residual:
    """One reading against the fitted paper."""

    exposure: Exposure
    step: int
    tablet_density: float
    read: float
    modelled: float
    noise: float

    @property
    def off(self) -> float:
        """Read − modelled."""
        return self.read - self.modelled


def fit(readings: Readings, box: Box, *, version: int = 1, setup: Setup | None = None) -> Paper:
    """Return the paper that its readings make most probable.

    Raises:
        Impossible: there are too few readings or they are all alike; the sentence says what to print.
    """
    data = samples(readings.exposures)
    if len(data.print) < FEWEST:
        raise Impossible(say("paper.fit-few", steps=len(data.print), fewest=FEWEST))
    if data.print.max() - data.print.min() < 0.5:
        raise Impossible(say("paper.fit-flat"))
    found = search_all(data, KINDS)[0]
    try:
        return _paper(found, readings, box, version, setup or Setup())
    except ValidationError:
        # Readings of something else lead to whites like greys, or to steps like cliffs.
        raise Impossible(say("paper.fit-no-paper")) from None


def _paper(found: Found, readings: Readings, box: Box, version: int, setup: Setup) -> Paper:
    return Paper(
        name=readings.paper,
        version=version,
        box=box,
        setup=setup,
        shape=found.mixture.shape,
        contrast=_kept(found.mixture.contrast),
        shoulder=_kept(found.mixture.shoulder),
        dmin=_kept(found.mixture.dmin),
        dmax=_kept(found.mixture.dmax),
        emulsions=_emulsions(found),
        rms_density=_kept(found.rms),
        worst_density=_kept(found.worst),
        doubt=tuple(tuple(float(f"{value:.5g}") for value in row) for row in found.doubt),
        readings=readings,
    )


def residuals(paper: Paper) -> tuple[Residual, ...]:
    """Return each reading of a kept paper against what the paper as fitted predicts; none without readings."""
    if paper.readings is None:
        return ()
    # Later check strips move the speeds; the readings are of the box that was fitted.
    mix = mixture(paper.model_copy(update={"speeds": ()}))
    data = samples(paper.readings.exposures)
    modelled = densities(mix, data.soft, data.hard, data.tablet)
    every = [(exposure, reading) for exposure in paper.readings.exposures for reading in exposure.readings]
    return tuple(
        Residual(exposure, reading.step, reading.tablet_density, reading.print_density, float(drawn), float(noise))
        for (exposure, reading), drawn, noise in zip(every, modelled, data.noise, strict=True)
    )


def high_residuals(paper: Paper) -> str | None:
    """Say that the readings lie further from the fitted paper than readings do, and where most; else None."""
    every = residuals(paper)
    if not every:
        return None
    usual = float(np.sqrt(np.mean([each.noise**2 for each in every])))
    worst = max(every, key=lambda each: abs(each.off) / each.noise)
    said = {
        "step": worst.step,
        "light": shown_seconds(worst.exposure),
        "read": f"{worst.read:.2f}",
        "modelled": f"{worst.modelled:.2f}",
    }
    if paper.rms_density > RMS_HIGH * usual:
        return say("paper.residuals-high", rms=f"{paper.rms_density:.2f}", **said)
    return say("paper.residual-step", **said) if abs(worst.off) > WORST_HIGH * worst.noise else None


def _emulsions(found: Found) -> tuple[Emulsion, ...]:
    mix = found.mixture
    return tuple(
        Emulsion(weight=_kept(weight), soft_speed=_kept(soft), hard_speed=_kept(hard))
        for weight, soft, hard in zip(mix.weights, mix.soft, mix.hard, strict=True)
    )


def _kept(value: float) -> float:
    """Return a figure as it is kept: to nine places, far below any doubt, so that the file stays readable."""
    return round(float(value), 9)
