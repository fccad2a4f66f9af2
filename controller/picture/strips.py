"""The film of a roll as it lies on a proof: clear edges, perforations, and the numbers that are exposed beside frames.

Measures in mm as ISO 1007 has 135 film (from memory): 35 wide, holes 2.8 across and 1.98 along, every 4.75, the first
edge of a hole 2.01 from the film's edge; eight of them make a frame's 38. Importing this module loads numpy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image, ImageDraw

from controller.picture.frames import FILM_MM

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from controller.picture.frames import Frame

    Map = NDArray[np.float32]

PITCH_MM: Final = 38.0
"""From frame to frame."""
HOLE_MM: Final = (1.98, 2.8)
"""Along the film and across it."""
HOLE_PITCH_MM: Final = 4.75
HOLE_IN_MM: Final = 2.01
"""From the film's edge to a hole."""
CLEAR_EDGE_MM: Final = 1.0
"""From the film's edge to the middle of what is clear outside its holes."""
NUMBER_DENSITY: Final = 1.1
"""Over the film's own: what a number on its edge has."""
_FINE: Final = 4
_NUMBER_MM: Final = (0.75, 1.35)
_STROKES: Final = {
    "0": ((0, 0), (1, 0), (1, 2), (0, 2), (0, 0)),
    "1": ((0.2, 0.4), (0.6, 0), (0.6, 2)),
    "2": ((0, 0), (1, 0), (1, 1), (0, 1), (0, 2), (1, 2)),
    "3": ((0, 0), (1, 0), (0.4, 0.9), (1, 1.2), (1, 2), (0, 2)),
    "4": ((0.8, 2), (0.8, 0), (0, 1.3), (1, 1.3)),
    "5": ((1, 0), (0, 0), (0, 0.9), (1, 0.9), (1, 2), (0, 2)),
    "6": ((1, 0), (0, 0.8), (0, 2), (1, 2), (1, 1), (0, 1)),
    "7": ((0, 0), (1, 0), (0.3, 2)),
    "8": ((0, 0), (1, 0), (1, 2), (0, 2), (0, 0), (0, 1), (1, 1)),
    "9": ((1, 1), (0, 1), (0, 0), (1, 0), (1, 1), (0.4, 2)),
}
"""Figures as strokes in a box of 1 × 2."""


def film_through(out: Map, frames: Iterable[Frame], per_mm: float) -> None:
    """Lay the film that frames of a roll are on into a map of what gets through; the frames themselves come later.

    The map is height × width, 1 where nothing lies; frames that lie at one height are one strip.
    """
    strips: dict[float, list[Frame]] = {}
    for frame in frames:
        strips.setdefault(frame.top, []).append(frame)
    for row in strips.values():
        _strip(out, row, per_mm)


def _strip(out: Map, row: list[Frame], per_mm: float) -> None:
    height, width = out.shape
    first, last = row[0], row[-1]
    half_gap = (PITCH_MM - first.negative.frame_mm[0]) / 2 * per_mm
    left, right = first.left - half_gap, last.left + last.width + half_gap
    middle = first.top + first.height / 2
    top, bottom = middle - FILM_MM / 2 * per_mm, middle + FILM_MM / 2 * per_mm
    window = (
        slice(max(0, int(top)), min(height, int(bottom) + 2)),
        slice(max(0, int(left)), min(width, int(right) + 2)),
    )
    size = (window[1].stop - window[1].start) * _FINE, (window[0].stop - window[0].start) * _FINE
    cover, numbers = Image.new("L", size, 0), Image.new("L", size, 0)
    film, edge = ImageDraw.Draw(cover), ImageDraw.Draw(numbers)

    def at(x: float, y: float) -> tuple[float, float]:
        return (x - window[1].start) * _FINE, (y - window[0].start) * _FINE

    film.rectangle((*at(left, top), *at(right, bottom)), fill=255)
    along, across = HOLE_MM[0] * per_mm, HOLE_MM[1] * per_mm
    holes = round((right - left) / (HOLE_PITCH_MM * per_mm))
    for number in range(holes):
        x = left + (number + 0.5) * HOLE_PITCH_MM * per_mm
        for y in (top + HOLE_IN_MM * per_mm, bottom - HOLE_IN_MM * per_mm - across):
            corner = 0.5 * per_mm * _FINE
            film.rounded_rectangle((*at(x - along / 2, y), *at(x + along / 2, y + across)), radius=corner, fill=0)
    for frame in row:
        _number(edge, frame, at, top, per_mm)
    base = first.negative.rebate_density
    small = (size[0] // _FINE, size[1] // _FINE)
    lies = np.asarray(cover.resize(small, Image.Resampling.BOX), dtype=np.float32) / np.float32(255.0)
    dark = np.asarray(numbers.resize(small, Image.Resampling.BOX), dtype=np.float32) / np.float32(255.0)
    through = 10.0 ** -(base + NUMBER_DENSITY * dark)
    part = out[window]
    part += lies * (through - part)


def _number(
    draw: ImageDraw.ImageDraw,
    frame: Frame,
    at: Callable[[float, float], tuple[float, float]],
    top: float,
    per_mm: float,
) -> None:
    wide, high = _NUMBER_MM
    x = frame.left + 0.5 * frame.width - wide * len(frame.negative.edge) * per_mm
    y = top + (HOLE_IN_MM - high) / 2 * per_mm
    for number, figure in enumerate(frame.negative.edge):
        if figure in _STROKES:
            begin = x + number * 1.5 * wide * per_mm
            points = [at(begin + u * wide * per_mm, y + v * high / 2 * per_mm) for u, v in _STROKES[figure]]
            draw.line(points, fill=255, width=max(1, round(0.28 * per_mm * _FINE)), joint="curve")
