"""The search for a mixture of emulsions that fits readings: least squares with what is known of papers beforehand.

Each reading's residual is divided by its noise, each unknown's distance from its usual value by its usual
spread; the sum of squares is made least (the most probable paper, in Bayes' sense). The curvature there says
how sure each figure is, and by Laplace's approximation which kind of mixture the readings favour.

Importing this module loads numpy and scipy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import isotonic_regression, leastsq

from controller.paper.emulsions import Mixture, densities, gradient

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from controller.paper.paper import Shape
    from controller.paper.readings import Exposure

    Array = NDArray[np.float64]

SINGLE: Final = 7
"""Unknowns that stand alone: Dmin, Dmax, ln contrast, ln shoulder, soft speed, hard speed, ln leak."""
USUAL: Final = (0.06, 2.05, float(np.log(10.0)), 0.0)
SPREAD: Final = (0.05, 0.25, 0.30, 0.15)
"""Dmin 0.06 ± 0.05, Dmax 2.05 ± 0.25, contrast 10 within a third, shoulder 1 within a seventh (common practice)."""
USUAL_LEAK: Final = (float(np.log(0.004)), 1.5)
"""How much of the hard light is green, beside the blue: less than a hundredth, and not known well."""
UNSURE_SPEED: Final = 3.0
"""Decades: a speed that no reading tells."""
_LN_10: Final = np.log(10.0)
WIDER: Final = 1.4
"""The kind of mixture is itself a guess, so every doubt is widened: over hidden papers errors then come out as
large as they are said to be (measured in the tests)."""


@dataclass(frozen=True)
class Kind:
    """One kind of mixture to try.

    `weight_spread` says how unlike the emulsions' shares may be (of their logarithms), `gap` how far apart
    their soft speeds usually are in decades, `gap_spread` how far that may be off (of its logarithm).
    """

    shape: Shape
    emulsions: int
    weight_spread: float
    gap: float
    gap_spread: float
    contrast_spread: float = SPREAD[2]


@dataclass(frozen=True)
class Samples:
    """Readings as arrays of one entry each: seconds, tablet density, print density, noise."""

    soft: Array
    hard: Array
    tablet: Array
    print: Array
    noise: Array


@dataclass(frozen=True)
class Found:
    """What a search found: the mixture, its doubt (see `papers.Paper`), the residuals read − modelled."""

    kind: Kind
    mixture: Mixture
    doubt: Array
    residuals: Array
    cost: float
    """Half the sum of squares that was made least."""
    log_evidence: float

    @property
    def rms(self) -> float:
        """The residuals' root mean square."""
        return float(np.sqrt(np.mean(self.residuals**2)))

    @property
    def worst(self) -> float:
        """The largest residual."""
        return float(np.max(np.abs(self.residuals)))


def samples(exposures: Sequence[Exposure]) -> Samples:
    """Return all readings of some exposures as arrays."""
    rows = [
        (
            each.soft_seconds,
            each.hard_seconds,
            reading.tablet_density,
            reading.print_density,
            reading.noise_density or each.noise_density,
        )
        for each in exposures
        for reading in each.readings
    ]
    return Samples(*np.array(rows, dtype=np.float64).T)


def search_all(data: Samples, kinds: Sequence[Kind]) -> tuple[Found, ...]:
    """Return what each of the kinds finds, the one that the readings favour first."""
    return tuple(sorted((search(data, kind) for kind in kinds), key=lambda found: -found.log_evidence))


def search(data: Samples, kind: Kind) -> Found:
    """Return the most probable mixture of one kind, from three starts."""
    usual, spread = _beforehand(data, kind)
    held = np.diag(1.0 / spread)
    best, cost = usual, np.inf
    for wider in (0.6, 1.0, 1.5) if kind.emulsions > 1 else (1.0,):
        start = usual.copy()
        start[SINGLE : SINGLE + kind.emulsions - 1] += np.log(wider)
        tried, _, told, _, _ = leastsq(
            lambda at: _residuals(at, data, kind, usual, spread),
            start,
            Dfun=lambda at: _slopes(at, data, kind, held),
            full_output=True,
            ftol=1e-7,
            xtol=1e-7,
            gtol=1e-8,
            maxfev=120,
            diag=1.0 / np.minimum(spread, 1.0),
        )
        tried_cost = 0.5 * float(np.dot(told["fvec"], told["fvec"]))
        if tried_cost < cost:
            best, cost = tried, tried_cost
    mix, parts = _figures(best, kind)
    natural = _natural(kind, mix, parts)
    residuals = data.print - _modelled(mix, data)
    jac = _slopes(best, data, kind, held)
    curvature = jac.T @ jac
    sign, logdet = np.linalg.slogdet(curvature)
    # Readings that fit worse than their noise mean that the model is off, and so are its figures.
    excess = WIDER * max(1.0, float(np.sqrt(np.mean((residuals / data.noise) ** 2))))
    lower = np.linalg.cholesky(np.linalg.inv(curvature + 1e-9 * np.diag(np.diag(curvature))))
    return Found(
        kind=kind,
        mixture=mix,
        doubt=excess * (natural @ lower).T,
        residuals=residuals,
        cost=cost,
        log_evidence=float(-cost - 0.5 * logdet - np.log(spread).sum()) if sign > 0 else -np.inf,
    )


