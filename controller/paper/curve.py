"""The characteristic curve of one exposure: monotone, with its uncertainty, through noisy readings.

Where a mixture of emulsions fits the readings (nearly always) the curve is that mixture, which reads through
noise and between steps far better than any thread through the points. Where it does not fit, the curve is a
monotone thread (PCHIP) through the readings after their rises have been levelled.

The scale across is tablet density: light falls, and print density with it, as it grows. Importing this module
loads numpy and scipy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import brentq, isotonic_regression

from controller.errors import Impossible
from controller.paper.emulsions import densities, gradient, thinnest
from controller.paper.readings import Exposure, shown_seconds
from controller.paper.search import Found, Kind, Samples, search_all
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from scipy.interpolate import PchipInterpolator

    Array = NDArray[np.float64]

KINDS: Final = (
    Kind("logistic", 1, 0.1, 0.35, 1.0, 0.5),
    Kind("normal", 1, 0.1, 0.35, 1.0, 0.5),
    Kind("logistic", 3, 0.6, 0.35, 1.0, 0.5),
    Kind("normal", 3, 0.6, 0.35, 1.0, 0.5),
)
FEWEST: Final = 5
"""Readings under which no curve is drawn."""
LEAST_SCALE: Final = 0.5
"""A print with less between its lightest and darkest step has no curve worth the name."""


@dataclass(frozen=True)
class Mixed:
    """A curve that is a mixture of emulsions in one light; `rivals` are the mixtures of other kinds."""

    found: Found
    rivals: tuple[Found, ...] = ()

    @property
    def dmin(self) -> float:
        """Base + fog, as fitted."""
        return self.found.mixture.dmin

    @property
    def dmax(self) -> float:
        """The most density, as fitted."""
        return self.found.mixture.dmax

    def densities(self, tablet: ArrayLike) -> Array:
        """Return print densities under tablet densities."""
        return densities(self.found.mixture, 1.0, 0.0, tablet)

    def tablet(self, density: float) -> float:
        """Return the tablet density that prints as `density`; nan outside (Dmin, Dmax)."""
        return float(thinnest(self.found.mixture, 1.0, 0.0, density))

    def spread(self, tablet: ArrayLike) -> Array:
        """Return the standard deviation of the curve's density."""
        slopes = gradient(self.found.mixture, 1.0, 0.0, np.atleast_1d(np.asarray(tablet, dtype=np.float64)))
        return np.asarray(np.linalg.norm(self.found.doubt @ slopes.T, axis=0))

    def range_spread(self, low: float, high_share: float) -> float:
        """Return the standard deviation of R between `low` over Dmin and `high_share` of the net density.

        It is the best mixture's own, and what its rivals would say instead, by how much the readings favour each.
        """
        every = (self.found, *self.rivals)
        chances = np.exp([each.log_evidence - self.found.log_evidence for each in every])
        own = _range(self.found, low, high_share)
        squares = [_range_spread(each, low, high_share) ** 2 for each in every]
        apart = [(_range(each, low, high_share) - own) ** 2 for each in every]
        return float(np.sqrt(np.average(np.add(squares, apart), weights=chances)))


@dataclass(frozen=True)
class Threaded:
    """A curve threaded through the readings, where no mixture fits."""

    thread: PchipInterpolator
    first: float
    last: float
    dmin: float
    dmax: float
    noise: float

    def densities(self, tablet: ArrayLike) -> Array:
        """Return print densities under tablet densities; flat beyond the readings."""
        return np.asarray(self.thread(-np.clip(np.asarray(tablet, dtype=np.float64), self.first, self.last)))

    def tablet(self, density: float) -> float:
        """Return the tablet density that prints as `density`; nan outside the readings."""
        ends = float(self.densities(self.last)), float(self.densities(self.first))
        if not ends[0] < density < ends[1]:
            return float("nan")
        return float(brentq(lambda at: float(self.densities(at)) - density, self.first, self.last, xtol=1e-9))

    def spread(self, tablet: ArrayLike) -> Array:
        """Return the standard deviation of the curve's density: that of one reading."""
        return np.full(np.atleast_1d(np.asarray(tablet)).shape, self.noise)

    def range_spread(self, low: float, high_share: float) -> float:
        """Return the standard deviation of R, from one reading's noise over the curve's slope at either end."""
        total = 0.0
        for wanted in (self.dmin + low, self.dmin + high_share * (self.dmax - self.dmin)):
            at = self.tablet(wanted)
            steep = float(np.diff(self.densities([at - 0.05, at + 0.05]))[0]) / -0.1
            total += (self.noise / max(steep, 0.05)) ** 2
        return 100.0 * float(np.sqrt(total))


