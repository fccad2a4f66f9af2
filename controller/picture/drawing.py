"""Pencils for negatives: noise that is the same at every size, soft shapes, and laying one density over another.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.negatives import Tone

    Array = NDArray[np.float32]

FADE: Final = 0.02
"""Of the frame's height: how softly texture fades towards a tone that is to be measured."""


class Sheet:
    """A frame that is drawn on: densities, and the place of each pixel as shares of width and height."""

    def __init__(self, height: int, width: int, density: float) -> None:
        self.height, self.width = height, width
        self.y = ((np.arange(height, dtype=np.float32) + 0.5) / height)[:, None]
        self.x = ((np.arange(width, dtype=np.float32) + 0.5) / width)[None, :]
        self.densities: Array = np.full((height, width), density, dtype=np.float32)

    def noise(self, seed: int, cells: int, octaves: int = 4) -> Array:
        """Return noise about 0, mostly within ±1, its coarsest grain 1/`cells` of the width."""
        rng = np.random.default_rng(seed)
        total = np.zeros((self.height, self.width), dtype=np.float32)
        for octave in range(octaves):
            across = cells * 2**octave
            grid = rng.uniform(-1.0, 1.0, (max(2, across * 4 // 5), across)).astype(np.float32)
            # drawn from the coarsest up, so that a small picture has what a large one has, but for the finest grain
            if across <= 2 * self.width:
                total += enlarged(grid, self.height, self.width) / 2**octave
        return total

    def lay(self, mask: Array, density: Array | float) -> None:
        """Lay a density over the frame where the mask is 1."""
        self.densities += mask * (density - self.densities)

    def band(self, top: float, bottom: float, soft: float = 0.004) -> Array:
        """Return a mask of a band across the frame."""
        down = rise(self.y, top, soft) * (1.0 - rise(self.y, bottom, soft))
        return np.asarray(down + 0.0 * self.x, dtype=np.float32)

    def box(self, left: float, top: float, right: float, bottom: float, soft: float = 0.003) -> Array:
        """Return a mask of a box."""
        across = rise(self.x, left, soft) * (1.0 - rise(self.x, right, soft))
        return np.asarray(self.band(top, bottom, soft) * across, dtype=np.float32)

    def line(self, x1: float, y1: float, x2: float, y2: float, thick: float) -> Array:
        """Return a mask of a straight stroke."""
        dx, dy = x2 - x1, (y2 - y1) * 0.8
        length = dx * dx + dy * dy
        along = np.clip(((self.x - x1) * dx + (self.y - y1) * 0.8 * dy) / length, 0.0, 1.0)
        away = np.hypot(self.x - x1 - along * dx, (self.y - y1) * 0.8 - along * dy)
        return np.asarray(1.0 - rise(away, thick / 2, thick / 4), dtype=np.float32)

    def disc(self, x: float, y: float, radius: float, soft: float) -> Array:
        """Return a mask of a disc; `radius` is of the width."""
        away = np.hypot(self.x - x, (self.y - y) * 0.8)
        return np.asarray(1.0 - rise(away, radius, soft), dtype=np.float32)

    def finished(self, tones: Iterable[Tone]) -> Array:
        """Return the densities, with each named tone smooth and exact where it is measured."""
        for tone in tones:
            reach = tone.half_height
            near = rise(self.y, tone.y - reach - FADE / 2, FADE / 2) * (
                1.0 - rise(self.y, tone.y + reach + FADE / 2, FADE / 2)
            )
            across = rise(self.x, tone.left - 0.01, 0.01) * (1.0 - rise(self.x, tone.right + 0.01, 0.01))
            self.lay(near * across, tone.density)
        return np.clip(self.densities, 0.05, 3.0)


def rise(values: NDArray[np.floating[Any]], at: float, soft: float) -> Array:
    """Return 0 well under `at` and 1 well over it, smoothly within ±`soft`."""
    t = np.clip((values - (at - soft)) / max(2 * soft, 1e-6), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), dtype=np.float32)


def enlarged(values: Array, height: int, width: int) -> Array:
    """Return a map drawn larger or smaller, smoothly."""
    picture = Image.fromarray(np.ascontiguousarray(values, dtype=np.float32))
    return np.asarray(picture.resize((width, height), Image.Resampling.BICUBIC), dtype=np.float32)
