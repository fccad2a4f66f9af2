"""What cards and dodgers leave of a light, pixel by pixel: soft edges, since they are held off the paper and moved.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from functools import lru_cache
from math import hypot
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from controller.picture.frames import beyond_edges, image_box, outlines_on
from controller.picture.pencils import enlarged, rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.doses import Card, Way
    from controller.picture.negatives import Outline
    from controller.picture.raster import Raster
    from controller.picture.scene import Scene

    Map = NDArray[np.float32]

SOFT: Final = 0.016
"""Of the sheet's longer side: how far a moving tool's edge is smeared (standard deviation)."""
CARD_SOFT_MM: Final = 0.6
"""A strip's card lies almost on the paper."""
EDGE_DEPTH: Final = 0.18
"""Of the picture: how deep an edge burn reaches."""
_COARSE: Final = 240
"""Pixels along the longer side: enough for a soft edge, which is drawn larger afterwards."""
_DRAWN: Final = 2400
"""Pixels along the longer side of what is drawn first, where an edge is to lie where it was drawn."""
_FINE: Final = 2.0
"""Pixels of a drawing in one of the picture, where an edge is sharp; and in the edge itself, where it is not."""


def left_over(way: Way, scene: Scene, at: Raster, bands: int) -> Map | np.float32:
    """Return what share of a light gets past the hands; `bands` is of the strip, 0 where there is none."""
    out: Map | np.float32 = np.float32(1.0)
    for letter in sorted(way.dodged):
        out = out * (np.float32(1.0) - area_mask(letter, scene, at))
    holes = [area_mask(letter, scene, at) for letter in sorted(way.burnt)]
    holes += [edge_mask(edge, at.open_box, *scene.shape) for edge in sorted(way.edges)]
    if holes:
        out = out * np.maximum.reduce(holes)
    if way.card is not None and bands:
        out = out * _card(way.card, scene, at, bands)
    return out


def area_mask(letter: str, scene: Scene, at: Raster) -> Map:
    """Return 1 in the middle of an area, 0 well outside, between as soft as its tool is; height × width."""
    shapes, tool = outlines_on(letter, scene, at.frames), scene.tool(letter)
    if tool is not None and tool.outline:
        left, top, right, bottom = image_box(scene)
        shapes += tuple(
            tuple((left + x * (right - left), top + y * (bottom - top)) for x, y in each)
            for each in beyond_edges(tool.outline)
        )
    return soft_mask(shapes, *scene.shape, _spread(letter, scene, at))


def _spread(letter: str, scene: Scene, at: Raster) -> float | None:
    """Return how soft the edge of an area's tool is, in pixels; None for one of which nothing is known."""
    tool = scene.tool(letter)
    if tool is None or (tool.height_mm is None and not tool.still and not tool.outline):
        return None
    moved = 0.0 if tool.still else SOFT * max(scene.shape)
    return min(hypot(moved, scene.spread_mm(tool) * at.per_mm), 0.5 * max(scene.shape))


@lru_cache(maxsize=12)
def soft_mask(shapes: tuple[Outline, ...], height: int, width: int, spread: float | None = None) -> Map:
    """Return 1 in the middle of outlines given in pixels of a picture, 0 well outside, softly between.

    `spread` is the standard deviation of the edge in pixels; without one it is that of a tool that a hand moves.
    """
    coarse = min(1.0, _COARSE / max(height, width))
    if spread is not None:
        # an edge of less than a few pixels is drawn finer than the picture is
        coarse = max(coarse, min(_FINE, _FINE / max(spread, 1.0)))
    small = (max(1, round(width * coarse)), max(1, round(height * coarse)))
    blur = SOFT * max(small) if spread is None else spread * coarse
    # a frame's own edge is no edge of the tool, so the drawing has room round it
    pad = round(6 * blur) + 1
    # what counts as in it is a matter of whole pixels: of finer ones, where the edge is to lie where it was drawn
    fine = 1 if spread is None else max(1, min(4, round(_DRAWN / max(small))))
    off = 0.0 if spread is None else 0.5
    picture = Image.new("L", ((small[0] + 2 * pad) * fine, (small[1] + 2 * pad) * fine))
    draw = ImageDraw.Draw(picture)
    for shape in shapes:
        points = [
            ((x * small[0] / width + pad) * fine - off, (y * small[1] / height + pad) * fine - off) for x, y in shape
        ]
        draw.polygon(points, fill=255)
    if fine > 1:
        picture = picture.reduce(fine)
    blurred = picture.filter(ImageFilter.GaussianBlur(blur))
    cut = np.asarray(blurred, dtype=np.float32)[pad : pad + small[1], pad : pad + small[0]] / np.float32(255.0)
    return np.clip(enlarged(cut, height, width), 0.0, 1.0)


def edge_mask(edge: str, box: tuple[float, float, float, float], height: int, width: int) -> Map:
    """Return what a card that leaves one edge of a box open lets by, fading towards the middle.

    The box is that of the picture on its sheet, in pixels: left, top, right, bottom.
    """
    left, top, right, bottom = box
    y = (np.arange(height, dtype=np.float32)[:, None] + 0.5 - top) / (bottom - top)
    x = (np.arange(width, dtype=np.float32)[None, :] + 0.5 - left) / (right - left)
    depth = {"top": y, "bottom": 1.0 - y, "left": x, "right": 1.0 - x}.get(edge, y)
    fade = 1.0 - rise(depth, EDGE_DEPTH, EDGE_DEPTH / 2)
    return np.broadcast_to(fade, (height, width)).astype(np.float32)


def band_ends(scene: Scene, at: Raster, bands: int) -> list[float]:
    """Return where a strip's bands end along the sheet's longer side, in pixels: one more than there are bands."""
    left, top, right, bottom = at.open_box
    first, last = (top, bottom) if scene.upright else (left, right)
    return [first + (last - first) * n / bands for n in range(bands + 1)]


def _card(card: Card, scene: Scene, at: Raster, bands: int) -> Map:
    height, width = scene.shape
    ends = band_ends(scene, at, bands)
    along = np.arange(height if scene.upright else width, dtype=np.float32) + np.float32(0.5)
    soft = CARD_SOFT_MM * at.per_mm
    if card.way == "window":
        place = min(max(card.place, 1), bands)
        line = _past(along, ends, place - 1, soft) * (1.0 - _past(along, ends, place, soft))
    else:
        line = _past(along, ends, bands - min(max(card.place, 0), bands), soft)
    return line[:, None] if scene.upright else line[None, :]


def _past(along: Map, ends: list[float], number: int, soft: float) -> Map:
    """Return 1 beyond the end of band `number`; before the first and after the last the card goes all the way."""
    if number <= 0:
        return np.ones_like(along)
    if number >= len(ends) - 1:
        return np.zeros_like(along)
    return rise(along, ends[number], soft)
