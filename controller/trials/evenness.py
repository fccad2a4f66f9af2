"""How evenly an enlarger lights its easel, pure: the light at nine places, why it is uneven, and what mends it.

cos⁴ is the law of natural fall-off (optics handbooks): at the angle θ off the axis a lens brings cos⁴ θ of the light,
with tan θ = r/v, r from the middle of the picture and v = f(1 + m) from lens to easel. A lens that covers its negative
has a focal length of about its diagonal, 0.9 of it at the least (common practice, as in the lens's own warning).
Directions are those of the easel as one stands before it: far, near, left, right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.words import say

Place = Literal["centre", "far", "far right", "right", "near right", "near", "near left", "left", "far left"]
PLACES: Final[tuple[Place, ...]] = get_args(Place)
"""In the order in which they are measured: the centre, then once round."""
AT: Final[dict[Place, tuple[int, int]]] = {
    "centre": (0, 0),
    "far": (0, 1),
    "far right": (1, 1),
    "right": (1, 0),
    "near right": (1, -1),
    "near": (0, -1),
    "near left": (-1, -1),
    "left": (-1, 0),
    "far left": (-1, 1),
}
"""Where each lies, as halves of the picture: to the right, and away from whoever stands before it."""
CORNERS: Final[tuple[Place, ...]] = tuple(place for place, (x, y) in AT.items() if x and y)
Side = Literal["far", "right", "near", "left"]
SIDES: Final[tuple[Side, ...]] = get_args(Side)
Way = Literal["probe", "scan", "eye"]
Cause = Literal["even", "lens", "uneven", "one side", "light source", "short lens", "circle", "shaded"]
"""Why the light is uneven: the lens's own fall-off; more than that; one side darker than the other; a condenser (or
mixing box) for a smaller format; a lens for one; one of the two; something that stands in the light."""
EVEN: Final = 1.0 / 6.0
"""Stops within which light counts as even: under what is seen in a print's middle tones (common practice)."""
ENDS: Final = 1.0
"""Where light is by so many stops darker than any lens's own fall-off makes it, it has ended."""
DARK: Final = -1.5
"""And by so many than in the centre, at the least."""
MOST: Final = 5.0
"""Stops that are told at the most: there is no light to speak of."""
AS_THE_LENS: Final = 0.12
"""Stops within which the corners follow cos⁴."""
MOST_BURN: Final = 18
"""Twelfths of a stop on one edge."""
DRIFT: Final = 1.0 / 12.0
"""Stops by which the centre may come out otherwise when it is measured again."""
COVERS: Final = 0.9
"""Of the negative's diagonal, what a lens's focal length is at the least."""
_BLADES: Final = 1.0 / 6.0
"""Stops by which an edge may be darker than both corners beside it before a place is doubted."""

FORMATS_MM: Final[dict[str, tuple[float, float]]] = {
    "24x36": (36.0, 24.0),
    "6x4.5": (56.0, 41.5),
    "6x6": (56.0, 56.0),
    "6x7": (70.0, 56.0),
    "6x9": (84.0, 56.0),
    "4x5": (120.0, 96.0),
    "5x7": (170.0, 120.0),
    "8x10": (245.0, 195.0),
}
"""The picture on the negative, longer side first: of a film's frame, or what a holder leaves of a sheet (common sizes;
those of 5×7 and 8×10 from memory)."""


class EvennessFound(Frozen):
    """The light at eight places against the centre, in stops, and how the enlarger stood."""

    trial: Literal["evenness"] = "evenness"
    way: Way
    stops: dict[Place, float] = Field(min_length=len(PLACES), max_length=len(PLACES))
    """Against the centre, less than none where it is darker there."""
    cause: Cause
    magnification: float | None = Field(default=None, gt=0.0)
    focal_mm: float | None = Field(default=None, gt=0.0)
    aperture: float | None = Field(default=None, gt=0.0)
    negative_format: str = ""
    light_source: str = ""
    steady: bool = False
    """The centre was measured again in the end, and came out the same."""
    readings: str = ""
    """The last readings of empty light that there were when it was kept."""


class CoverageFound(Frozen):
    """Whether the light reaches the corners of a negative's format, and where it ends if not."""

    trial: Literal["coverage"] = "coverage"
    negative_format: str = ""
    focal_mm: float | None = Field(default=None, gt=0.0)
    light_source: str = ""
    covered: bool
    cause: Cause
    circle_mm: tuple[float, float] | None = None
    """Between which diameters on the negative the light ends; None where that cannot be told."""


@dataclass(frozen=True, slots=True)
class Stand:
    """What is known of the enlarger; None or empty where it is not."""

    magnification: float | None = None
    focal_mm: float | None = None
    aperture: float | None = None
    negative_format: str = ""
    light_source: Literal["diffuser", "condenser", ""] = ""

    @property
    def frame_mm(self) -> tuple[float, float] | None:
        """Width and height of the picture on the negative, the longer side first."""
        return FORMATS_MM.get(self.negative_format.replace("×", "x"))

    @property
    def diagonal_mm(self) -> float | None:
        """Of that picture."""
        return None if self.frame_mm is None else math.hypot(*self.frame_mm)


