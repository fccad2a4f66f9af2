"""Where a flat thing lies on its photograph, by four corners, however askew: a proof's frames, a print's image.

The photograph sees a flat sheet from somewhere: a square's points go to it by a projective mapping, which four corners
determine (P. Heckbert, *Fundamentals of Texture Mapping and Image Warping*, 1989, section 2.2.3; from memory). A
frame is small, so that a parallelogram shows it as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

XY = tuple[float, float]
WHOLE: Final[tuple[XY, XY, XY, XY]] = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
"""A picture's own corners."""
LEAST_TURN: Final = 0.0001
"""Twice the area of a corner's triangle, as a share of the picture's: below it the corner is no corner."""


@dataclass(frozen=True)
class Cell:
    """A frame on the photograph: its four corners there, from the top left on as a clock goes, in pixels."""

    corners: tuple[XY, XY, XY, XY]

    def matrix(self, wide: float, high: float) -> tuple[float, float, float, float, float, float]:
        """Return what brings the photograph's pixels to a field of this size: x' = ax + cy + e, y' = bx + dy + f."""
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = self.corners
        # the frame's two edges, each the mean of what lies opposite
        ux, uy = (bx - ax + cx - dx) / 2, (by - ay + cy - dy) / 2
        vx, vy = (dx - ax + cx - bx) / 2, (dy - ay + cy - by) / 2
        area = ux * vy - uy * vx
        a, c, b, d = wide * vy / area, -wide * vx / area, -high * uy / area, high * ux / area
        middle_x, middle_y = (ax + bx + cx + dx) / 4, (ay + by + cy + dy) / 4
        return a, b, c, d, wide / 2 - a * middle_x - c * middle_y, high / 2 - b * middle_x - d * middle_y

    @property
    def shape(self) -> float:
        """How wide it is for its height, in the photograph."""
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = self.corners
        wide = _length(bx - ax + cx - dx, by - ay + cy - dy)
        return wide / _length(dx - ax + cx - bx, dy - ay + cy - by)


def cells(corners: Sequence[XY], size: tuple[int, int], rows: int, columns: int) -> tuple[Cell, ...]:
    """Return the fields of rows × columns, row by row; `corners` are shares of a picture of `size` pixels.

    The corners are those of a convex figure, from the top left on as a clock goes.
    """
    at = Onto(corners)
    wide, high = size

    def point(column: int, row: int) -> XY:
        x, y = at(column / columns, row / rows)
        return x * wide, y * high

    return tuple(
        Cell((point(column, row), point(column + 1, row), point(column + 1, row + 1), point(column, row + 1)))
        for row in range(rows)
        for column in range(columns)
    )


class Onto:
    """Brings points of the unit square to a figure of four corners, and back."""

    def __init__(self, corners: Sequence[XY]) -> None:
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
        dx1, dx2, dx3 = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
        dy1, dy2, dy3 = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
        det = dx1 * dy2 - dx2 * dy1
        g, h = (dx3 * dy2 - dx2 * dy3) / det, (dx1 * dy3 - dx3 * dy1) / det
        self._x = x1 - x0 + g * x1, x3 - x0 + h * x3, x0
        self._y = y1 - y0 + g * y1, y3 - y0 + h * y3, y0
        self._under = g, h

    def __call__(self, u: float, v: float) -> XY:
        """Return the place that a point of the square comes to."""
        under = self._under[0] * u + self._under[1] * v + 1.0
        return (
            (self._x[0] * u + self._x[1] * v + self._x[2]) / under,
            (self._y[0] * u + self._y[1] * v + self._y[2]) / under,
        )

    def back(self, x: float, y: float) -> XY:
        """Return the point of the square that comes to a place; what lies outside the figure lies outside it too.

        A place on the photograph's horizon or behind it, where a flat thing is never seen, comes to a corner.
        """
        g, h = self._under
        (a, b, c), (d, e, f) = self._x, self._y
        # two straight lines, one for each share, that cross in the point
        a, b, d, e = a - g * x, b - h * x, d - g * y, e - h * y
        det = a * e - b * d
        if abs(det) < _FLAT:
            return 0.0, 0.0
        u, v = (e * (x - c) - b * (y - f)) / det, (a * (y - f) - d * (x - c)) / det
        return (u, v) if g * u + h * v + 1.0 > 0.0 else (float(u < 0.0), float(v < 0.0))


def goes_round(corners: Sequence[XY]) -> bool:
    """Tell whether four points go round as a clock does on a picture, whose y points down, and fold nowhere."""
    for number in range(4):
        (ax, ay), (bx, by), (cx, cy) = (corners[(number + step) % 4] for step in range(3))
        if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) <= LEAST_TURN:
            return False
    return True


_FLAT: Final = 1e-12


def _length(x: float, y: float) -> float:
    return math.hypot(x, y)
