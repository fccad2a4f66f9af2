"""A scan of a negative as a map of densities at the easel: two known tones say how dark it is, and which way round.

What a scan shows is relative: its density is that of the film up to a step and a factor. Two tones whose density is
known fix both; they also tell whether the scan is a negative, or was turned into a positive on its way, and how. The
factor of a plain scan is near 1 (a condenser's Callier factor is in it): of several ways to turn a picture round, the
one is taken whose factor is near to 1 and under which the tones lie evenly, for a wrong way crowds them at one end.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from PIL import Image

from controller.errors import Impossible
from controller.unpack.srgb import light_of
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.preview.orders import Tie
    from controller.unpack.greys import Coding

    Map = NDArray[np.float32]
    Values = NDArray[np.float64]

Polarity = Literal["negative", "positive"]
LEAST_APART: Final = 0.02
"""Density: two tones of a scan that lie nearer to each other tell nothing of a third."""
LEAST_TIED: Final = 0.10
"""Density: the same of the two known tones."""
NEAR: Final = 0.01
"""Of the picture's shorter side: taps that lie nearer are on the same point."""
MOST_FACTOR: Final = 6.0
"""A scan whose contrast is more times the film's, or less, has one of its tones in the wrong place."""
PLAIN: Final = (0.65, 1.75)
"""The factor of a plain scan: what lies beyond was bent on its way, and beside the two tones nobody knows how."""
SPOT: Final = 0.006
"""Half the side of what is looked at round a tap, as a share of the picture's shorter side."""
LEAST_DENSITY: Final = -3.0
"""Of what is brighter than the film, and on a paper that is taken to be slower than it is."""
MOST_DENSITY: Final = 6.0
_FULL: Final = 65535.0
_FLOOR: Final = 0.5
_FEW: Final = 100
_ENDS: Final = (0.05, 0.5, 0.95)


@dataclass(frozen=True, eq=False)
class EaselMap:
    """Densities at the easel, height × width, and what the scan was like."""

    densities: Map
    polarity: Polarity
    factor: float
    """Of densities at the easel to those of the scan."""

    @property
    def plain(self) -> bool:
        """Whether the scan's contrast is that of a plain one."""
        return PLAIN[0] <= self.factor <= PLAIN[1]

    def at(self, x: float, y: float) -> float:
        """Return the density at a place, as shares of width and height: that of a small spot."""
        return _spot(self.densities, x, y)

    def small(self, side: int) -> Map:
        """Return the densities with at most so many pixels along the longer side."""
        height, width = self.densities.shape
        scale = side / max(height, width)
        if scale >= 1.0:
            return self.densities
        size = max(1, round(width * scale)), max(1, round(height * scale))
        return np.asarray(Image.fromarray(self.densities).resize(size, Image.Resampling.BOX), dtype=np.float32)


def may_be_ties(ties: Sequence[Tie], across_by_down: float = 1.0) -> None:
    """Refuse two tones that cannot fix a scan, whatever it shows.

    Raises:
        Impossible: there are not two, one lies beside the picture, both on one point, or both have one density.
    """
    if len(ties) != 2:
        raise Impossible(say("preview.two-ties", found=len(ties)))
    for tie in ties:
        if not (0.0 <= tie.x <= 1.0 and 0.0 <= tie.y <= 1.0):
            raise Impossible(say("preview.tie-outside", x=f"{tie.x:g}", y=f"{tie.y:g}"))
    one, two = ties
    if math.hypot((one.x - two.x) * max(1.0, across_by_down), (one.y - two.y) / min(1.0, across_by_down)) < NEAR:
        raise Impossible(say("preview.tie-twice", x=f"{one.x:g}", y=f"{one.y:g}"))
    if abs(one.density - two.density) < LEAST_TIED:
        raise Impossible(
            say("preview.ties-equal", one=f"{one.density:.2f}", two=f"{two.density:.2f}", least=f"{LEAST_TIED:.2f}")
        )