@dataclass(frozen=True, slots=True)
class Judged:
    """What a map says."""

    cause: Cause
    worst: Place
    worst_stops: float
    ended: tuple[Place, ...] = ()
    """Where there is no light to speak of."""
    natural: float | None = None
    """Stops that cos⁴ makes of the corners; None where lens, size or format are not known."""
    circle_mm: tuple[float, float] | None = None
    side: Side | None = None
    """The darker one, where one is."""
    fits: str = ""
    """The largest usual format that the circle of light is sure to cover; empty where none is known."""

    @property
    def covered(self) -> bool:
        """Whether light comes to every place."""
        return not self.ended


def natural_stops(focal_mm: float, magnification: float, radius_mm: float) -> float:
    """Return what cos⁴ θ is in stops for a point of the negative `radius_mm` from its middle; 0 or less."""
    tangent = radius_mm * magnification / (focal_mm * (1.0 + magnification))
    return -2.0 * math.log2(1.0 + tangent * tangent)


def stops_at(levels: Mapping[Place, float], again: float | None = None) -> dict[Place, float]:
    """Return the light at every place against the centre's, in stops, to a hundredth.

    `levels` are of any one unit; `again` is the centre's as it was measured last.

    Raises:
        Impossible: a place is missing, the centre has no light or has another by the end, or a place cannot be as it
            was measured beside its neighbours; nothing is found then, and the sentence says what to do.
    """
    missing = [place for place in PLACES if levels.get(place, 0.0) <= 0.0 or not math.isfinite(levels[place])]
    if missing:
        raise Impossible(say("evenness.missing", place=place_words(missing[0])))
    middle = levels["centre"]
    if again is not None and again > 0.0 and abs(off := math.log2(again / middle)) > DRIFT:
        raise Impossible(say("evenness.drift", stops=f"{off:+.2f}".replace("-", "−")))
    found = {place: round(max(-MOST, math.log2(levels[place] / middle)), 2) + 0.0 for place in PLACES}
    check_places(found)
    return found


def check_places(stops: Mapping[Place, float]) -> None:
    """See that the places can be as they were found.

    Along a side light rises towards the middle of it, wherever the bulb stands: an edge that is darker than both its
    corners was not measured there, or one of them was not. Raises `Impossible`.
    """
    for side in SIDES:
        beside = [stops[corner] for corner in corners_of(side)]
        if stops[side] < min(beside) - _BLADES:
            raise Impossible(say("evenness.moved", place=place_words(side)))
    over = next((place for place in PLACES if stops[place] > 1.0), None)
    if over is not None:
        raise Impossible(say("evenness.brighter", place=place_words(over), stops=f"{stops[over]:.1f}"))


def corners_of(side: Side) -> tuple[Place, ...]:
    """Return the two corners of a side."""
    across, away = AT[side]
    return tuple(each for each in CORNERS if AT[each][0] == across or AT[each][1] == away)


def place_words(place: Place) -> str:
    """Return what a place is called."""
    return say(f"evenness.place-{place.replace(' ', '-')}")


def judged(stops: Mapping[Place, float], stand: Stand) -> Judged:
    """Return why the light is as it is."""
    worst = min(PLACES, key=lambda place: stops[place])
    natural = _natural(stand)
    by_law = {place: 0.0 if natural is None else natural[place] for place in PLACES}
    ended = tuple(place for place in PLACES if stops[place] <= DARK and stops[place] - by_law[place] <= -ENDS)
    corner = None if natural is None else natural["far right"]
    if ended:
        circle = _circle(ended, stand) if set(CORNERS) <= set(ended) else None
        cause = _why_it_ends(stand) if set(CORNERS) <= set(ended) else "shaded"
        return Judged(cause, worst, stops[worst], ended, corner, circle, fits=_fits(circle))
    if stops[worst] >= -EVEN:
        return Judged("even", worst, stops[worst], natural=corner)
    side = _darker(stops)
    if side is not None:
        return Judged("one side", worst, stops[worst], natural=corner, side=side)
    mean = sum(stops[place] for place in CORNERS) / len(CORNERS)
    # a source that is graded makes up for some of it, and never adds to it
    as_the_lens = corner is not None and mean >= corner - AS_THE_LENS
    return Judged("lens" if as_the_lens else "uneven", worst, stops[worst], natural=corner)


def _natural(stand: Stand) -> dict[Place, float] | None:
    if stand.frame_mm is None or not stand.focal_mm or not stand.magnification:
        return None
    wide, high = stand.frame_mm
    return {
        place: natural_stops(stand.focal_mm, stand.magnification, math.hypot(x * wide / 2.0, y * high / 2.0))
        for place, (x, y) in AT.items()
    }


