"""The baseboard under the lamp: what a printer sees of the picture, the easel, and the shadow of card and dodgers.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image, ImageDraw

from controller.picture.doses import Way
from controller.picture.masks import left_over
from controller.picture.raster import raster
from controller.unpack.srgb import level_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.scene import Scene

ROOM: Final = 0.004
"""Of the lamp's light: what the safelight shows of the baseboard."""
GROUND: Final = 0.45
"""How light the easel's ground is, against white paper."""
BLADES: Final = 0.12
"""How light the easel's blades are, against the white of what lies in it."""


def baseboard_png(
    scene: Scene,
    way: Way | None = None,
    *,
    bands: int = 0,
    paper: bool = True,
) -> bytes:
    """Return the baseboard as an 8-bit grey PNG: white is the light of the empty carrier on white paper.

    A projected negative is seen as one, thin parts light. `way` says what stands in the light (`bands` of the strip
    for its card). Without `paper` the picture falls on the easel's greyer ground.
    """
    at = raster(scene)
    passed = way or Way()
    through = at.through(passed.carrier)
    bladed = np.ones(scene.shape, dtype=bool)
    bladed[at.open_window] = False
    board = np.where(bladed, BLADES, 1.0) * _lying(scene.shape, paper=paper)
    # the blades lie in the light too; what the maps leave out under them is lit as the empty carrier lights it
    light = np.where(bladed, 1.0, through)
    falls = light * left_over(passed, scene, at, bands)
    levels = level_of(np.clip(board * (ROOM + (1.0 - ROOM) * falls), 0.0, 1.0))
    out = io.BytesIO()
    seen = Image.fromarray(np.round(255.0 * levels).astype(np.uint8))
    seen.save(out, "PNG", compress_level=3)
    return out.getvalue()


def _lying(shape: tuple[int, int], *, paper: bool) -> NDArray[np.float64]:
    """Return how light what lies in the easel is: white paper to its edges, or the easel's ground with corner marks."""
    if paper:
        return np.ones(shape)
    height, width = shape
    ground = Image.new("L", (width, height), round(255 * GROUND))
    draw, long, thick = ImageDraw.Draw(ground), width // 12, max(1, width // 130)
    inset = 2 * thick
    for x, right in ((inset, 1), (width - 1 - inset, -1)):
        for y, down in ((inset, 1), (height - 1 - inset, -1)):
            draw.line((x, y, x + right * long, y), 255, thick)
            draw.line((x, y, x, y + down * long), 255, thick)
    return np.asarray(ground, dtype=np.float64) / 255.0