def tied(levels: NDArray[np.uint16], coding: Coding, ties: Sequence[Tie]) -> EaselMap:
    """Return the densities at the easel of a scan's levels (0 to 65535), of which two are known.

    Raises:
        Impossible: as `may_be_ties`; or the scan does not tell the two apart, or has far too much or little between.
    """
    height, width = levels.shape
    may_be_ties(ties, width / height)
    shown = [_spot(levels, tie.x, tie.y) / _FULL for tie in ties]
    fits = [fit for fit in (_fit(way, shown, ties) for way in _ways(coding)) if fit is not None]
    if not fits:
        raise Impossible(say("preview.ties-alike", least=f"{LEAST_APART:.2f}"))
    # a negative that reads as one is one; only what is the wrong way round was turned
    best = fits[0] if fits[0].way.polarity == "negative" else min(fits, key=lambda fit: _unlikely(fit, levels))
    if not 1.0 / MOST_FACTOR <= best.factor <= MOST_FACTOR:
        raise Impossible(say("preview.ties-far", factor=f"{best.factor:.2g}"))
    relative = best.way.density(levels.astype(np.float32) / np.float32(_FULL))
    found = best.factor * relative + best.step
    return EaselMap(np.clip(found, LEAST_DENSITY, MOST_DENSITY).astype(np.float32), best.way.polarity, best.factor)


@dataclass(frozen=True)
class _Way:
    """One way in which levels can stand for densities, up to a step and a factor."""

    polarity: Polarity
    density: Callable[[Map], Map]


@dataclass(frozen=True)
class _Fit:
    way: _Way
    factor: float
    step: float


def _ways(coding: Coding) -> tuple[_Way, ...]:
    def light(level: Map) -> Map:
        return level if coding == "linear" else light_of(level.astype(np.float64)).astype(np.float32)

    def dark(value: Map) -> Map:
        return -np.log10(np.maximum(value, np.float32(_FLOOR / _FULL)))

    def turned(level: Map) -> Map:
        return dark(light(np.float32(1.0) - level))

    def complement(level: Map) -> Map:
        return dark(np.float32(1.0) - light(level))

    return (
        _Way("negative", lambda level: dark(light(level))),
        _Way("positive", turned),
        _Way("positive", complement),
        # a positive as a print shows it: the denser the film, the more light
        _Way("positive", lambda level: -dark(light(level))),
    )


def _unlikely(fit: _Fit, levels: NDArray[np.uint16]) -> float:
    """Return how far a way is from a plain one: by its factor, and by how its tones crowd at one end."""
    few = levels[:: max(1, levels.shape[0] // _FEW), :: max(1, levels.shape[1] // _FEW)]
    thin, middle, dense = np.quantile(fit.factor * fit.way.density(few.astype(np.float32) / np.float32(_FULL)), _ENDS)
    return abs(math.log(fit.factor)) + 0.5 * float(abs(middle - (thin + dense) / 2.0))


def _fit(way: _Way, shown: Sequence[float], ties: Sequence[Tie]) -> _Fit | None:
    """Return step and factor of a way; None where the two tones are the wrong way round in it, or too near."""
    one, two = (float(way.density(np.array([[each]], dtype=np.float32))[0, 0]) for each in shown)
    apart, known = one - two, ties[0].density - ties[1].density
    if abs(apart) < LEAST_APART or apart * known <= 0.0:
        return None
    factor = known / apart
    return _Fit(way, factor, ties[0].density - factor * one)


def _spot(values: NDArray[Any], x: float, y: float) -> float:
    """Return the median of a small square round a place."""
    height, width = values.shape
    reach = int(SPOT * min(height, width))
    row, column = min(int(y * height), height - 1), min(int(x * width), width - 1)
    part = values[max(0, row - reach) : row + reach + 1, max(0, column - reach) : column + reach + 1]
    return float(np.median(part))
