"""Print densities from a flatbed scan that has a grey scale of known densities in the picture.

What a scanner makes of a density is its own affair, so nothing of it is assumed but that darker is darker:
the scale's patches give level against density, a monotone thread (PCHIP over the logarithm of the level) goes
through them, and the print is read off it. Importing this module loads numpy and scipy.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from pydantic import Field
from scipy.interpolate import PchipInterpolator

from controller.errors import Impossible, Unreadable
from controller.model import Frozen
from controller.paper.faults import levelled
from controller.paper.readings import HIGHEST_READ, LOWEST_READ, Exposure, Reading
from controller.words import say, say_many

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Levels = NDArray[np.float64] | NDArray[np.uint16]
    """A scan's levels: shares from 0 to 1, or whole numbers to `FULL`, which may lie in a file."""

FULL: Final = 65_535
"""The whitest level of a scan that is kept in 16 bits."""
INSIDE: Final = 0.5
"""The middle half of a patch, each way, is read: edges are blurred and corners are clicked by thumb."""
CLIPPED: Final = 0.003
UNEVEN: Final = 0.10
"""Density: a patch that varies by more has an edge, a hair or a scratch in it."""
BEYOND: Final = 0.05
"""A print may be read so much past the scale's last patch; further on nothing is known."""
LEAST_NOISE: Final = 0.02
_SHIFTS: Final = np.linspace(-0.7, 0.7, 29)
"""Of a patch: how far off a clicked end may be and still be put right; a whole one would be another patch."""


class PatchBox(Frozen):
    """A patch's box in pixels, from the picture's top left corner."""

    left: int = Field(ge=0)
    top: int = Field(ge=0)
    right: int = Field(ge=1)
    bottom: int = Field(ge=1)


class Row(Frozen):
    """A row of equal patches, by two clicked corners: one outside the first patch, the opposite one of the last."""

    first_x: int
    first_y: int
    last_x: int
    last_y: int
    patches: int = Field(ge=2, le=99)


@dataclass(frozen=True)
class Patch:
    """A patch as scanned: its level (0 black to 1 white) and how much that varies inside it."""

    level: float
    spread: float


@dataclass(frozen=True)
class ScanReading:
    """What a scan told: readings, and sentences on the steps that it could not tell."""

    exposure: Exposure
    faults: tuple[str, ...]


def find_patches(levels: Levels, row: Row, name: str, left_out: Collection[int] = frozenset()) -> dict[int, PatchBox]:
    """Return the boxes of a row's patches by their numbers, from 1; those `left_out` are passed over and have none.

    A clicked row's boxes are shifted to where its patches really are.

    Raises:
        Unreadable: the row lies outside the picture, or its patches are smaller than a few pixels.
    """
    height, width = levels.shape
    every = _along(levels, row, name, left_out)
    found = {number: box for number, box in enumerate(every, 1) if number not in left_out}
    for number, box in found.items():
        if box.right > width or box.bottom > height or box.right - box.left < 4 or box.bottom - box.top < 4:
            raise Unreadable(say("paper.scan-outside", file=name, patch=number, width=width, height=height))
    return found


def measure(levels: Levels, boxes: Iterable[PatchBox]) -> tuple[Patch, ...]:
    """Return each patch's level, the median of its middle, and its spread (from the quartiles: dust does no harm)."""
    patches = []
    for box in boxes:
        across, down = (box.right - box.left) * (1 - INSIDE) / 2, (box.bottom - box.top) * (1 - INSIDE) / 2
        inner = _shares(
            levels[
                round(box.top + down) : round(box.bottom - down), round(box.left + across) : round(box.right - across)
            ]
        )
        lower, middle, upper = np.quantile(inner, [0.25, 0.5, 0.75])
        patches.append(Patch(float(middle), float(upper - lower) / 1.349))
    return tuple(patches)


