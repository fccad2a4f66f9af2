"""A variable-contrast paper as a mixture of emulsions: light adds up in each, each darkens by its own curve.

Emulsion i gets H_i = (soft·a_i + hard·b_i)·10^−d through a negative (or tablet) of density d, with the seconds
given through soft and hard, and darkens by its share of the net density:
D = Dmin + Σ w_i·(Dmax − Dmin)·F(k·log10 H_i)^s. F is the logistic or the normal distribution function, k its
contrast per log10 of light (for the normal one scaled by 1.702, so that k means nearly the same), s ("shoulder")
lets toe and shoulder differ; at 1 they are alike. A flash adds its own light to each H_i, and no negative cuts it.
Where a paper fails in long light, t seconds of a light are worth t_r·(t/t_r)^p of those it was read with, t_r being
what that light lasted then (Schwarzschild's law; p as the printer's test found it). Each light counts by itself, and
a flash, which is short and found by a strip of its own, as it is.
Source: a maker's contrast-control sheet, second-hand, for emulsions that are alike but for their green sensitivity;
the shapes are common practice.

F^s has a log-concave density for every s > 0, and soft light spreads the emulsions while hard light draws them
together. So R falls strictly with the hard share (derived: such kernels keep the order of dispersion).

Importing this module loads numpy, and not scipy: what a page asks of a kept paper, it asks of this.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from controller.paper.flash import Flash
    from controller.paper.paper import Paper, Shape

    Floats = NDArray[np.float64]

NORMAL_SCALE: Final = 1.702
"""The logistic function of 1.702·z and the normal one of z differ by less than 0.01 (a usual scaling)."""
_STEEPEST: Final = 700.0
"""The logistic function of less is 0 within 1e-304; its exponential would not be a number."""
_ERFC: Final = np.frompyfunc(math.erfc, 1, 1)
SEARCH_DECADES: Final = 7.0
"""How far from the middle a light is sought; no paper's curve is longer."""
SEARCH_STEPS: Final = 48
"""Halvings of 14 decades: the answer is good to 1e-13 of a decade."""


@dataclass(frozen=True)
class Mixture:
    """A paper's figures as arrays; `weights`, `soft` and `hard` have one entry an emulsion.

    `soft` and `hard` are speeds: the log10 of 1/(seconds of that light at which the emulsion is half way, for
    `shoulder` 1, with no density in the way).
    """

    shape: Shape
    dmin: float
    dmax: float
    contrast: float
    shoulder: float
    weights: NDArray[np.float64]
    soft: NDArray[np.float64]
    hard: NDArray[np.float64]
    exponent: float = 1.0
    """The reciprocity exponent p."""
    read_seconds: tuple[float, float] = (1.0, 1.0)
    """What soft and hard light lasted where the speeds hold; of no account at an exponent of 1."""

    @property
    def net(self) -> float:
        """The density above base + fog that the paper can reach."""
        return self.dmax - self.dmin


def mixture(paper: Paper) -> Mixture:
    """Return a kept paper's figures as arrays, its speed corrections applied."""
    soft_stops = sum(each.soft_stops for each in paper.speeds)
    hard_stops = sum(each.hard_stops for each in paper.speeds)
    per_stop = float(np.log10(2.0))
    return Mixture(
        shape=paper.shape,
        dmin=paper.dmin,
        dmax=paper.dmax,
        contrast=paper.contrast,
        shoulder=paper.shoulder,
        weights=np.array([each.weight for each in paper.emulsions]),
        soft=np.array([each.soft_speed for each in paper.emulsions]) + soft_stops * per_stop,
        hard=np.array([each.hard_speed for each in paper.emulsions]) + hard_stops * per_stop,
        exponent=paper.exponent,
        read_seconds=paper.read_seconds if paper.exponent != 1.0 else (1.0, 1.0),
    )


def steady(mix: Mixture) -> Mixture:
    """Return the same paper as if it did not fail in long light: its seconds are what they are worth."""
    return mix if mix.exponent == 1.0 else replace(mix, exponent=1.0)


def worth(mix: Mixture, soft_seconds: ArrayLike, hard_seconds: ArrayLike) -> tuple[Floats, Floats]:
    """Return what seconds of soft and of hard light are worth, in seconds of those the paper was read with."""
    return _stretched(mix, (soft_seconds, hard_seconds), mix.exponent)


def lasting(mix: Mixture, soft_worth: ArrayLike, hard_worth: ArrayLike) -> tuple[Floats, Floats]:
    """Return how long soft and hard light last that are worth so many seconds: `worth`, turned round."""
    return _stretched(mix, (soft_worth, hard_worth), 1.0 / mix.exponent)


def _stretched(mix: Mixture, seconds: tuple[ArrayLike, ArrayLike], power: float) -> tuple[Floats, Floats]:
    soft, hard = (np.asarray(each, dtype=np.float64) for each in seconds)
    if power == 1.0:
        return soft, hard
    at_soft, at_hard = mix.read_seconds
    return at_soft * (soft / at_soft) ** power, at_hard * (hard / at_hard) ** power


def log_light(mix: Mixture, soft_seconds: ArrayLike, hard_seconds: ArrayLike) -> NDArray[np.float64]:
    """Return log10 of the light each emulsion gets with no negative; shape (…, emulsions)."""
    soft, hard = (each[..., None] for each in worth(mix, soft_seconds, hard_seconds))
    total = soft * 10.0**mix.soft + hard * 10.0**mix.hard
    return np.log10(np.maximum(total, 1e-30))


