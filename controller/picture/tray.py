"""The tray: units of blue and green light on each pixel become print densities, wet and then dry.

A print looks lighter while wet: as if it had had so many per cent less light (dry-down, as printers reckon it in
time). Importing this module loads numpy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from controller.paper.emulsions import densities

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.paper.emulsions import Mixture
    from controller.picture.papers import PracticePaper

    Map = NDArray[np.float32]

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
