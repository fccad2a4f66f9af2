"""Papers that hide behind their readings: written by their own formula, not by the project's, to be found again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.special import expit, ndtr

from controller.paper.paper import Box
from controller.paper.readings import Exposure, Reading, Readings

TABLET = np.round(0.05 + 0.15 * np.arange(21), 2)
"""A step tablet: 21 steps of 0.15 from 0.05 to 3.05 (a maker's list, seen)."""
BOX = Box(label="box of the tests", dated=date(2026, 3, 1))


@dataclass(frozen=True)
class Hidden:
    """H_i = blue·b + green_i·g of each light's seconds; D = Dmin + Σ w_i·net·F(k_i·log10 H_i)."""

    weights: np.ndarray
    contrast: np.ndarray
    soft: np.ndarray
    hard: np.ndarray
    dmin: float
    dmax: float
    normal: bool = False

    def densities(self, soft_seconds, hard_seconds, negative, soft_flash=0.0, hard_flash=0.0) -> np.ndarray:
        """A flash of so many seconds through soft or hard falls without the negative, beside the print's light."""
        through = (soft_seconds * self.soft + hard_seconds * self.hard) / 10.0 ** np.asarray(negative)[..., None]
        z = self.contrast * np.log10(through + soft_flash * self.soft + hard_flash * self.hard)
        each = ndtr(z / 1.702) if self.normal else expit(z)
        return self.dmin + (self.dmax - self.dmin) * (each @ self.weights)

    def range(self, soft_seconds: float, hard_seconds: float) -> float:
        """R by its definition, read off a fine grid."""
        fine = np.linspace(-3.0, 5.0, 80001)
        printed = self.densities(soft_seconds, hard_seconds, fine)[::-1]
        net = self.dmax - self.dmin
        low, high = np.interp([self.dmin + 0.04, self.dmin + 0.9 * net], printed, fine[::-1])
        return 100.0 * float(low - high)

    def shares(self, hard_share: float) -> tuple[float, float]:
        """Seconds of which about this share works as hard light, mid-grey near density 0."""
        soft = 1.0 / np.exp(np.mean(np.log(self.soft)))
        hard = 1.0 / np.exp(np.mean(np.log(self.hard)))
        return float(soft * (1.0 - hard_share)), float(hard * hard_share)


def paper_one() -> Hidden:
    """The demo paper of the examples: three logistic emulsions, R 140.6 soft, 61.1 hard, 110.0 at 10.1 s + 8.0 s."""
    green = np.array([1.0, 0.28, 0.08])
    return Hidden(
        weights=np.full(3, 1 / 3),
        contrast=np.full(3, 10.0),
        soft=0.012648 + 1.054 * green,
        hard=0.161 + 0.000322 * green,
        dmin=0.05,
        dmax=2.10,
    )


def paper_two() -> Hidden:
    """Another demo paper: blacker, a sixth of a stop faster to blue and a third slower to green."""
    green = np.array([1.0, 0.28, 0.08])
    return Hidden(
        weights=np.full(3, 1 / 3),
        contrast=np.full(3, 10.0),
        soft=0.012648 * 1.1225 + 1.054 * 0.7937 * green,
        hard=0.161 * 1.1225 + 0.000322 * 0.7937 * green,
        dmin=0.05,
        dmax=2.20,
    )


def of_the_family(rng: np.random.Generator) -> Hidden:
    """Three logistic emulsions alike but for their green, equal in blue; soft light mostly green, hard nearly blue."""
    green = np.array([1.0, rng.uniform(0.18, 0.45), rng.uniform(0.04, 0.15)])
    blue, to_green = 2.0 ** rng.uniform(-0.4, 0.4, 2)
    return Hidden(
        weights=np.full(3, 1 / 3),
        contrast=np.full(3, rng.uniform(8.0, 12.0)),
        soft=blue * 0.012648 * 2.0 ** rng.uniform(-1.0, 1.0) + to_green * 1.054 * green,
        hard=blue * 0.161 + to_green * 0.161 * rng.uniform(0.0, 0.01) * green,
        dmin=rng.uniform(0.03, 0.09),
        dmax=rng.uniform(1.9, 2.25),
    )


def outside(rng: np.random.Generator) -> Hidden:
    """Four or five normal-cdf emulsions of unequal weights, their green staggered anyhow, equal in blue."""
    count = int(rng.integers(4, 6))
    green = 10.0 ** -np.sort(np.concatenate([[0.0], rng.uniform(0.2, 1.4, count - 1)]))
    blue, to_green = 2.0 ** rng.uniform(-0.4, 0.4, 2)
    return Hidden(
        weights=rng.dirichlet(np.full(count, 4.0)),
        contrast=np.full(count, rng.uniform(8.0, 12.0)),
        soft=blue * 0.012648 * 2.0 ** rng.uniform(-1.0, 1.0) + to_green * 1.054 * green,
        hard=blue * 0.161 + to_green * 0.161 * rng.uniform(0.0, 0.01) * green,
        dmin=rng.uniform(0.03, 0.09),
        dmax=rng.uniform(1.9, 2.25),
        normal=True,
    )


def far_outside(rng: np.random.Generator) -> Hidden:
    """What the model does not hold for: emulsions of unlike contrast and of very unlike blue speed."""
    alike = outside(rng)
    count = len(alike.weights)
    blue = 10.0 ** np.linspace(0.45, -0.45, count)[rng.permutation(count)]
    return Hidden(
        weights=np.full(count, 1 / count),
        contrast=alike.contrast * 1.8,
        soft=alike.soft,
        hard=alike.hard * blue,
        dmin=alike.dmin,
        dmax=alike.dmax,
        normal=True,
    )


def exposure(
    paper: Hidden,
    soft_seconds: float,
    hard_seconds: float,
    rng: np.random.Generator | None = None,
    noise: float = 0.02,
    tablet: np.ndarray = TABLET,
) -> Exposure:
    """A tablet's print, read to 0.01; noiseless without `rng`."""
    true = paper.densities(soft_seconds, hard_seconds, tablet)
    read = np.round(true + (rng.normal(0.0, noise, len(tablet)) if rng is not None else 0.0), 2)
    return Exposure(
        soft_seconds=soft_seconds,
        hard_seconds=hard_seconds,
        readings=tuple(
            Reading(step=n, tablet_density=float(d), print_density=float(max(value, -0.05)))
            for n, (d, value) in enumerate(zip(tablet, read, strict=True), 1)
        ),
    )


def readings(paper: Hidden, *seconds: tuple[float, float], rng: np.random.Generator | None = None) -> Readings:
    """Readings of the usual soft and hard prints, 80 s and 60 s, or of the seconds told."""
    lights = seconds or ((80.0, 0.0), (0.0, 60.0))
    return Readings(paper="hidden", exposures=tuple(exposure(paper, *each, rng) for each in lights))


def mixed_tones(paper: Hidden) -> list[tuple[float, float, np.ndarray, np.ndarray]]:
    """Nine mixes of soft and hard light, and the tones of each that are neither white nor black: what is predicted.

    White and black are left out, since anyone can predict them.
    """
    asks = []
    for share in np.arange(0.1, 0.95, 0.1):
        soft, hard = paper.shares(float(share))
        tones = np.linspace(-1.6, 1.6, 81)
        printed = paper.densities(soft, hard, tones)
        grey = (printed > paper.dmin + 0.01) & (printed < paper.dmax - 0.01)
        asks.append((soft, hard, tones[grey], printed[grey]))
    return asks