def flash_light(mix: Mixture, flash: Flash) -> NDArray[np.float64]:
    """Return the light that a flash gives each emulsion, not its log10; it falls without a negative."""
    return np.asarray(flash.seconds * 10.0 ** (mix.soft if flash.filter == "soft" else mix.hard))


def logistic(z: ArrayLike) -> NDArray[np.float64]:
    """Return 1/(1 + e^−z), good to the last digits at either end."""
    return np.asarray(1.0 / (1.0 + np.exp(np.minimum(-np.asarray(z, dtype=np.float64), _STEEPEST))))


def normal(z: ArrayLike) -> NDArray[np.float64]:
    """Return the normal distribution function, erfc(−z/√2)/2, good to the last digits at either end."""
    return 0.5 * np.asarray(_ERFC(np.asarray(z, dtype=np.float64) * -math.sqrt(0.5)), dtype=np.float64)


def share(mix: Mixture, z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return F(z)^shoulder, the part of its density that an emulsion shows."""
    plain = logistic(z) if mix.shape == "logistic" else normal(z / NORMAL_SCALE)
    return np.asarray(plain if mix.shoulder == 1.0 else plain**mix.shoulder, dtype=np.float64)


def densities(
    mix: Mixture,
    soft_seconds: ArrayLike,
    hard_seconds: ArrayLike,
    negative_density: ArrayLike,
    flash: Flash | None = None,
) -> NDArray[np.float64]:
    """Return print densities, over a flash where there is one; the three arguments broadcast against each other."""
    light = log_light(mix, soft_seconds, hard_seconds)
    through = light - np.asarray(negative_density, dtype=np.float64)[..., None]
    return np.asarray(mix.dmin + mix.net * _shown(mix, through, flash))


def thinnest(
    mix: Mixture,
    soft_seconds: ArrayLike,
    hard_seconds: ArrayLike,
    density: ArrayLike,
    flash: Flash | None = None,
) -> NDArray[np.float64]:
    """Return the negative density that prints as `density` under this light: the print curve, turned round.

    It is also how many decades the light may be cut (positive) or must be raised (negative) for that density; a
    flash stays as it is. Broadcasts. A density outside (Dmin, Dmax), or under what the flash alone prints, gives nan.
    """
    light = log_light(mix, soft_seconds, hard_seconds)
    wanted = np.asarray(density, dtype=np.float64)
    fraction = (wanted - mix.dmin) / mix.net
    shape = np.broadcast_shapes(light.shape[:-1], wanted.shape)
    low = np.broadcast_to(light.min(axis=-1) - SEARCH_DECADES, shape).copy()
    high = np.broadcast_to(light.max(axis=-1) + SEARCH_DECADES, shape).copy()
    for _ in range(SEARCH_STEPS):
        middle = (low + high) / 2.0
        darker = _shown(mix, light - middle[..., None], flash) > fraction
        low = np.where(darker, middle, low)
        high = np.where(darker, high, middle)
    least = 0.0 if flash is None else float(_shown(mix, np.full(mix.soft.shape, -30.0), flash))
    outside = (fraction <= least) | (fraction >= 1.0)
    return np.where(outside, np.nan, (low + high) / 2.0)


def _shown(mix: Mixture, through: NDArray[np.float64], flash: Flash | None) -> NDArray[np.float64]:
    """Return the part of the net density that light shows; `through` is log10 of what passes the negative."""
    if flash is not None and flash.seconds:
        through = np.log10(10.0**through + flash_light(mix, flash))
    return np.asarray(share(mix, mix.contrast * through) @ mix.weights)


def gradient(
    mix: Mixture, soft_seconds: ArrayLike, hard_seconds: ArrayLike, negative_density: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return dD by each figure of the paper, shape (tones, 4 + 3·emulsions); seconds one each, or one a tone.

    Order: Dmin, Dmax, ln contrast, ln shoulder, then the weights, the soft speeds and the hard speeds.
    """
    light = log_light(mix, soft_seconds, hard_seconds)
    total = 10.0**light
    soft, hard = (each[..., None] for each in worth(mix, soft_seconds, hard_seconds))
    soft_part = soft * 10.0**mix.soft / total
    hard_part = hard * 10.0**mix.hard / total
    z = mix.contrast * (light - negative_density[:, None])
    if mix.shape == "logistic":
        plain = logistic(z)
        slope = plain * (1.0 - plain)
    else:
        plain = normal(z / NORMAL_SCALE)
        slope = np.exp(-0.5 * (z / NORMAL_SCALE) ** 2) / (NORMAL_SCALE * np.sqrt(2.0 * np.pi))
    safe = np.maximum(plain, 1e-30)
    shown = plain**mix.shoulder
    steep = mix.shoulder * safe ** (mix.shoulder - 1.0) * slope
    shown_all = shown @ mix.weights
    by_speed = mix.net * mix.contrast * steep * mix.weights
    columns = [
        (1.0 - shown_all)[:, None],
        shown_all[:, None],
        (mix.net * ((steep * z) @ mix.weights))[:, None],
        (mix.net * mix.shoulder * ((shown * np.log(safe)) @ mix.weights))[:, None],
        mix.net * shown,
        by_speed * soft_part,
        by_speed * hard_part,
    ]
    return np.concatenate(columns, axis=1)