def _circle(ended: Sequence[Place], stand: Stand) -> tuple[float, float] | None:
    """Return between which diameters on the negative light ends."""
    if stand.frame_mm is None:
        return None
    wide, high = stand.frame_mm
    across = {place: math.hypot(x * wide, y * high) for place, (x, y) in AT.items()}
    lit = [across[place] for place in PLACES if place not in ended]
    return round(max(lit), 0), round(min(across[place] for place in ended), 0)


def _fits(circle: tuple[float, float] | None) -> str:
    """Return the largest usual format whose corners lie within what is sure to be lit."""
    if circle is None:
        return ""
    fit = [name for name, sides in FORMATS_MM.items() if math.hypot(*sides) <= circle[0] + 0.5]
    return max(fit, key=lambda name: math.hypot(*FORMATS_MM[name]), default="")


def _why_it_ends(stand: Stand) -> Cause:
    """Return whether a circle of light is the lens's or its source's: a lens that is long enough covers."""
    if stand.focal_mm is None or stand.diagonal_mm is None:
        return "circle"
    return "short lens" if stand.focal_mm < COVERS * stand.diagonal_mm else "light source"


def _darker(stops: Mapping[Place, float]) -> Side | None:
    """Return the side that is darker than the one across from it; None where both pairs are alike."""
    found: dict[Side, float] = {}
    for side, other in (("far", "near"), ("right", "left")):
        one, two = (_mean(stops, each) for each in (side, other))
        found[side if one < two else other] = abs(one - two)  # type: ignore[index]  # sides both
    side = max(found, key=lambda each: found[each])
    return side if found[side] > EVEN else None


def _mean(stops: Mapping[Place, float], side: str) -> float:
    across, away = AT[side]  # type: ignore[index]  # a side is a place
    row = [stops[place] for place, (x, y) in AT.items() if (across and x == across) or (away and y == away)]
    return sum(row) / len(row)


# ---- what mends it


def burnt(stops: Mapping[Place, float], burns: Mapping[Side, int]) -> dict[Place, float]:
    """Return the light at every place with edges burnt by so many twelfths of a stop each.

    A burn of e stops adds 2^e − 1 of the base's own light there, which is weakened as the base is; a corner has the
    burns of both its edges.
    """
    more: dict[Place, float] = {}
    for place, (across, away) in AT.items():
        near = [side for side in SIDES if place != "centre" and _along(side, across, away)]
        more[place] = sum(2.0 ** (burns.get(side, 0) / 12.0) - 1.0 for side in near)
    return {place: stops[place] + math.log2(1.0 + more[place]) for place in PLACES}


def _along(side: Side, across: int, away: int) -> bool:
    """Tell whether a place lies on a side."""
    of_side = AT[side]
    return (of_side[0] != 0 and across == of_side[0]) or (of_side[1] != 0 and away == of_side[1])


def edge_burns(stops: Mapping[Place, float]) -> dict[Side, int]:
    """Return the burns that make the light most even, in twelfths of a stop; empty where it is even as it is.

    Raises:
        Impossible: no burn of the edges brings every place within a sixth of a stop of the centre.
    """
    if min(stops.values()) >= -EVEN:
        return {}
    best = dict.fromkeys(SIDES, 0)
    worst = _off(stops, best)
    while True:
        tried = [(_off(stops, each), each) for each in _beside(best)]
        off, found = min(tried, key=lambda one: one[0])
        if off >= worst:
            break
        worst, best = off, found
    if worst[0] > EVEN:
        raise Impossible(say("evenness.no-burn", left=f"{worst[0]:.2f}"))
    return {side: twelfths for side, twelfths in best.items() if twelfths}


def _off(stops: Mapping[Place, float], burns: Mapping[Side, int]) -> tuple[float, float, int]:
    """Return how uneven it is left: the worst place to a hundredth, then all of them, then how much is burnt."""
    left = burnt(stops, burns)
    return (
        round(max(map(abs, left.values())), 2),
        round(sum(each * each for each in left.values()), 4),
        sum(burns.values()),
    )


def _beside(burns: dict[Side, int]) -> list[dict[Side, int]]:
    """Return every choice that is one step away: one or two edges by a twelfth, all by one."""
    found = []
    for one in (-1, 0, 1):
        for two in (-1, 0, 1):
            for three in (-1, 0, 1):
                for four in (-1, 0, 1):
                    each = {s: burns[s] + by for s, by in zip(SIDES, (one, two, three, four), strict=True)}
                    if all(0 <= value <= MOST_BURN for value in each.values()):
                        found.append(each)
    return found


def as_it_lies(burns: Mapping[Side, int], head: Side) -> dict[str, int]:
    """Return burns by the edges of a picture whose head lies on side `head`: top, right, bottom, left."""
    edges = ("top", "right", "bottom", "left")
    first = SIDES.index(head)
    by = {SIDES[(first + n) % 4]: edge for n, edge in enumerate(edges)}
    return {by[side]: twelfths for side, twelfths in burns.items()}
