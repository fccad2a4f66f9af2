"""A whole sheet of even grey, scanned: its print densities at the nine places. Importing this module loads numpy.

Of a scan nothing is known but its levels: paper white is the border, where there is one, else the lightest a scan can
be; the grey lies within. What is asked of it is only how the places differ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from controller.errors import Unreadable
from controller.trials.evenness import AT, Place
from controller.unpack.srgb import light_of
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Levels = NDArray[np.uint16]
    Light = NDArray[np.float64]

FULL: Final = 65_535.0
MOST_PIXELS: Final = 90_000
"""As small as the places can be told in: noise and dust are averaged away."""
LONGEST_SIDE: Final = 450
LEAST_SIDE: Final = 30
PATCH: Final = 0.05
"""Of the grey's sides, what is read at each place."""
INSIDE: Final = 0.045
"""And so far inside its edge is the middle of the outer ones."""
_FRAME: Final = 0.012
"""Of the scan, how much along its edge is looked at for a border."""
_DARKER: Final = 0.12
"""Density by which the grey is darker than paper white."""
_ALIKE: Final = 0.06
"""Density within which a border is of one white."""
_MUCH: Final = 0.15
"""Of a row or column, how much is grey where the sheet's grey lies."""
_BLACKEST: Final = 1e-4


def densities(levels: Levels, *, linear: bool, white: float) -> dict[Place, float]:
    """Return the print density at each place; `white` is that of the paper's own white.

    Raises:
        Unreadable: there is no grey in it.
    """
    shares = np.asarray(levels, dtype=np.float64) / FULL
    light = shares if linear else light_of(shares)
    depth = max(1, round(_FRAME * min(light.shape)))
    around = np.concatenate(
        [light[:depth].ravel(), light[-depth:].ravel(), light[:, :depth].ravel(), light[:, -depth:].ravel()]
    )
    border, middle = float(np.median(around)), float(np.median(_patch(light, 0.5, 0.5)))
    low, high = (max(float(each), _BLACKEST) for each in np.quantile(around, (0.1, 0.9)))
    # a grey that falls off is lighter round its edge as well, but not alike in its corners and between them
    has_border = np.log10(max(border, _BLACKEST) / max(middle, _BLACKEST)) > _DARKER and np.log10(high / low) < _ALIKE
    # without a border the levels are taken as they are: the scanner's own white is not the paper's
    against = border if has_border else 10.0**-white
    box = _grey(light, border) if has_border else light
    if min(box.shape) < LEAST_SIDE:
        raise Unreadable(say("evenness.no-grey"))
    found: dict[Place, float] = {}
    for place, (x, y) in AT.items():
        reach = 0.5 - INSIDE
        patch = _patch(box, 0.5 + reach * x, 0.5 - reach * y)
        found[place] = white - float(np.log10(max(float(np.median(patch)), _BLACKEST) / against))
    return found


def _grey(light: Light, border: float) -> Light:
    """Return the part of a scan that is grey, without the border round it."""
    dark = light < border * 10.0**-_DARKER
    rows, columns = (np.flatnonzero(dark.mean(axis=axis) > _MUCH) for axis in (1, 0))
    if not rows.size or not columns.size:
        raise Unreadable(say("evenness.no-grey"))
    return light[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def _patch(light: Light, x: float, y: float) -> Light:
    height, width = light.shape
    half_w, half_h = max(1, round(PATCH * width / 2)), max(1, round(PATCH * height / 2))
    column, row = round(x * width), round(y * height)
    return light[max(0, row - half_h) : row + half_h, max(0, column - half_w) : column + half_w]