def read_scan(
    levels: Levels,
    scale: Row,
    scale_densities: Sequence[float],
    prints: Row,
    tablet_densities: Sequence[float | None],
    *,
    soft_seconds: float,
    hard_seconds: float,
    name: str,
) -> ScanReading:
    """Return a tablet's print read against the grey scale beside it.

    `tablet_densities` are the tablet's, step 1 first. None stands for a step that is left out: its patch lies in
    the row as well, but is passed over, and the other steps keep their numbers.

    Raises:
        Unreadable: rows outside the picture.
        Impossible: patches and densities do not match, the scale's levels are clipped or not in order; or
            fewer than two steps can be told.
    """
    known = measure(levels, find_patches(levels, scale, name).values())
    if prints.patches != len(tablet_densities):
        raise Impossible(say("paper.scan-count", file=name, found=prints.patches, wanted=len(tablet_densities)))
    told = {step: density for step, density in enumerate(tablet_densities, 1) if density is not None}
    boxes = find_patches(levels, prints, name, set(range(1, prints.patches + 1)) - set(told))
    shown = dict(zip(boxes, measure(levels, boxes.values()), strict=True))
    thread = calibrate(known, scale_densities, name)
    ends = float(min(scale_densities)), float(max(scale_densities))
    amiss: dict[str, list[int]] = {"uneven": [], "too-dark": [], "too-light": []}
    readings: list[Reading] = []
    for step, patch in shown.items():
        density, noise = _read(thread, patch)
        if noise > UNEVEN:
            amiss["uneven"].append(step)
        if not ends[0] - BEYOND <= density <= ends[1] + BEYOND:
            amiss["too-dark" if density > ends[1] else "too-light"].append(step)
            continue
        readings.append(
            Reading(
                step=step,
                tablet_density=float(told[step]),
                print_density=round(min(max(density, LOWEST_READ), HIGHEST_READ), 3),
                noise_density=round(min(max(noise, LEAST_NOISE), 1.0), 3),
            )
        )
    if len(readings) < 2:
        raise Impossible(say("paper.scan-nothing", file=name))
    exposure = Exposure(
        soft_seconds=soft_seconds, hard_seconds=hard_seconds, how="scan", noise_density=0.03, readings=tuple(readings)
    )
    known_ends = {"first": f"{ends[0]:.2f}", "last": f"{ends[1]:.2f}"}
    faults = tuple(
        say_many(f"paper.scan-{kind}", len(steps), steps=", ".join(map(str, steps)), **known_ends)
        for kind, steps in amiss.items()
        if steps
    )
    return ScanReading(exposure, faults)


def calibrate(known: Sequence[Patch], densities: Sequence[float], name: str) -> PchipInterpolator:
    """Return density by −log10 of the level, as a scale's patches give it.

    Raises:
        Impossible: patches and densities do not match in number, or the levels are clipped or out of order.
    """
    if len(known) != len(densities):
        raise Impossible(say("paper.scan-count", file=name, found=len(known), wanted=len(densities)))
    order = sorted(range(len(known)), key=lambda at: densities[at])
    at = [-float(np.log10(max(known[place].level, 1e-4))) for place in order]
    for kind, lowest, highest in (("white", 1.0 - CLIPPED, 1.0), ("black", 0.0, CLIPPED)):
        alike = [place + 1 for place in order if lowest <= known[place].level <= highest]
        if len(alike) > 1:
            raise Impossible(say(f"paper.scan-clipped-{kind}", file=name, one=alike[0], two=alike[-1]))
    even = levelled(at)
    worst = max(range(len(at)), key=lambda place: abs(at[place] - even[place]))
    if abs(at[worst] - even[worst]) > 0.01:
        raise Impossible(say("paper.scan-order", file=name, patch=order[worst] + 1))
    points: dict[float, list[float]] = {}
    for across, place in zip(even, order, strict=True):
        points.setdefault(round(across, 6), []).append(float(densities[place]))
    if len(points) < 3:
        raise Impossible(say("paper.scan-scale-short", file=name))
    return PchipInterpolator(list(points), [float(np.mean(values)) for values in points.values()])


