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

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.paper.emulsions import Mixture
    from controller.picture.practice_papers import PracticePaper

    Map = NDArray[np.float32]


_STEPS: Final = 2000
"""Of the table, per unit of density: finer than 8 bits can show."""
_MOST: Final = 4.0
_LINEAR: Final = 0.0031308


def level_of(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sRGB level, 0 to 1, of light or reflectance from 0 to 1."""
    curved = 1.055 * np.maximum(light, _LINEAR) ** (1.0 / 2.4) - 0.055
    return np.asarray(np.where(light <= _LINEAR, 12.92 * light, curved))


def light_of(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the light, 0 to 1, of an sRGB level from 0 to 1."""
    return np.asarray(np.where(level <= 12.92 * _LINEAR, level / 12.92, ((level + 0.055) / 1.055) ** 2.4))


def png_of(densities: NDArray[np.float32], width_mm: float) -> bytes:
    """Return print densities as an 8-bit grey PNG that says it is sRGB and how large the sheet is."""
    table = np.round(255.0 * level_of(10.0 ** -(np.arange(int(_MOST * _STEPS) + 1) / _STEPS))).astype(np.uint8)
    place = np.clip(densities * _STEPS + 0.5, 0.0, _MOST * _STEPS).astype(np.int32)
    chunks = PngImagePlugin.PngInfo()
    chunks.add(b"sRGB", b"\x00")
    out = io.BytesIO()
    dots = densities.shape[1] / (width_mm / 25.4)
    Image.fromarray(table[place]).save(out, "PNG", pnginfo=chunks, dpi=(dots, dots), compress_level=3)
    return out.getvalue()


AT_ONCE: Final = 1 << 15
"""Pixels: as many as stay near the processor."""


def developed(blue: Map, green: Map, paper: PracticePaper) -> tuple[Map, Map]:
    """Return the densities dry and wet of a sheet that had these units of light, height × width each."""
    mix = paper.mixture()
    dry = _darkened(blue, green, mix)
    if not paper.dry_down_percent:
        return dry, dry
    less = np.float32(1.0 - paper.dry_down_percent / 100.0)
    return dry, _darkened(blue * less, green * less, mix)


def _darkened(blue: Map, green: Map, mix: Mixture) -> Map:
    out = np.empty(blue.shape, dtype=np.float32)
    flat, of_blue, of_green = out.reshape(-1), blue.reshape(-1), green.reshape(-1)
    for begin in range(0, flat.size, AT_ONCE):
        part = slice(begin, begin + AT_ONCE)
        # green stands where the reckoning has soft light, blue where it has hard
        flat[part] = densities(mix, of_green[part], of_blue[part], 0.0)
    return out
