"""The column rule: what the scale on an enlarger's column says of the size of the print.

From negative to easel it is T = f·(2 + m + 1/m) (thin lens; optics handbooks, check values from the British Journal
Almanac), and T is what the scale reads plus an offset c that is the same at every height. One known pair of reading
and magnification gives c; from then on the reading alone gives the magnification.
Two magnifications, m and 1/m, stand at one distance; an enlarger enlarges, so the greater one is meant.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

from controller.errors import Impossible
from controller.exposure.size import negative_to_easel_mm
from controller.words import say

LEAST_MAGNIFICATION: Final = 1
_NEAREST: Final = 4
"""Focal lengths from negative to easel at m 1; nothing nearer is ever sharp."""

Length = float | Fraction


def distance_mm(focal_mm: Length, magnification: Length) -> Fraction:
    """Return the distance from negative to easel, T = f·(2 + m + 1/m), exactly.

    Raises:
        Impossible: the magnification is under 1.
    """
    m = _exact(magnification)
    if m < LEAST_MAGNIFICATION:
        raise Impossible(say("reckoning.column-reduced", found=f"{float(m):g}"), ("magnification",))
    return negative_to_easel_mm(_exact(focal_mm), m)


def offset_mm(focal_mm: Length, magnification: Length, reading_mm: Length) -> Fraction:
    """Return what is to be added to this column's scale for the distance from negative to easel: c = T − reading.

    Raises:
        Impossible: as `distance_mm`.
    """
    return distance_mm(focal_mm, magnification) - _exact(reading_mm)


def magnification_at(focal_mm: Length, column_offset_mm: Length, reading_mm: Length) -> float:
    """Return the magnification at a reading of the scale: the greater solution of m + 1/m = T/f − 2.

    Raises:
        Impossible: negative and easel are less than four focal lengths apart.
    """
    focal, distance = _exact(focal_mm), _exact(reading_mm) + _exact(column_offset_mm)
    if distance < _NEAREST * focal:
        words = {"distance": f"{float(distance):.1f}", "least": f"{float(_NEAREST * focal):.1f}"}
        raise Impossible(say("reckoning.column-near", **words), ("reading",))
    both = distance / focal - 2
    return (float(both) + math.sqrt(both * both - 4)) / 2


def _exact(value: Length) -> Fraction:
    return value if isinstance(value, Fraction) else Fraction(str(value))
