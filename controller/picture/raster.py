"""A scene in pixels: how much of a light reaches each, through the negative, without it, and through opal glass.

Maps are shares of the light in the middle of an empty carrier. Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.exposure.size import lens_to_easel_mm
from controller.picture.frames import Frame, frames_on, open_box, pixels_per_mm, second_frame
from controller.picture.pencils import rise
from controller.picture.scene import EDGE, raised_mm
from controller.picture.strips import film_through

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.doses import Carrier
    from controller.picture.scene import Scene

    Map = NDArray[np.float32]

OPAL: Final = 0.3
"""Of the light, what an opal glass under the lens lets through (invented)."""
LEAST_BLUR: Final = 0.2
MOST_BLUR: Final = 8.0
"""Pixels, as a standard deviation: under the one nothing is seen, over the other it is a blur however far out."""


@dataclass(frozen=True, eq=False)
class Raster:
    """The maps of a scene, height × width each, and where its negatives' frames lie."""

    image: Map
    empty: Map
    opal: Map
    frames: tuple[Frame, ...]
    per_mm: float
    """Pixels in a millimetre."""
    open_box: tuple[float, float, float, float]
    """What the easel leaves open, in pixels: left, top, right, bottom."""
    second: Map | None = None
    """Through the negative in carrier B, where there is one."""

    def through(self, carrier: Carrier) -> Map:
        """Return the map of what a carrier lets by; a carrier B with nothing in it lets everything by."""
        match carrier:
            case "negative":
                return self.image
            case "negative B":
                return self.empty if self.second is None else self.second
            case "empty":
                return self.empty
            case "opal":
                return self.opal

    @property
    def open_window(self) -> tuple[slice, slice]:
        """The same in whole pixels: rows and columns."""
        left, top, right, bottom = (round(edge) for edge in self.open_box)
        return slice(top, bottom), slice(left, right)


@lru_cache(maxsize=4)
def raster(scene: Scene) -> Raster:
    """Return a scene's maps; the last few are kept."""
    per_mm = pixels_per_mm(scene)
    frames = frames_on(scene)
    even = _evenness(scene, per_mm)
    box = open_box(scene)
    blades = np.zeros(scene.shape, dtype=np.float32)
    blades[_window(scene, *box)] = 1.0
    through = _through(scene, frames)
    flare = scene.enlarger.flare_share if scene.way == "enlargement" else 0.0
    image = _flared(_unsharp(through, scene, per_mm) * even, flare)
    beside = second_frame(scene)
    second = None
    if beside is not None:
        second = _flared(_unsharp(_through(scene, (beside,)), scene, per_mm) * even, flare) * blades
    opal = np.full_like(even, OPAL * float((through * even).mean()))
    return Raster(image * blades, even * blades, opal * blades, frames, per_mm, box, second)


def _flared(image: Map, share: float) -> Map:
    return (1.0 - share) * image + share * float(image.mean()) if share else image


def light_at(scene: Scene, carrier: Carrier, x: float, y: float, hole_mm: float) -> float:
    """Return the light that falls through a square hole of this side, at shares of the picture from left and top.

    1 is the light at the magnification and aperture of the filters' table, in the middle of an empty carrier.
    """
    at = raster(scene)
    through = at.through(carrier)
    height, width = scene.shape
    half = max(0.5, hole_mm * at.per_mm / 2.0)
    middle = min(max(x, 0.0), 1.0) * width, min(max(y, 0.0), 1.0) * height
    left, top = (min(max(0, round(each - half)), size - 1) for each, size in zip(middle, (width, height), strict=True))
    right, bottom = (max(round(each + half), low + 1) for each, low in zip(middle, (left, top), strict=True))
    return scene.enlarger.light_factor * float(through[top:bottom, left:right].mean())


def _through(scene: Scene, frames: tuple[Frame, ...]) -> Map:
    """Return what each pixel gets through film: nothing beside a projected one, everything beside one laid down."""
    projected = scene.way == "enlargement"
    q = scene.enlarger.callier if projected else 1.0
    out = np.full(scene.shape, 0.0 if projected else 1.0, dtype=np.float32)
    if not projected:
        film_through(out, (frame for frame in frames if frame.negative.of_a_roll), pixels_per_mm(scene))
    for frame in frames:
        m = frame.margin
        film = _window(scene, frame.left - m, frame.top - m, frame.left + frame.width + m, frame.top + frame.height + m)
        if projected or not frame.negative.of_a_roll:
            out[film] = np.float32(10.0 ** (-q * frame.negative.rebate_density))
        _draw(out, scene, frame, q)
    return out


