"""The baseboard under the lamp: what a printer sees of the picture, the easel, and the shadow of card and dodgers.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image

from controller.picture.doses import Way
from controller.picture.image import level_of
from controller.picture.masks import left_over
from controller.picture.raster import raster

if TYPE_CHECKING:
    from controller.picture.scene import Scene

ROOM: Final = 0.004
"""Of the lamp's light: what the safelight shows of the baseboard."""
BLADES: Final = 0.12
"""How light the easel's blades are, against the white of what lies in it."""


def baseboard_png(scene: Scene, way: Way | None = None, *, lit: bool = True, bands: int = 0) -> bytes:
    """Return the baseboard as an 8-bit grey PNG: white is the light of the empty carrier on white paper.

    A projected negative is seen as one, thin parts light. `way` says what stands in the light (`bands` of the strip
    for its card); dark, there is only what the safelight shows.
    """
    at = raster(scene)
    passed = way or Way()
    through = {"negative": at.image, "empty": at.empty, "opal": at.opal}[passed.carrier]
    open_easel = scene.open_mm is None
    board = np.full(scene.shape, BLADES, dtype=np.float64)
    rows, columns = at.open_window
    board[rows, columns] = 1.0
    # the blades lie in the light too; what the maps leave out under them is lit as the empty carrier lights it
    light = np.where(board < 1.0, 1.0, through) if not open_easel else through
    falls = light * left_over(passed, scene, at, bands) if lit else np.zeros_like(light)
    levels = level_of(np.clip(board * (ROOM + (1.0 - ROOM) * falls), 0.0, 1.0))
    out = io.BytesIO()
    Image.fromarray(np.round(255.0 * levels).astype(np.uint8)).save(out, "PNG", compress_level=3)
    return out.getvalue()
