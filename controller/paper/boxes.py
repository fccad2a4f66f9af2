"""Another box of the same paper: its speed from one check strip; contrast and densities stay as they were read.

Importing this module loads numpy and scipy.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import least_squares

from controller.errors import Impossible
from controller.paper.emulsions import Mixture, densities, gradient, mixture
from controller.paper.paper import Box, Paper, SpeedChange
from controller.paper.search import Samples, samples
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from controller.paper.readings import Exposure

    Array = NDArray[np.float64]

LOG_STOP: Final = float(np.log10(2.0))
USUAL_TOGETHER: Final = 0.3
USUAL_APART: Final = 0.02
"""Decades: how far two boxes' speeds usually differ, and how far that differs between soft and hard (from memory)."""
MOST_STOPS: Final = 6.0
SURE_ENOUGH: Final = 0.05
"""Decades: a sixth of a stop; a strip that leaves the speed less sure than that tells nothing."""


def respeed(paper: Paper, check: Sequence[Exposure], box: Box) -> Paper:
    """Return a paper's next version, its speed taken from one check strip (or more) of another box.

    One strip moves soft and hard alike, but for what it tells of either. Strips through each alone move each.

    Raises:
        Impossible: the strip has nothing between white and black, so that it tells no speed, or is far off.
    """
    mix = mixture(paper)
    data = samples(check)
    found = least_squares(
        lambda at: _misses(mix, data, at),
        np.full(2, _first_guess(mix, data)),
        jac=lambda at: _slopes(mix, data, at),
        method="lm",
    )
    told = found.jac[: len(data.print)].sum(axis=1)
    if float(np.linalg.norm(told)) < 1.0 / SURE_ENOUGH:
        raise Impossible(say("paper.respeed-flat"))
    soft, hard = (found.x / LOG_STOP).tolist()
    return changed_speed(paper, box, soft, hard)


def respeed_from_pick(paper: Paper, expected_seconds: float, picked_seconds: float, box: Box) -> Paper:
    """Return a paper's next version, where a check strip's pick was not the time expected: both lights move alike.

    A stop of time is one of light, or on a paper that fails in long light p of one.

    Raises:
        Impossible: the pick is more than six stops off, which no box is.
    """
    stops = float(np.log2(expected_seconds / picked_seconds)) * paper.exponent
    return changed_speed(paper, box, stops, stops)


def changed_speed(paper: Paper, box: Box, soft_stops: float, hard_stops: float) -> Paper:
    """Return a paper's next version, so many stops faster for `box` than it was.

    Raises:
        Impossible: either is more than six stops, which no box is.
    """
    if max(abs(soft_stops), abs(hard_stops)) > MOST_STOPS:
        raise Impossible(say("paper.respeed-far", most=f"{MOST_STOPS:g}"))
    change = SpeedChange(box=box, soft_stops=round(soft_stops, 6), hard_stops=round(hard_stops, 6))
    return paper.model_copy(update={"version": paper.version + 1, "box": box, "speeds": (*paper.speeds, change)})


def _shifted(mix: Mixture, at: Array) -> Mixture:
    return replace(mix, soft=mix.soft + at[0], hard=mix.hard + at[1])


def _first_guess(mix: Mixture, data: Samples) -> float:
    """Return the common shift, of a coarse row of them, that comes nearest: far off, slopes lead nowhere."""
    shifts = np.linspace(-2.0, 2.0, 81)
    costs = [float(np.sum(_misses(mix, data, np.full(2, shift)) ** 2)) for shift in shifts]
    return float(shifts[int(np.argmin(costs))])


def _misses(mix: Mixture, data: Samples, at: Array) -> Array:
    drawn = densities(_shifted(mix, at), data.soft, data.hard, data.tablet)
    usual = [(at[0] + at[1]) / 2.0 / USUAL_TOGETHER, (at[0] - at[1]) / USUAL_APART]
    return np.concatenate([(drawn - data.print) / data.noise, usual])


def _slopes(mix: Mixture, data: Samples, at: Array) -> Array:
    n = len(mix.weights)
    slopes = gradient(_shifted(mix, at), data.soft, data.hard, data.tablet)
    by_light = np.stack([slopes[:, 4 + n : 4 + 2 * n].sum(axis=1), slopes[:, 4 + 2 * n :].sum(axis=1)], axis=1)
    usual = np.array([[0.5, 0.5], [1.0, -1.0]]) / [[USUAL_TOGETHER], [USUAL_APART]]
    return np.concatenate([by_light / data.noise[:, None], usual])
