"""The lamp over the months: each check's difference from its reference in stops, as a point over its day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to, width_of

LEFT: Final = 46.0
RIGHT: Final = 8.0
TOP: Final = 12.0
TALL: Final = 96.0
SIZE: Final = 12.0
LEAST_HALF: Final = 1 / 3
"""The chart reaches at least so many stops up and down, so that a sensor's own scatter does not look like ageing."""
DOT: Final = 3.2


@dataclass(frozen=True)
class Point:
    """One lamp check: when (days since any fixed day), what it says, and which are of one reference."""

    day: float
    stops: float
    reference: bool = False
    """This check is the reference of those after it."""


def lamp_checks_picture(
    points: Sequence[Point], *, ident: str, words: tuple[str, str, str, str], face: Face = Face.DAY
) -> Picture:
    """Draw checks in the order in which they were made, oldest first; at least one.

    `words` are the whole in one sentence, the first and the last day, and what the ring stands for. Points of one
    reference are joined; a new reference begins anew at nought, with a ring.
    """
    drawing = Drawing(ident, face)
    sentence, first, last, ring = words
    half = max(LEAST_HALF, *(abs(point.stops) for point in points)) * 1.15
    begin, span = min(point.day for point in points), _span(points)
    room = WIDTH - LEFT - RIGHT - 2 * DOT

    def across(point: Point) -> float:
        return LEFT + DOT + (room * (point.day - begin) / span if span else room / 2)

    def down(stops: float) -> float:
        return TOP + TALL * (half - stops) / (2 * half)

    for mark in _marks(half):
        plain = mark == 0
        stroke = face.ink if plain else face.faint
        drawing.line(LEFT, down(mark), WIDTH - RIGHT, down(mark), stroke=stroke, thick=1 if plain else 0.5)
        drawing.text(LEFT - 6, down(mark) + 4, _signed(mark), size=SIZE, anchor="end")
    for before, after in pairwise(points):
        if not after.reference:
            drawing.line(across(before), down(before.stops), across(after), down(after.stops), thick=1.5)
    for point in points:
        x, y = across(point), down(point.stops)
        ground = face.paper if point.reference else face.ink
        drawing.path(_dot(x, y), fill=ground, stroke=face.ink, thick=1.5)
    foot = TOP + TALL + 16
    drawing.text(LEFT, foot, first, size=SIZE)
    if last != first and width_of(first, SIZE) + width_of(last, SIZE) + 12 <= WIDTH - LEFT - RIGHT:
        drawing.text(WIDTH - RIGHT, foot, last, size=SIZE, anchor="end")
    drawing.path(_dot(LEFT + DOT, foot + 16), fill=face.paper, stroke=face.ink, thick=1.5)
    drawing.text(LEFT + 14, foot + 20, cut_to(ring, WIDTH - LEFT - 16, SIZE), size=SIZE)
    return drawing.finish(foot + 28, sentence)


def _span(points: Sequence[Point]) -> float:
    days = [point.day for point in points]
    return max(days) - min(days)


def _marks(half: float) -> tuple[float, ...]:
    """Return the stops that have a line: nought, and the largest of 1/4, 1/2, 1, 2, 4, … that fits twice at most."""
    step = 0.25
    while step * 2 <= half:
        step *= 2
    return (-step, 0.0, step)


def _signed(stops: float) -> str:
    size = {0.25: "1/4", 0.5: "1/2"}.get(abs(stops), f"{abs(stops):g}")
    return "0" if not stops else f"{'+' if stops > 0 else '−'}{size}"


def _dot(x: float, y: float) -> str:
    return f"M{x - DOT:.2f} {y:.2f}a{DOT} {DOT} 0 1 0 {2 * DOT:g} 0a{DOT} {DOT} 0 1 0 {-2 * DOT:g} 0z"
