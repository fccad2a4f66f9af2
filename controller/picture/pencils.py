"""Pencils for negatives: noise that is the same at every size, soft shapes, and laying one density over another.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.negatives import Tone

    Array = NDArray[np.float32]

FADE: Final = 0.02
"""Of the frame's height: how softly texture fades towards a tone that is to be measured."""


Window = tuple[slice, slice]


@dataclass(frozen=True, eq=False)
class Mask:
    """How much of something is laid down, 0 to 1, in a window of the frame; nothing outside it."""

    window: Window
    values: Array

    def times(self, frame: Array) -> Mask:
        """Return the mask thinned by a map of the whole frame."""
        return Mask(self.window, self.values * frame[self.window])


class Sheet:
    """A frame that is drawn on: densities, and the place of each pixel as shares of width and height."""

    def __init__(self, height: int, width: int, density: float) -> None:
        self.height, self.width = height, width
        self.y: Array = np.asarray((np.arange(height) + 0.5) / height, dtype=np.float32)[:, None]
        self.x: Array = np.asarray((np.arange(width) + 0.5) / width, dtype=np.float32)[None, :]
        self.densities: Array = np.full((height, width), density, dtype=np.float32)

    def noise(self, seed: int, cells: int, octaves: int = 4) -> Array:
        """Return noise about 0, mostly within ±1, its coarsest grain 1/`cells` of the width."""
        rng = np.random.default_rng(seed)
        total = np.zeros((1, 1), dtype=np.float32)
        for octave in range(octaves):
            across = cells * 2**octave
            # what is finer than a pixel would be a pixel's luck
            if octave and across > 2 * self.width:
                break
            grid = rng.uniform(-1.0, 1.0, (max(2, across * 4 // 5), across)).astype(np.float32)
            total = enlarged(total, *grid.shape) + grid / np.float32(2**octave)
        return enlarged(total, self.height, self.width)

    def lay(self, mask: Mask, density: Array | float) -> None:
        """Lay a density, one or a frame of them, over what is there where the mask is 1."""
        part = self.densities[mask.window]
        part += mask.values * (self._in(mask, density) - part)

    def _in(self, mask: Mask, density: Array | float) -> Array | float:
        return density[mask.window] if isinstance(density, np.ndarray) else density

    def _mask(self, left: float, top: float, right: float, bottom: float) -> tuple[Window, Array, Array]:
        """Return the pixels of a part of the frame, and their places across and down."""
        rows = slice(_pixel(top, self.height), _pixel(bottom, self.height) + 1)
        columns = slice(_pixel(left, self.width), _pixel(right, self.width) + 1)
        return (rows, columns), self.x[:, columns], self.y[rows]

    def band(self, top: float, bottom: float, soft: float = 0.004) -> Mask:
        """Return a mask of a band across the frame."""
        return self.box(-1.0, top, 2.0, bottom, soft)

    def box(self, left: float, top: float, right: float, bottom: float, soft: float = 0.003) -> Mask:
        """Return a mask of a box."""
        window, x, y = self._mask(left - soft, top - soft, right + soft, bottom + soft)
        across = rise(x, left, soft) * (1.0 - rise(x, right, soft))
        down = rise(y, top, soft) * (1.0 - rise(y, bottom, soft))
        return Mask(window, np.asarray(down * across, dtype=np.float32))

    def line(self, x1: float, y1: float, x2: float, y2: float, thick: float) -> Mask:
        """Return a mask of a straight stroke."""
        window, x, y = self._mask(min(x1, x2) - thick, min(y1, y2) - thick, max(x1, x2) + thick, max(y1, y2) + thick)
        dx, dy = x2 - x1, (y2 - y1) * 0.8
        along = np.clip(((x - x1) * dx + (y - y1) * 0.8 * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        away = np.hypot(x - x1 - along * dx, (y - y1) * 0.8 - along * dy)
        return Mask(window, 1.0 - rise(away, thick / 2, thick / 4))

    def disc(self, x: float, y: float, radius: float, soft: float) -> Mask:
        """Return a mask of a disc; `radius` is of the width."""
        reach = 1.25 * (radius + soft)
        window, across, down = self._mask(x - reach, y - reach, x + reach, y + reach)
        return Mask(window, 1.0 - rise(np.hypot(across - x, (down - y) * 0.8), radius, soft))

    def finished(self, tones: Iterable[Tone]) -> Array:
        """Return the densities, with each named tone smooth and exact where it is measured."""
        for tone in tones:
            reach = tone.half_height
            soft = FADE / 2
            left, right = tone.left - soft, tone.right + soft
            self.lay(self.box(left, tone.y - reach - soft, right, tone.y + reach + soft, soft), tone.density)
        return np.clip(self.densities, 0.05, 3.0)


def _pixel(share: float, pixels: int) -> int:
    return min(max(int(share * pixels), 0), pixels - 1)


def rise(values: NDArray[np.floating[Any]], at: float, soft: float) -> Array:
    """Return 0 well under `at` and 1 well over it, smoothly within ±`soft`."""
    t = np.clip((values - (at - soft)) / max(2 * soft, 1e-6), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), dtype=np.float32)


def enlarged(values: Array, height: int, width: int) -> Array:
    """Return a map drawn larger or smaller, smoothly."""
    picture = Image.fromarray(np.ascontiguousarray(values, dtype=np.float32))
    return np.asarray(picture.resize((width, height), Image.Resampling.BICUBIC), dtype=np.float32)
