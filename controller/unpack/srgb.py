"""The transfer of sRGB (IEC 61966-2-1), both ways: how pictures of 8 bits write light. Importing this loads numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LINEAR: Final = 0.0031308


def level_of(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sRGB level, 0 to 1, of light or reflectance from 0 to 1."""
    curved = 1.055 * np.maximum(light, _LINEAR) ** (1.0 / 2.4) - 0.055
    return np.asarray(np.where(light <= _LINEAR, 12.92 * light, curved))


def light_of(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the light, 0 to 1, of an sRGB level from 0 to 1."""
    return np.asarray(np.where(level <= 12.92 * _LINEAR, level / 12.92, ((level + 0.055) / 1.055) ** 2.4))
