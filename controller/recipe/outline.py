"""An area as a finger draws it on a picture of the negative: its letter, and a polygon in shares of the picture.

Shares, so that it is the same area at every size of print, of scan and of page. A finger's stroke has hundreds of
points and shakes; what is kept of it has few, and lies nowhere farther from it than a hand is sure of. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Final, Self

from pydantic import Field, model_validator

from controller.errors import Impossible
from controller.model import Frozen
from controller.recipe.fields import Area, Share, refusal
from controller.words import say

LEAST_POINTS: Final = 3
MOST_POINTS: Final = 40
MOST_STROKE: Final = 600
"""Points of a finger's stroke that are looked at, evenly along it."""
LEAST_AREA: Final = 0.0005
"""Of the picture: a square of 2 % of its sides. No card is held so still that a smaller one would show."""
SURE: Final = 0.004
"""Share of the picture that a finger is sure of: a stroke's points within it of a straight line are left out."""
PLACES: Final = 3
_LONGEST_TEXT: Final = 60_000
"""Of a form: some thousands of points."""

Places = Sequence[tuple[float, float]]
Point = tuple[Share, Share]
"""Across and down, from the left and from the top."""


class Outline(Frozen):
    """One area of a picture; a letter has one outline, and a new one takes its place."""

    letter: Area
    """What recipes call the area: a letter, or a short word."""
    points: Annotated[tuple[Point, ...], Field(min_length=LEAST_POINTS, max_length=MOST_POINTS)]

    @model_validator(mode="after")
    def _is_an_area(self) -> Self:
        if size(self.places) < LEAST_AREA:
            raise refusal("recipe.outline-nothing", at=("points",), letter=self.letter)
        return self

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """Its points as plain numbers."""
        return tuple((float(x), float(y)) for x, y in self.points)


def drawn(letter: str, stroke: Places) -> Outline:
    """Return the outline of a stroke that is drawn round an area, or of corners tapped one by one.

    A stroke may leave the picture, whose edge then is the area's; where it does not come back to its beginning, a
    straight line closes it.

    Raises:
        Impossible: too few points, or next to no area; the sentence says what to do.
    """
    every = 1 + len(stroke) // MOST_STROKE
    inside = [(min(1.0, max(0.0, x)), min(1.0, max(0.0, y))) for x, y in stroke[::every]]
    found = tuple((round(x, PLACES), round(y, PLACES)) for x, y in simplified(inside))
    if len(found) < LEAST_POINTS or size(found) < LEAST_AREA:
        raise Impossible(say("recipe.outline-small", letter=letter))
    points = tuple((Decimal(str(x)), Decimal(str(y))) for x, y in found)
    return Outline(letter=letter, points=points)


def simplified(stroke: Places, most: int = MOST_POINTS) -> tuple[tuple[float, float], ...]:
    """Return as few of a closed stroke's points as tell where it goes, at most `most`.

    Points farther than `SURE` from the line between their kept neighbours are kept (Ramer, 1972; Douglas and Peucker,
    1973); where these are too many, what counts as sure grows until they are not.
    """
    points = [point for n, point in enumerate(stroke) if n == 0 or point != stroke[n - 1]]
    if len(points) > 1 and points[0] == points[-1]:
        points.pop()
    if len(points) < LEAST_POINTS:
        return tuple(points)
    # the two halves meet at the point that is farthest from the first: a closed line has no ends of its own
    far = max(range(len(points)), key=lambda n: math.dist(points[0], points[n]))
    sure = SURE
    while True:
        first = _kept(points[: far + 1], sure)
        second = _kept([*points[far:], points[0]], sure)
        found = (*first[:-1], *second[:-1])
        if len(found) <= most:
            return found
        sure *= 1.5


def _kept(points: Places, sure: float) -> list[tuple[float, float]]:
    """Return the points of an open line that are kept, its ends among them."""
    keep = {0, len(points) - 1}
    spans = [(0, len(points) - 1)]
    while spans:
        start, end = spans.pop()
        if end - start < 2:
            continue
        most, at = max((_off(points[n], points[start], points[end]), n) for n in range(start + 1, end))
        if most > sure:
            keep.add(at)
            spans += [(start, at), (at, end)]
    return [points[n] for n in sorted(keep)]


def _off(point: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> float:
    """Return how far a point is from the straight line between two others, its ends included."""
    (x, y), (ax, ay), (bx, by) = point, start, end
    long = (bx - ax) ** 2 + (by - ay) ** 2
    along = 0.0 if long == 0.0 else min(1.0, max(0.0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long))
    return math.hypot(x - ax - along * (bx - ax), y - ay - along * (by - ay))


def size(points: Places) -> float:
    """Return how large a polygon is, as a share of the picture; one that crosses itself counts by halves (Gauss)."""
    turned = ((points[n - 1], points[n]) for n in range(len(points)))
    return abs(sum(ax * by - bx * ay for (ax, ay), (bx, by) in turned)) / 2.0


def parse_places(text: str) -> tuple[tuple[float, float], ...]:
    """Return the points of a text "x,y x,y …", each a share; what is no point is left out."""
    found = []
    for each in text[:_LONGEST_TEXT].split():
        across, _, down = each.partition(",")
        try:
            place = float(across), float(down)
        except ValueError:
            continue
        if all(math.isfinite(one) and -1.0 <= one <= 2.0 for one in place):
            found.append(place)
    return tuple(found)


def places_text(points: Places) -> str:
    """Return points as `parse_places` reads them."""
    return " ".join(f"{x:.{PLACES}f},{y:.{PLACES}f}" for x, y in points)
