"""How far a paper's predictions can be trusted, and which one strip would help most.

A prediction's spread is what the paper's doubt makes of it, and what the model was off by on its own readings.
Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from controller.paper.emulsions import Mixture, gradient, mixture
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from controller.paper.paper import Paper

    Array = NDArray[np.float64]

ROUGH: Final = 0.05
NONE: Final = 0.12
"""Spreads of density: over the first a prediction is rough, over the second it is none (a grey one cannot aim by)."""
STRIP_TABLET: Final = np.round(0.05 + 0.15 * np.arange(21), 2)
STRIP_NOISE: Final = 0.02
STRIP_MIDDLE: Final = 1.4
"""A new strip is thought of as the usual tablet's print, read by densitometer, its mid-grey on this density."""
OFF: Final = (
    (0.02, "paper.off-eye"),
    (0.05, "paper.off-twentieth"),
    (0.10, "paper.off-tenth"),
    (0.20, "paper.off-fifth"),
)

Level = Literal["good", "rough", "none"]


@dataclass(frozen=True)
class Advice:
    """One strip to print: its seconds through soft and hard, and the spread the asked predictions would have then."""

    soft_seconds: float
    hard_seconds: float
    spread_after: float

    @property
    def sentence(self) -> str:
        """Which strip to print."""
        if self.hard_seconds == 0.0:
            return say("paper.print-soft", soft=f"{self.soft_seconds:.1f}")
        if self.soft_seconds == 0.0:
            return say("paper.print-hard", hard=f"{self.hard_seconds:.1f}")
        return say("paper.print-mix", soft=f"{self.soft_seconds:.1f}", hard=f"{self.hard_seconds:.1f}")


def spreads(paper: Paper, soft_seconds: ArrayLike, hard_seconds: ArrayLike, negative_density: ArrayLike) -> Array:
    """Return the standard deviation of each predicted print density; one-dimensional, the arguments broadcast."""
    mix = mixture(paper)
    soft, hard, tones = np.broadcast_arrays(
        *(np.atleast_1d(each) for each in (soft_seconds, hard_seconds, negative_density))
    )
    off = _model_off(paper)
    if not paper.doubt:
        return np.full(tones.shape, off)
    moved = np.array(paper.doubt) @ gradient(mix, soft, hard, tones.astype(np.float64)).T
    # Past the whole scale a slope means nothing: nothing is known there but white and black.
    return np.asarray(np.minimum(np.sqrt(np.sum(moved**2, axis=0) + off**2), mix.net / 2.0))


def level(spread: float) -> Level:
    """Return whether a prediction with this spread is good, rough, or none at all."""
    return "good" if spread <= ROUGH else "rough" if spread <= NONE else "none"


def off_words(spread: float) -> str:
    """Return the one plain sentence a printer sees first: how far off this may be."""
    for most, key in OFF:
        if spread <= most:
            return say(key)
    return say("paper.off-unknown")


def best_strip(
    paper: Paper, soft_seconds: ArrayLike, hard_seconds: ArrayLike, negative_density: ArrayLike
) -> Advice | None:
    """Return the strip that would make these predictions surest; None where the paper carries no doubt to lessen."""
    if not paper.doubt:
        return None
    mix = mixture(paper)
    doubt = np.array(paper.doubt)
    soft, hard, tones = np.broadcast_arrays(
        *(np.atleast_1d(each) for each in (soft_seconds, hard_seconds, negative_density))
    )
    asked = doubt @ gradient(mix, soft, hard, tones.astype(np.float64)).T
    return min(
        (Advice(*light, _spread_after(mix, doubt, asked, light)) for light in _strips(mix)),
        key=lambda advice: advice.spread_after,
    )


def trust(
    paper: Paper, seconds: tuple[float, float], tones: Sequence[float]
) -> tuple[tuple[float, ...], str, tuple[str, ...]]:
    """Return each tone's spread, the plain sentence, and which strip would help where one is needed."""
    each = spreads(paper, *seconds, tones)
    worst = float(each.max())
    strip = None if level(worst) == "good" else best_strip(paper, *seconds, tones)
    key = "paper.rough" if level(worst) == "rough" else "paper.unsupported"
    advice = (say(key, strip=strip.sentence),) if strip is not None else ()
    return tuple(round(float(one), 4) for one in each), off_words(worst), advice


def working_tones(mix: Mixture) -> tuple[Array, Array, Array]:
    """Return a spread of everyday asks: soft and hard seconds and negative densities over the whole scale."""
    shares = np.linspace(0.1, 0.9, 5)
    soft, hard = (10.0**STRIP_MIDDLE / 10.0 ** float(speeds.mean()) for speeds in (mix.soft, mix.hard))
    tones = STRIP_MIDDLE + np.linspace(-0.8, 0.8, 9)
    share, tone = (each.ravel() for each in np.meshgrid(shares, tones))
    return soft * (1.0 - share), hard * share, tone


def overall(paper: Paper) -> tuple[float, Advice | None]:
    """Return the usual spread of a paper's predictions, and the strip that would help them most."""
    asks = working_tones(mixture(paper))
    return float(np.sqrt(np.mean(spreads(paper, *asks) ** 2))), best_strip(paper, *asks)


def _model_off(paper: Paper) -> float:
    """Return what the model itself was off by on its readings, beyond their noise."""
    if paper.readings is None:
        return paper.rms_density
    noise = [r.noise_density or each.noise_density for each in paper.readings.exposures for r in each.readings]
    return float(np.sqrt(max(0.0, paper.rms_density**2 - float(np.mean(np.square(noise))))))


def _strips(mix: Mixture) -> list[tuple[float, float]]:
    """Return the strips thought of: soft, hard, both; each right, a stop and a half lighter, as much darker."""
    soft, hard = (10.0**STRIP_MIDDLE / 10.0 ** float(speeds.mean()) for speeds in (mix.soft, mix.hard))
    lights = [(soft, 0.0), (0.0, hard), (soft / 2.0, hard / 2.0)]
    return [
        (max(0.1, round(s * more, 1)) if s else 0.0, max(0.1, round(h * more, 1)) if h else 0.0)
        for s, h in lights
        for more in (1.0, 2.0**-1.5, 2.0**1.5)
    ]


def _spread_after(mix: Mixture, doubt: Array, asked: Array, light: tuple[float, float]) -> float:
    """Return the rms spread of what is asked once a strip has been read (linear, as Kalman's update)."""
    told = doubt @ gradient(mix, *light, STRIP_TABLET).T
    gain = np.linalg.solve(told.T @ told + STRIP_NOISE**2 * np.eye(len(STRIP_TABLET)), told.T @ asked)
    left = np.sum(asked**2, axis=0) - np.sum((told.T @ asked) * gain, axis=0)
    return float(np.sqrt(np.mean(np.maximum(left, 0.0))))
