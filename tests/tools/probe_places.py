"""Where to lay a probe: even places of the practice baseboard's picture, by the density that lies there."""

from __future__ import annotations

import math

import numpy as np

from controller.picture.raster import raster
from controller.picture.scene import Scene


def even_place(scene: Scene, wanted: float) -> tuple[float, float, float]:
    """Return an even place of about this density, as shares from the left and from the top, and its density."""
    image = raster(scene).image
    height, width = image.shape
    found = []
    for row in range(30, height - 30, 4):
        for column in range(30, width - 30, 4):
            patch = image[row - 4 : row + 5, column - 4 : column + 5]
            if patch.min() > 0.001:
                tone, uneven = -math.log10(float(patch.mean())), float(np.log10(patch.max() / patch.min()))
                found.append((abs(tone - wanted) / 4 + uneven, (column + 0.5) / width, (row + 0.5) / height, tone))
    return min(found)[1:]