@dataclass(frozen=True)
class Curve:
    """One exposure's curve, and the residuals read − drawn in the order of its readings."""

    exposure: Exposure
    line: Mixed | Threaded
    residuals: tuple[float, ...]

    @property
    def rms(self) -> float:
        """The residuals' root mean square."""
        return float(np.sqrt(np.mean(np.square(self.residuals))))


def draw(exposure: Exposure) -> Curve:
    """Return the characteristic curve of an exposure.

    Raises:
        Impossible: there are too few readings, or they are all alike; the sentence says what to print.
    """
    light = {"light": shown_seconds(exposure)}
    steps = len({reading.tablet_density for reading in exposure.readings})
    if steps < FEWEST:
        raise Impossible(say("paper.curve-few", **light, steps=steps, fewest=FEWEST))
    read = np.array([reading.print_density for reading in exposure.readings])
    if read.max() - read.min() < LEAST_SCALE:
        raise Impossible(say("paper.curve-flat", **light, scale=f"{read.max() - read.min():.2f}"))
    tablet = np.array([reading.tablet_density for reading in exposure.readings])
    noise = np.array([reading.noise_density or exposure.noise_density for reading in exposure.readings])
    nothing = np.zeros(len(read))
    found, *rivals = search_all(Samples(nothing + 1.0, nothing, tablet, read, noise), KINDS)
    usual = float(np.sqrt(np.mean(noise**2)))
    if found.rms <= 2.0 * usual and found.worst <= max(5.0 * usual, 0.08):
        return Curve(exposure, Mixed(found, tuple(rivals)), tuple(found.residuals.tolist()))
    line = thread(exposure)
    return Curve(exposure, line, tuple((read - line.densities(tablet)).tolist()))


def thread(exposure: Exposure) -> Threaded:
    """Return a monotone thread through an exposure's readings, rises levelled first (their least-squares way).

    Steps of one tablet density count as one, with the mean of what they read. Splines are loaded here: few need them.
    """
    from scipy.interpolate import PchipInterpolator

    read: dict[float, list[float]] = {}
    for reading in exposure.lightest_first:
        read.setdefault(-reading.tablet_density, []).append(reading.print_density)
    at = np.array(list(read))
    counts = np.array([float(len(values)) for values in read.values()])
    level = isotonic_regression(np.array([float(np.mean(values)) for values in read.values()]), weights=counts).x
    return Threaded(
        thread=PchipInterpolator(at, level),
        first=-float(at[-1]),
        last=-float(at[0]),
        dmin=float(level[0]),
        dmax=float(level[-1]),
        noise=exposure.noise_density,
    )


def _range(found: Found, low: float, high_share: float) -> float:
    mix = found.mixture
    ends = thinnest(mix, 1.0, 0.0, [mix.dmin + low, mix.dmin + high_share * mix.net])
    return 100.0 * float(ends[0] - ends[1])


def _range_spread(found: Found, low: float, high_share: float) -> float:
    """Return what a mixture's own doubt makes of R: each end moves by its doubt up over the slope there."""
    mix, doubt = found.mixture, found.doubt
    moves = []
    for share_of_dmin, share_of_dmax, over in ((1.0, 0.0, low), (1.0 - high_share, high_share, 0.0)):
        wanted = share_of_dmin * mix.dmin + share_of_dmax * mix.dmax + over
        at = np.atleast_1d(thinnest(mix, 1.0, 0.0, wanted))
        printed = densities(mix, 1.0, 0.0, [at[0] - 1e-4, at[0] + 1e-4])
        steep = float(printed[1] - printed[0]) / 2e-4
        rise = doubt @ gradient(mix, 1.0, 0.0, at)[0] - share_of_dmin * doubt[:, 0] - share_of_dmax * doubt[:, 1]
        moves.append(rise / -steep)
    return float(100.0 * np.linalg.norm(moves[0] - moves[1]))