def _unsharp(through: Map, scene: Scene, per_mm: float) -> Map:
    """Return what comes through film where a carrier that is out of square takes its sides out of focus.

    A point that lies by δ out of the plane of focus spreads on the print to a circle of δ·m²/(N·(m + 1)) (thin lens;
    half of the depth that `controller.exposure.size` allows, turned round). The middle is focused.
    """
    stand = scene.enlarger
    if scene.way != "enlargement" or (not stand.left_high_mm and not stand.back_high_mm):
        return through
    height, width = scene.shape
    y = np.asarray((np.arange(height) + 0.5) / height, dtype=np.float32)[:, None]
    x = np.asarray((np.arange(width) + 0.5) / width, dtype=np.float32)[None, :]
    m = stand.magnification
    circle_px = np.abs(raised_mm(scene, x, y)) * (m * m / (stand.aperture * (m + 1.0)) * per_mm)  # type: ignore[arg-type]
    sigma = np.broadcast_to(circle_px / 4.0, (height, width))  # of an even disc
    most = min(float(sigma.max()), MOST_BLUR)
    if most < LEAST_BLUR:
        return through
    steps = [most * share for share in (0.0, 0.25, 0.5, 1.0)]
    maps = [through, *(_blurred(through, each) for each in steps[1:])]
    out = through.copy()
    for (low, one), (high, two) in pairwise(zip(steps, maps, strict=True)):
        share = np.clip((sigma - low) / (high - low), 0.0, 1.0).astype(np.float32)
        out = np.where(sigma > low, one + (two - one) * share, out)
    return np.asarray(out, dtype=np.float32)


def _blurred(of: Map, sigma: float) -> Map:
    reach = max(1, round(3.0 * sigma))
    taps = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    taps /= taps.sum()
    for axis in (0, 1):
        pad = [(reach, reach) if each == axis else (0, 0) for each in (0, 1)]
        wide = np.pad(of, pad, mode="edge")
        length = of.shape[axis]
        of = sum(  # type: ignore[assignment]
            np.float32(tap) * (wide[n : n + length] if axis == 0 else wide[:, n : n + length])
            for n, tap in enumerate(taps)
        )
    return of


def _draw(out: Map, scene: Scene, frame: Frame, q: float) -> None:
    left, top = round(frame.left), round(frame.top)
    # from edge to edge, rounded as the easel's blades are, so that no rebate peeps out beside them
    width = max(1, round(frame.left + frame.width) - left)
    height = max(1, round(frame.top + frame.height) - top)
    window = _window(scene, left, top, left + width, top + height)
    densities = frame.negative.draw(height, width)
    rows = slice(window[0].start - top, window[0].stop - top)
    columns = slice(window[1].start - left, window[1].stop - left)
    out[window] = np.exp(densities[rows, columns] * np.float32(-q * np.log(10.0)))


def _window(scene: Scene, left: float, top: float, right: float, bottom: float) -> tuple[slice, slice]:
    height, width = scene.shape

    def kept(value: float, most: int) -> int:
        return min(max(round(value), 0), most)

    return (
        slice(kept(top, height), kept(bottom, height)),
        slice(kept(left, width), kept(right, width)),
    )


def _evenness(scene: Scene, per_mm: float) -> Map:
    """Return the light of an empty carrier: cos⁴ where the source does not make up for it, and where circles end."""
    from fractions import Fraction

    height, width = scene.shape
    stand = scene.enlarger
    y = ((np.arange(height, dtype=np.float32) + 0.5 - height / 2) / per_mm)[:, None]
    x = ((np.arange(width, dtype=np.float32) + 0.5 - width / 2) / per_mm)[None, :]
    square = x * x + y * y
    m = Fraction(stand.magnification).limit_denominator(10_000)
    away = float(lens_to_easel_mm(Fraction(stand.focal_mm).limit_denominator(1000), m))
    natural = (1.0 + square / away**2) ** -2.0
    out = stand.falloff * natural + (1.0 - stand.falloff)
    on_negative = np.sqrt(square) / stand.magnification
    circles = [stand.lens_circle_mm / 2]
    if stand.condenser_mm is not None:
        circles.append(stand.condenser_mm / 2)
    for radius in circles:
        out = out * (1.0 - rise(on_negative, radius * (1.0 + EDGE), radius * EDGE))
    return np.asarray(out, dtype=np.float32)
