"""Lights through a map of densities, onto a paper, into the tray: print densities, their shares, pictures of them.

The tray is the practice darkroom's own (`controller.picture.tray`), and so are the edges of its cards and dodgers.
Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.paper.emulsions import Mixture, mixture, steady, worth
from controller.picture.frames import beyond_edges
from controller.picture.masks import SOFT, edge_mask, soft_mask
from controller.picture.raster import OPAL
from controller.picture.tray import darkened, levels_of, png_of_levels
from controller.preview.doubt import doubt_of
from controller.preview.orders import GRID_SIDE, Order, Shown

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.preview.easel_map import EaselMap
    from controller.preview.orders import DrawnArea, Lit

    Map = NDArray[np.float32]

WHITE_WITHIN: Final = 0.04
"""Density over paper white under which a tone is paper white (as `controller.paper.tones`)."""
BLACK_FROM: Final = 0.96
"""Of the scale: from here on a tone is full black (as `controller.paper.tones`)."""
HATCH: Final = 6
"""Pixels from one stroke of an overlay to the next."""
_GREYS: Final = 9
"""Tones of a picture that its doubt is the mean of."""


def render(order: Order, scan: EaselMap) -> tuple[bytes, Shown]:
    """Return an order's picture, a grey PNG in true print densities, and its figures.

    The prints of a grid lie side by side without a gap; its figures are those of the middle one.
    """
    mix, negative = mixture(order.paper), scan.small(order.side)
    prints = [_printed(lights, negative, mix, order) for lights in order.prints]
    levels = [_levels(each, mix, order) for each in prints]
    if len(levels) > 1:
        rows = [np.hstack(levels[n : n + GRID_SIDE]) for n in range(0, len(levels), GRID_SIDE)]
        picture = np.vstack(rows)
    else:
        picture = levels[0]
    return png_of_levels(picture), _shown(prints[len(prints) // 2], scan, mix, order)


def _printed(lights: Sequence[Lit], negative: Map, mix: Mixture, order: Order) -> Map:
    """Return the print densities that lights give."""
    through = np.exp(negative * np.float32(-np.log(10.0)))
    less = (1.0 - order.wet_percent / 100.0) / order.factor
    soft, hard = np.zeros_like(through), np.zeros_like(through)
    for lit in lights:
        light = soft if lit.light == "soft" else hard
        # a mask takes of the light, not of the time: so what a light is worth is found before it
        flash = lit.way in ("bare", "opal")
        seconds = np.float32(lit.seconds * less if flash else _worth(mix, lit, less))
        reached = _reached(lit, order.areas, *through.shape)
        if flash:
            light += (seconds * (np.float32(1.0) if lit.way == "bare" else OPAL * through.mean())) * reached
        else:
            light += through * (seconds * reached)
    return darkened(hard, soft, steady(mix))


def _worth(mix: Mixture, lit: Lit, less: float) -> float:
    soft, hard = worth(mix, lit.seconds * less, lit.seconds * less)
    return float(soft if lit.light == "soft" else hard)


def _reached(lit: Lit, areas: Sequence[DrawnArea], height: int, width: int) -> Map | np.float32:
    """Return what share of a light gets past the hands, and past what lies in it."""
    left = _past(lit.masked, areas, height, width)
    match lit.way:
        case "past":
            return left * _past(lit.areas, areas, height, width)
        case "hole":
            return np.asarray(left * np.maximum.reduce([_mask(letter, areas, height, width) for letter in lit.areas]))
        case "edge":
            box = (0.0, 0.0, float(width), float(height))
            return np.asarray(left * np.maximum.reduce([edge_mask(edge, box, height, width) for edge in lit.areas]))
    return left


def _past(letters: Sequence[str], areas: Sequence[DrawnArea], height: int, width: int) -> Map | np.float32:
    """Return what gets past tools; an area that nobody has drawn is nowhere: no dodger there, and no burn."""
    drawn = [np.float32(1.0) - _mask(letter, areas, height, width) for letter in letters]
    return np.asarray(np.prod(drawn, axis=0), dtype=np.float32) if drawn else np.float32(1.0)


def _mask(letter: str, areas: Sequence[DrawnArea], height: int, width: int) -> Map:
    found = [area for area in areas if area.letter == letter]
    drawn = [outline for area in found for outline in (area.outline, *beyond_edges(area.outline))]
    shapes = tuple(tuple((x * width, y * height) for x, y in outline) for outline in drawn)
    return soft_mask(shapes, height, width, _spread(found[0], max(height, width)) if found else None)


def _spread(area: DrawnArea, longer: int) -> float | None:
    """Return how soft an area's edge is in pixels; None for a tool that is only held by hand."""
    if not area.still and not area.spread:
        return None
    return hypot(0.0 if area.still else SOFT, area.spread) * longer


def _levels(densities: Map, mix: Mixture, order: Order) -> NDArray[np.uint8]:
    """Return the levels that show print densities, hatched where white or black is asked for."""
    levels = levels_of(densities)
    if order.show_white or order.show_black:
        row, column = np.ogrid[: levels.shape[0], : levels.shape[1]]
        if order.show_white:
            levels[_white(densities, mix) & ((row + column) % HATCH == 0)] = 0
        if order.show_black:
            levels[_black(densities, mix) & ((row - column) % HATCH == 0)] = 255
    return levels


def _white(densities: Map, mix: Mixture) -> NDArray[np.bool_]:
    return np.asarray(densities < mix.dmin + WHITE_WITHIN)


def _black(densities: Map, mix: Mixture) -> NDArray[np.bool_]:
    return np.asarray(densities >= mix.dmin + BLACK_FROM * mix.net)


def _shown(print_: Map, scan: EaselMap, mix: Mixture, order: Order) -> Shown:
    lights = order.prints[len(order.prints) // 2]
    tones = np.quantile(scan.densities[:: max(1, scan.densities.shape[0] // 200)], np.linspace(0.05, 0.95, _GREYS))
    at: dict[str, float] = {}
    if order.at is not None:
        x, y = order.at
        height, width = print_.shape
        row, column = min(int(y * height), height - 1), min(int(x * width), width - 1)
        here = scan.at(x, y)
        at = {
            "density_at": round(float(print_[row, column]), 4),
            "negative_at": round(here, 4),
            "doubt_at": round(float(doubt_of(order, lights, np.array([here]))[0]), 4),
        }
    return Shown(
        width=print_.shape[1],
        height=print_.shape[0],
        mean_density=round(float(print_.mean(dtype=np.float64)), 4),
        paper_white_share=round(float(_white(print_, mix).mean()), 4),
        black_share=round(float(_black(print_, mix).mean()), 4),
        doubt=round(float(np.sqrt(np.mean(doubt_of(order, lights, tones) ** 2))), 4),
        polarity=scan.polarity,
        factor=round(scan.factor, 3),
        plain=scan.plain,
        **at,
    )