def _read(thread: PchipInterpolator, patch: Patch) -> tuple[float, float]:
    """Return a patch's density and its noise; past the scale's ends along its last slope."""
    ends = float(thread.x[0]), float(thread.x[-1])
    at = -float(np.log10(max(patch.level, 1e-4)))
    inside = min(max(at, ends[0]), ends[1])
    step = (ends[1] - ends[0]) * 0.02
    near = min(max(inside, ends[0] + step), ends[1] - step)
    slope = float(thread(near + step) - thread(near - step)) / (2.0 * step)
    across = patch.spread / max(patch.level, 1e-4) / np.log(10.0)
    return float(thread(inside)) + slope * (at - inside), abs(slope) * float(across)


def _along(levels: Levels, row: Row, name: str, left_out: Collection[int]) -> tuple[PatchBox, ...]:
    """Return equal boxes along the longer side of a clicked row, both ends moved to where patches are most even."""
    height, width = levels.shape
    corners = ((row.first_x, width), (row.last_x, width), (row.first_y, height), (row.last_y, height))
    if any(not 0 <= value <= most for value, most in corners):
        raise Unreadable(say("paper.scan-corner", file=name, width=width, height=height))
    left, right = sorted((row.first_x, row.last_x))
    top, bottom = sorted((row.first_y, row.last_y))
    sideways = right - left >= bottom - top
    first, last = (row.first_x, row.last_x) if sideways else (row.first_y, row.last_y)
    near, far = (top, bottom) if sideways else (left, right)
    if min(right - left, bottom - top) < 8 or abs(last - first) < 8 * row.patches:
        raise Unreadable(say("paper.scan-small", file=name, patches=row.patches))
    quarter = (far - near) // 4
    strip = levels[near + quarter : far - quarter, :] if sideways else levels[:, near + quarter : far - quarter].T
    edges = _snapped(np.sqrt(_shares(np.median(strip, axis=0), levels.dtype)), first, last, row.patches, left_out)
    boxes = []
    for one, two in pairwise(edges.tolist()):
        low, high = sorted((round(one), round(two)))
        box = (low, near, high, far) if sideways else (near, low, far, high)
        boxes.append(PatchBox(left=max(0, box[0]), top=max(0, box[1]), right=box[2], bottom=box[3]))
    return tuple(boxes)


def _shares(levels: Levels, kept_as: np.dtype[Any] | None = None) -> Array:
    """Return levels as shares from 0 to 1; `kept_as` is what the scan has them as, where they are reckoned from it."""
    whole = (kept_as or levels.dtype).kind == "u"
    return np.asarray(levels, dtype=np.float64) / (FULL if whole else 1)


def _snapped(profile: Array, first: int, last: int, patches: int, left_out: Collection[int]) -> Array:
    """Return the edges of equal cells from about `first` to about `last` whose middles vary least.

    What lies on a patch that is left out, a label or a scratch, tells nothing of where patches begin.
    """
    told = [number not in left_out for number in range(1, patches + 1)]
    cell = (last - first) / patches
    sums = np.concatenate([[0.0], np.cumsum(profile)])
    squares = np.concatenate([[0.0], np.cumsum(profile**2)])
    usual = float(np.var(profile[min(first, last) : max(first, last)])) + 1e-12
    best, least = np.linspace(first, last, patches + 1), np.inf
    if not any(told):
        return best
    for start in _SHIFTS:
        for end in _SHIFTS:
            edges = np.linspace(first + start * cell, last + end * cell, patches + 1)
            inner = np.sort(np.stack([edges[:-1] * 0.8 + edges[1:] * 0.2, edges[:-1] * 0.2 + edges[1:] * 0.8]), axis=0)
            low, high = np.clip(np.round(inner), 0, len(profile)).astype(int)
            count = np.maximum(high - low, 1)
            mean = (sums[high] - sums[low]) / count
            uneven = float(np.mean(((squares[high] - squares[low]) / count - mean**2)[told])) / usual
            # A light hand on the scale: where nothing tells, the corners stay as they were clicked.
            cost = uneven + 1e-3 * (start**2 + end**2)
            if cost < least:
                best, least = edges, cost
    return best
