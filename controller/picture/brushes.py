"""Brushes for a scene: its light in stops about a middle grey, laid down shape by shape, with round things and texture.

Places are in heights of the frame, from its left and its top, so that a circle is one at every proportion. A scene
drawn small is the one drawn large, seen from further away. Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from controller.picture.pencils import enlarged, rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float32]
    Points = Sequence[tuple[float, float]]

FINE: Final = 2
"""Shapes are drawn so many times as fine, and then made smaller, so that their edges are smooth."""
FINER: Final = 4
"""The same in a small frame, whose lines are thinner than its pixels."""
SMALL: Final = 240
"""Pixels of a frame's height, up to which it is small."""
DARKEST: Final = 2.0**-9
"""Of middle grey: what no light reaches."""


@dataclass(frozen=True)
class _Stroke:
    kind: Literal["polygon", "ellipse", "line"]
    points: tuple[tuple[float, float], ...]
    stops: float
    thick: float = 0.0


class Shapes:
    """Flat shapes that are laid down together, later ones over earlier ones."""

    def __init__(self) -> None:
        self.strokes: list[_Stroke] = []

    def polygon(self, points: Points, stops: float) -> None:
        """Add a polygon."""
        self.strokes.append(_Stroke("polygon", tuple(points), stops))

    def box(self, left: float, top: float, right: float, bottom: float, stops: float) -> None:
        """Add a box."""
        self.polygon(((left, top), (right, top), (right, bottom), (left, bottom)), stops)

    def ellipse(self, x: float, y: float, across: float, down: float, stops: float) -> None:
        """Add an ellipse by its middle and its half axes."""
        self.strokes.append(_Stroke("ellipse", ((x - across, y - down), (x + across, y + down)), stops))

    def line(self, points: Points, thick: float, stops: float) -> None:
        """Add a stroke through some points."""
        self.strokes.append(_Stroke("line", tuple(points), stops, thick))

    def bird(self, x: float, y: float, long: float, stops: float) -> None:
        """Add a bird on the wing, far off: `long` is a wing of it."""
        wings = ((-1.0, -0.008), (-0.4, -0.010), (0.0, 0.0), (0.4, -0.011), (1.0, -0.006))
        self.line([(x + part * long, y + up) for part, up in wings], 0.0035, stops)


@dataclass(frozen=True, eq=False)
class Laid:
    """Where shapes were laid: how much of each pixel they cover, in a window of the frame."""

    window: tuple[slice, slice]
    cover: Array


