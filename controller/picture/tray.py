"""Print densities as a picture: D = −log10 ρ (ISO 5-4), ρ shown by the transfer of sRGB (IEC 61966-2-1), 8 bits.

Nothing is stretched: paper white is as grey as it is, and full black is not 0. Importing this module loads numpy
and Pillow.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image, PngImagePlugin

from controller.paper.emulsions import densities
from controller.picture.in_the_trays import FULL
from controller.unpack.srgb import level_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.paper.emulsions import Mixture
    from controller.picture.in_the_trays import Development
    from controller.picture.practice_papers import PracticePaper

    Map = NDArray[np.float32]


_STEPS: Final = 2000
"""Of the table, per unit of density: finer than 8 bits can show."""
_MOST: Final = 4.0


def png_of(densities: NDArray[np.float32], width_mm: float) -> bytes:
    """Return print densities as an 8-bit grey PNG that says it is sRGB and how large the sheet is."""
    return png_of_levels(levels_of(densities), width_mm)


def levels_of(densities: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return the levels, 0 to 255, by which print densities are shown."""
    table = np.round(255.0 * level_of(10.0 ** -(np.arange(int(_MOST * _STEPS) + 1) / _STEPS))).astype(np.uint8)
    place = np.clip(densities * _STEPS + 0.5, 0.0, _MOST * _STEPS).astype(np.int32)
    return np.asarray(table[place])


def png_of_levels(levels: NDArray[np.uint8], width_mm: float | None = None) -> bytes:
    """Return levels as an 8-bit grey PNG that says it is sRGB and, where it is known, how large the sheet is."""
    chunks = PngImagePlugin.PngInfo()
    chunks.add(b"sRGB", b"\x00")
    size = {} if width_mm is None else {"dpi": (levels.shape[1] / (width_mm / 25.4),) * 2}
    out = io.BytesIO()
    Image.fromarray(levels).save(out, "PNG", pnginfo=chunks, compress_level=3, **size)
    return out.getvalue()


AT_ONCE: Final = 1 << 15
"""Pixels: as many as stay near the processor."""


def developed(blue: Map, green: Map, paper: PracticePaper, development: Development = FULL) -> tuple[Map, Map]:
    """Return the densities dry and wet of a sheet that had these units of light, height × width each."""
    mix = paper.mixture()
    dry = as_far_as(darkened(blue, green, mix), paper, development)
    if not paper.dry_down_percent:
        return dry, dry
    less = np.float32(1.0 - paper.dry_down_percent / 100.0)
    return dry, as_far_as(darkened(blue * less, green * less, mix), paper, development)


def as_far_as(full: Map, paper: PracticePaper, development: Development) -> Map:
    """Return the densities of a sheet that would have these when fully developed; the developer fogs what is clear."""
    if development.full:
        return full
    net = np.float32(paper.dmax - paper.dmin)
    image = (full - np.float32(paper.dmin)) * np.float32(development.share)
    return np.float32(paper.dmin) + image + np.float32(development.fog) * (1 - image / net)


def darkened(blue: Map, green: Map, mix: Mixture) -> Map:
    """Return the densities of a sheet that had these units of light; of a kept paper's, seconds of hard and soft."""
    out = np.empty(blue.shape, dtype=np.float32)
    flat, of_blue, of_green = out.reshape(-1), blue.reshape(-1), green.reshape(-1)
    for begin in range(0, flat.size, AT_ONCE):
        part = slice(begin, begin + AT_ONCE)
        # green stands where the reckoning has soft light, blue where it has hard
        flat[part] = densities(mix, of_green[part], of_blue[part], 0.0)
    return out
