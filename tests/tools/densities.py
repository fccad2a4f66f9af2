"""A densitometer over a print's picture: what its grey levels say of density."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.unpack.srgb import light_of

MOST = 4.0
"""Black without any light counts as this."""


def densities_of(png: bytes) -> NDArray[np.float64]:
    """Return the print densities that a picture shows."""
    with Image.open(io.BytesIO(png)) as picture:
        levels = np.asarray(picture.convert("L"), dtype=np.float64) / 255.0
    return np.asarray(-np.log10(np.maximum(light_of(levels), 10.0**-MOST)))