class Canvas:
    """A frame that is painted on; `stops` is height × width."""

    def __init__(self, height: int, width: int, across: float = 1.5) -> None:
        """`across` is how wide the frame is, in heights of it."""
        self.height, self.width, self.across = height, width, across
        self.per_x, self.per_y = width / across, float(height)
        self.fine = FINE if height > SMALL else FINER
        self.y: Array = np.asarray((np.arange(height) + 0.5) / height, dtype=np.float32)[:, None]
        self.x: Array = np.asarray((np.arange(width) + 0.5) / self.per_x, dtype=np.float32)[None, :]
        self.stops: Array = np.zeros((height, width), dtype=np.float32)

    # ---- texture

    def noise(self, seed: int, across: int, down: int, octaves: int = 4) -> Array:
        """Return noise about 0, mostly within ±1.

        Its coarsest grain is 1/`across` of the width and 1/`down` of the height; none is finer than a pixel.
        """
        return _noise(seed, across, down, octaves, (self.height, self.width))

    def row(self, seed: int, across: int, octaves: int = 5) -> Array:
        """Return noise along the width alone: one figure a column."""
        return np.asarray(_noise(seed, across, 2, octaves, (1, self.width))[0])

    # ---- laying down

    def lay(self, shapes: Shapes, blur: float = 0.0) -> Laid:
        """Lay shapes down, blurred by `blur` of the height, and return where they lie."""
        window, size, offset = self._window(shapes, blur)
        paint, cover = Image.new("F", size, 0.0), Image.new("L", size, 0)
        on_paint, on_cover = ImageDraw.Draw(paint), ImageDraw.Draw(cover)
        for stroke in shapes.strokes:
            points = [
                ((x * self.per_x - offset[0]) * self.fine, (y * self.per_y - offset[1]) * self.fine)
                for x, y in stroke.points
            ]
            for draw, fill in ((on_paint, stroke.stops), (on_cover, 255)):
                match stroke.kind:
                    case "polygon":
                        draw.polygon(points, fill=fill)
                    case "ellipse":
                        draw.ellipse((*points[0], *points[1]), fill=fill)
                    case "line":
                        thick = max(1, round(stroke.thick * self.per_y * self.fine))
                        draw.line(points, fill=fill, width=thick, joint="curve" if thick > 2 else None)
        light = np.asarray(paint.reduce(self.fine), dtype=np.float32)
        over = np.asarray(cover.reduce(self.fine), dtype=np.float32) / np.float32(255.0)
        if blur:
            light, over = (blurred(each, blur * self.per_y) for each in (light, over))
        part = self.stops[window]
        part *= np.float32(1.0) - over
        part += light
        return Laid(window, over)

    def add(self, laid: Laid, stops: Array | float) -> None:
        """Add light, one figure or a frame of them, where shapes were laid."""
        more = stops[laid.window] if isinstance(stops, np.ndarray) else np.float32(stops)
        self.stops[laid.window] += laid.cover * more

    def shade(self, shapes: Shapes, blur: float) -> None:
        """Add what the shapes say, softly, to what is there: a shadow where it is below 0."""
        window, size, offset = self._window(shapes, blur)
        small = (max(1, size[0] // self.fine), max(1, size[1] // self.fine))
        cover = Image.new("F", small, 0.0)
        draw = ImageDraw.Draw(cover)
        for stroke in shapes.strokes:
            points = [(x * self.per_x - offset[0], y * self.per_y - offset[1]) for x, y in stroke.points]
            if stroke.kind == "ellipse":
                draw.ellipse((*points[0], *points[1]), fill=stroke.stops)
            elif stroke.kind == "line":
                draw.line(points, fill=stroke.stops, width=max(1, round(stroke.thick * self.per_y)))
            else:
                draw.polygon(points, fill=stroke.stops)
        self.stops[window] += blurred(np.asarray(cover, dtype=np.float32), blur * self.per_y)

    def glow(self, x: float, y: float, radius: float, light: float, down: float = 1.0) -> None:
        """Add the light of a lamp, in units of middle grey at its middle, falling off to nothing around it."""
        reach = 3.2 * radius
        window = self._box(x - reach, y - reach * down, x + reach, y + reach * down)
        part = self.stops[window]
        square = ((self.x[:, window[1]] - x) / radius) ** 2 + ((self.y[window[0]] - y) / (radius * down)) ** 2
        part[:] = np.log2(np.exp2(part) + np.float32(light) * np.exp(-square))

    def turned(
        self,
        x: float,
        profile: Points,
        *,
        white: float = 1.0,
        light: tuple[float, float, float] = (-0.75, -0.35, 0.55),
        ambient: float = 0.06,
        gloss: float = 0.0,
        wrap: float = 0.0,
        marks: Array | None = None,
    ) -> None:
        """Lay down a thing that was turned about an upright axis, such as a jug, lit from one side.

        `profile` is (y, half its width) from its top to its foot. `light` points to the light: right, down, to the
        eye. `white` is the light of its brightest matt part in units of middle grey, `ambient` how much of it its dark
        side has, `wrap` how far a broad light such as a window reaches round it; `gloss` adds a bright spot. `marks`
        are stops added, one for each pixel of the frame.
        """
        ys, radii = (np.asarray(each, dtype=np.float32) for each in zip(*profile, strict=True))
        most = float(radii.max()) + 0.01
        window = self._box(x - most, float(ys[0]) - 0.01, x + most, float(ys[-1]) + 0.01)
        across, down = self.x[:, window[1]] - x, self.y[window[0]]
        outline = _smooth(down[:, 0], ys, radii)
        radius = outline.astype(np.float32)[:, None]
        slope = np.gradient(outline).astype(np.float32)[:, None] * np.float32(self.per_y)
        share = across / np.maximum(radius, 1e-4)
        inside = rise((radius - np.abs(across)) * self.per_y, 0.0, 0.7)
        inside *= rise((down - ys[0]) * self.per_y, 0.0, 0.7) * (1.0 - rise((down - ys[-1]) * self.per_y, 0.0, 0.7))
        towards = np.sqrt(np.clip(1.0 - share**2, 0.0, 1.0))
        long = np.sqrt(1.0 + slope**2)
        lit = (np.clip(share, -1.0, 1.0) * light[0] - slope * light[1] + towards * light[2]) / long
        soft = np.clip((lit + wrap) / (1.0 + wrap), 0.0, 1.0) ** (1.0 + wrap)
        seen = np.float32(white) * (ambient + (1.0 - ambient) * soft)
        if gloss:
            seen = seen + np.float32(gloss) * np.clip(lit, 0.0, 1.0) ** 40
        stops = np.log2(np.maximum(seen, DARKEST))
        if marks is not None:
            stops = stops + marks[window]
        part = self.stops[window]
        part += inside * (stops.astype(np.float32) - part)

    # ---- windows

    def _box(self, left: float, top: float, right: float, bottom: float) -> tuple[slice, slice]:
        def kept(value: float, most: int) -> int:
            return min(max(int(value), 0), most)

        rows = slice(kept(top * self.per_y, self.height - 1), kept(bottom * self.per_y + 2, self.height))
        columns = slice(kept(left * self.per_x, self.width - 1), kept(right * self.per_x + 2, self.width))
        return rows, columns

    def _window(self, shapes: Shapes, blur: float) -> tuple[tuple[slice, slice], tuple[int, int], tuple[int, int]]:
        """Return the part of the frame that shapes may touch, its size as it is drawn, and where it begins."""
        room = 3.0 * blur + max((stroke.thick for stroke in shapes.strokes), default=0.0)
        xs = [x for stroke in shapes.strokes for x, _ in stroke.points]
        ys = [y for stroke in shapes.strokes for _, y in stroke.points]
        window = self._box(min(xs) - room, min(ys) - room, max(xs) + room, max(ys) + room)
        rows, columns = window
        size = ((columns.stop - columns.start) * self.fine, (rows.stop - rows.start) * self.fine)
        return window, size, (columns.start, rows.start)


def rounded(points: Points, times: int = 3) -> list[tuple[float, float]]:
    """Return a path with its corners cut again and again until it is a curve (Chaikin, 1974); its ends stay."""
    path = list(points)
    for _ in range(times):
        cut = [path[0]]
        for (x1, y1), (x2, y2) in pairwise(path):
            cut += [(0.75 * x1 + 0.25 * x2, 0.75 * y1 + 0.25 * y2), (0.25 * x1 + 0.75 * x2, 0.25 * y1 + 0.75 * y2)]
        path = [*cut, path[-1]]
    return path


def blurred(values: Array, pixels: float) -> Array:
    """Return a map blurred by so many pixels (standard deviation), by three boxes (the usual approximation)."""
    if pixels < 0.3:
        return values
    # Pillow blurs bytes alone, so the map is laid into their range
    low, high = float(values.min()), float(values.max())
    if high - low < 1e-6:
        return values
    levels = Image.fromarray(np.round((values - low) * np.float32(255.0 / (high - low))).astype(np.uint8))
    soft = np.asarray(levels.filter(ImageFilter.GaussianBlur(pixels)), dtype=np.float32)
    return low + soft * np.float32((high - low) / 255.0)


def _smooth(at: Array, ys: Array, radii: Array) -> NDArray[np.float64]:
    """Return a curve through points that does not swing past them (Fritsch and Butland's slopes)."""
    step = np.diff(ys)
    rises = np.diff(radii) / step
    slopes = np.zeros(len(ys))
    slopes[0], slopes[-1] = rises[0], rises[-1]
    one, two = rises[:-1], rises[1:]
    both = one * two > 0.0
    slopes[1:-1][both] = 2.0 * one[both] * two[both] / (one[both] + two[both])
    place = np.clip(np.searchsorted(ys, at) - 1, 0, len(step) - 1)
    t = np.clip((at - ys[place]) / step[place], 0.0, 1.0)
    low, high = radii[place], radii[place + 1]
    curve = (1 + 2 * t) * (1 - t) ** 2 * low + t**2 * (3 - 2 * t) * high
    return np.asarray(curve + step[place] * (t * (1 - t) ** 2 * slopes[place] - t**2 * (1 - t) * slopes[place + 1]))


def _noise(seed: int, across: int, down: int, octaves: int, shape: tuple[int, int]) -> Array:
    rng = np.random.default_rng(seed)
    total = np.zeros((2, 2), dtype=np.float32)
    for octave in range(octaves):
        cells = across * 2**octave, down * 2**octave
        # what is finer than a pixel would be a pixel's luck
        if octave and (cells[0] > 2 * shape[1] or (cells[1] > 2 * shape[0] and shape[0] > 1)):
            break
        grid = rng.random((max(2, cells[1]), max(2, cells[0])), dtype=np.float32) * np.float32(2.0) - np.float32(1.0)
        rough = Image.fromarray(total).resize((grid.shape[1], grid.shape[0]), Image.Resampling.BILINEAR)
        total = np.asarray(rough, dtype=np.float32) + grid / np.float32(1.6**octave)
    return enlarged(total, *shape)