def _beforehand(data: Samples, kind: Kind) -> tuple[Array, Array]:
    """Return every unknown's usual value, speeds guessed from the readings, and its usual spread."""
    n = kind.emulsions
    soft, hard = _speeds(data)
    usual = np.concatenate([USUAL, [soft, hard, USUAL_LEAK[0]], np.full(n - 1, np.log(kind.gap)), np.zeros(n)])
    singles = [*SPREAD[:2], kind.contrast_spread, SPREAD[3], UNSURE_SPEED, UNSURE_SPEED, USUAL_LEAK[1]]
    spread = np.concatenate([singles, np.full(n - 1, kind.gap_spread), np.full(n, kind.weight_spread)])
    return usual, spread


def _speeds(data: Samples) -> tuple[float, float]:
    """Guess the paper's speed to either light from where each exposure is half way to black."""
    half = (float(data.print.min()) + max(float(data.print.max()), USUAL[1])) / 2.0
    found: dict[str, list[float]] = {"soft": [], "hard": [], "both": []}
    for soft, hard in sorted({(float(s), float(h)) for s, h in zip(data.soft, data.hard, strict=True)}):
        mine = (data.soft == soft) & (data.hard == hard)
        order = np.argsort(-data.tablet[mine])
        tablet = data.tablet[mine][order]
        printed = isotonic_regression(data.print[mine][order]).x
        middle = float(np.interp(half, printed, tablet))
        light = "both" if soft and hard else "soft" if soft else "hard"
        found[light].append(middle - float(np.log10(soft + hard)))
    everything = [value for values in found.values() for value in values]
    soft_speed = float(np.mean(found["soft"] or found["both"] or everything))
    hard_speed = float(np.mean(found["hard"] or found["both"] or everything))
    return soft_speed, hard_speed


def _residuals(at: Array, data: Samples, kind: Kind, usual: Array, spread: Array) -> Array:
    mix, _ = _figures(at, kind)
    return np.concatenate([(_modelled(mix, data) - data.print) / data.noise, (at - usual) / spread])


def _slopes(at: Array, data: Samples, kind: Kind, held: Array) -> Array:
    mix, parts = _figures(at, kind)
    natural = _natural(kind, mix, parts)
    slopes = gradient(mix, data.soft, data.hard, data.tablet)
    return np.concatenate([slopes @ natural / data.noise[:, None], held])


def _modelled(mix: Mixture, data: Samples) -> Array:
    return densities(mix, data.soft, data.hard, data.tablet)


@dataclass(frozen=True, slots=True)
class _Parts:
    """What the figures of a mixture were made of, and their slopes are made of as well."""

    gaps: Array
    leak: float
    ratio: Array
    leaked: Array
    """1 + leak·ratio."""


def _figures(at: Array, kind: Kind) -> tuple[Mixture, _Parts]:
    """Return the mixture that the unknowns stand for.

    The soft speeds step down from the first by the gaps, their mean kept; the hard speeds are alike (equal
    blue speed) but for the leak: b_i = b·(1 + leak·a_i/a_1). The weights are a softmax.
    """
    n = kind.emulsions
    gaps = np.exp(np.minimum(np.maximum(at[SINGLE : SINGLE + n - 1], -12.0), 1.6))
    down = np.zeros(n)
    np.negative(np.add.accumulate(gaps), out=down[1:])
    logits = at[SINGLE + n - 1 :]
    weights = np.exp(logits - np.maximum.reduce(logits))
    weights /= np.add.reduce(weights)
    leak = np.exp(min(at[6], 2.0))
    ratio = 10.0**down
    leaked = 1.0 + leak * ratio
    mix = Mixture(
        shape=kind.shape,
        dmin=float(at[0]),
        dmax=float(at[1]),
        contrast=float(np.exp(min(max(at[2], -3.0), 5.0))),
        shoulder=float(np.exp(min(max(at[3], -2.0), 2.0))),
        weights=weights,
        soft=at[4] + down - np.add.reduce(down) / n,
        hard=at[5] + np.log10(leaked),
    )
    return mix, _Parts(gaps, leak, ratio, leaked)


def _natural(kind: Kind, mix: Mixture, parts: _Parts) -> Array:
    """Return the slope of each figure of the mixture by each unknown."""
    n, weights = kind.emulsions, mix.weights
    eye, below, known = _shapes(n)
    down_by_gap = below * parts.gaps
    natural = known.copy()
    natural[4 : 4 + n, SINGLE + n - 1 :] = eye * weights - weights[:, None] * weights
    natural[4 + n : 4 + 2 * n, SINGLE : SINGLE + n - 1] = down_by_gap - np.add.reduce(down_by_gap) / n
    leaked = parts.leak * parts.ratio / parts.leaked
    natural[4 + 2 * n :, 6] = leaked / _LN_10
    natural[4 + 2 * n :, SINGLE : SINGLE + n - 1] = leaked[:, None] * down_by_gap
    return natural


@cache
def _shapes(n: int) -> tuple[Array, Array, Array]:
    """Return what is the same for all mixtures of n emulsions.

    That is ones on the diagonal, −1 where a gap lowers a speed, and the slopes that hang on no figure.
    """
    known = np.zeros((4 + 3 * n, SINGLE + 2 * n - 1))
    known[:4, :4] = np.eye(4)
    known[4 + n : 4 + 2 * n, 4] = 1.0
    known[4 + 2 * n :, 5] = 1.0
    return np.eye(n), -np.tril(np.ones((n, n - 1)), -1), known
