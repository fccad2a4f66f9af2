"""A densitometer over the developed sheet: the named tones, on the whole of it or in each band of a strip.

Importing this module loads numpy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.picture.frames import FILM_MM
from controller.picture.strips import CLEAR_EDGE_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.frames import Frame
    from controller.picture.raster import Raster
    from controller.picture.scene import Scene

    Print = NDArray[np.float32]

HALF_WIDTH: Final = 0.02
"""Of the frame's width: what the densitometer sees to either side."""
INSIDE: Final = 0.2
"""Of a band's width, kept away from on either side."""
REBATE: Final = "rebate"
OUTSIDE: Final = "outside"


@dataclass(frozen=True, slots=True)
class PixelBox:
    """A box of the picture in pixels, right and bottom not included."""

    left: int
    top: int
    right: int
    bottom: int


@dataclass(frozen=True, slots=True)
class ToneReading:
    """What a densitometer says on the print where a named tone of the negative came; `band` of a strip, from 1."""

    tone: str
    density: float
    wet: float
    band: int | None = None


@dataclass(frozen=True, slots=True)
class _Reach:
    """Where a tone lies, in pixels: its height, from where to where it goes, and where it is read on a whole sheet."""

    tone: str
    y: float
    half_height: float
    left: float
    right: float
    x: float
    half_width: float


def read_tones(
    dry: Print, wet: Print, scene: Scene, at: Raster, bands: tuple[PixelBox, ...] = ()
) -> tuple[ToneReading, ...]:
    """Return the densities of every named tone that came onto the sheet, its rebate and bare paper among them.

    Of a contact sheet those are the first negative's tones.
    """
    found: list[ToneReading] = []
    for reach in _reaches(scene, at):
        if not bands:
            box = _inside(scene, at, reach, reach.x - reach.half_width, reach.x + reach.half_width)
            if box is not None:
                found.append(_read(dry, wet, reach.tone, box, None))
            continue
        for number, band in enumerate(bands, 1):
            keep = INSIDE * (band.right - band.left)
            left, right = max(reach.left, band.left + keep), min(reach.right, band.right - keep)
            if scene.upright:
                whole = band.top <= reach.y - reach.half_height and reach.y + reach.half_height <= band.bottom
                left, right = (reach.left, reach.right) if whole else (1.0, 0.0)
            box = _inside(scene, at, reach, left, right)
            if box is not None:
                found.append(_read(dry, wet, reach.tone, box, number))
    return tuple(found)


def _reaches(scene: Scene, at: Raster) -> Iterator[_Reach]:
    frame = at.frames[0]
    for tone in frame.negative.tones:
        left, right = (frame.left + share * frame.width for share in (tone.left, tone.right))
        x, y = frame.left + tone.x * frame.width, frame.top + tone.y * frame.height
        half = HALF_WIDTH * frame.width
        if scene.way == "contact":
            left, right = left + half, right - half
        yield _Reach(tone.name, y, tone.half_height * frame.height, left, right, x, half)
    contact = scene.way == "contact"
    last = max((each for each in at.frames if each.top == frame.top), key=lambda each: each.left) if contact else frame
    yield _rebate(frame, last, contact=contact)
    if contact:
        height, width = scene.shape
        # what lies beside a roll's frames reaches to the edge of its film
        gap = frame.top + frame.height + frame.margin
        if frame.negative.of_a_roll:
            gap = frame.top + frame.height / 2 + FILM_MM / 2 * at.per_mm
        yield _Reach(OUTSIDE, height / 2, (height / 2 - gap) / 2, 0.0, float(width), width / 4, width / 8)


def _rebate(first: Frame, last: Frame, *, contact: bool) -> _Reach:
    """Return the lower rebate of the film, or of the films beside each other; of a strip, what is outside its holes."""
    y = first.top + first.height + first.margin / 2
    x = first.left + first.width / 2
    if contact and first.negative.of_a_roll:
        per_mm = first.width / first.negative.frame_mm[0]
        y = first.top + first.height / 2 + (FILM_MM / 2 - CLEAR_EDGE_MM) * per_mm
    return _Reach(REBATE, y, first.margin / 4, first.left, last.left + last.width, x, HALF_WIDTH * first.width)


def _inside(scene: Scene, at: Raster, reach: _Reach, left: float, right: float) -> PixelBox | None:
    """Return a reach as whole pixels, at least one each way; None where it is not on the open sheet."""
    height, width = scene.shape
    open_left, open_top, open_right, open_bottom = at.open_box
    left, right = max(left, open_left), min(right, open_right)
    if right <= left or not open_top <= reach.y < open_bottom:
        return None
    top, bottom = round(reach.y - reach.half_height), round(reach.y + reach.half_height)
    if bottom <= top:
        top = min(int(reach.y), height - 1)
        bottom = top + 1
    first = min(round(left), width - 1)
    return PixelBox(first, max(0, top), max(first + 1, min(round(right), width)), min(bottom, height))


def _read(dry: Print, wet: Print, tone: str, box: PixelBox, band: int | None) -> ToneReading:
    spot = np.s_[box.top : box.bottom, box.left : box.right]
    # the median, so that a gap between two films in the reach does not count
    return ToneReading(tone, float(np.median(dry[spot])), float(np.median(wet[spot])), band)
