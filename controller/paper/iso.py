"""Speed and range of a paper by ISO 6846, and the grades of the handbooks.

Low point H_T: 0.04 above base + fog. High point H_S: 90 % of the net density above base + fog. R = 100·(log10 H_S
− log10 H_T), stated to the nearest 10. Speed point H_m: 0.60 above base + fog, ISO speed P = 1000/H_m in lux·s.
Grades: ANSI PH2.2-1966, appendix (its outer limits seen, the inner ones from memory); standards since 1981
define none, and a filter number is not a grade.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

from controller.model import Frozen

if TYPE_CHECKING:
    from controller.paper.curve import Curve, Mixed, Threaded
    from controller.paper.emulsions import Mixture

LOW: Final = 0.04
HIGH_SHARE: Final = 0.90
SPEED: Final = 0.60
LOG_STOP: Final = math.log10(2.0)
SPEED_CONSTANT: Final = 1000.0
GRADES: Final[tuple[tuple[float, int], ...]] = ((1.40, 0), (1.15, 1), (0.95, 2), (0.80, 3), (0.65, 4), (0.50, 5))
"""The least log exposure range of each grade; the lower limit belongs to it."""
SOFTEST_RANGE: Final = 1.70

Grade = Literal[0, 1, 2, 3, 4, 5, "softer than 0", "harder than 5"]


class IsoFigures(Frozen):
    """What ISO 6846 says of one exposure's curve."""

    dmin: float
    dmax: float
    range_exact: float
    """R before it is rounded."""
    range_spread: float
    """Its standard deviation."""
    speed_point_density: float
    """The tablet density at the speed point: how much the open light can be cut until 0.60 is left."""

    @property
    def range_stated(self) -> int:
        """R to the nearest 10, as it is stated."""
        return stated(self.range_exact)

    @property
    def grade(self) -> Grade:
        """The grade by the handbooks' table."""
        return grade_of(self.range_exact / 100.0)

    @property
    def speed_point_stops(self) -> float:
        """The speed point on the scale of light, in stops from the open light (0): minus what the tablet may cut."""
        return -self.speed_point_density / LOG_STOP

    def speed(self, lux_seconds: float) -> float:
        """Return ISO speed P, where the open light has given `lux_seconds` at the easel."""
        return speed_from_light(lux_seconds * 10.0**-self.speed_point_density)


def figures(curve: Curve) -> IsoFigures | None:
    """Return the figures of a curve; None where its readings do not reach from the low to the high point."""
    line: Mixed | Threaded = curve.line
    net = line.dmax - line.dmin
    points = [line.tablet(line.dmin + each) for each in (LOW, SPEED, HIGH_SHARE * net)]
    if not all(math.isfinite(point) for point in points):
        return None
    return IsoFigures(
        dmin=line.dmin,
        dmax=line.dmax,
        range_exact=100.0 * (points[0] - points[2]),
        range_spread=line.range_spread(LOW, HIGH_SHARE),
        speed_point_density=points[1],
    )


def range_of(mix: Mixture, soft_seconds: float, hard_seconds: float) -> float:
    """Return R, exact, of a paper under a mix of soft and hard light (only their ratio matters)."""
    from controller.paper.emulsions import thinnest  # loads numpy: only when used

    low, high = thinnest(mix, soft_seconds, hard_seconds, [mix.dmin + LOW, mix.dmin + HIGH_SHARE * mix.net])
    return 100.0 * float(low - high)


def stated(range_exact: float) -> int:
    """Return R to the nearest 10, half up."""
    return 10 * math.floor(range_exact / 10.0 + 0.5)


def grade_of(log_range: float) -> Grade:
    """Return the grade of a log exposure range by the handbooks' table; limits belong to the softer grade."""
    # A range reckoned from R/100 may be a hair under its limit.
    ranged = round(log_range, 9)
    if ranged >= SOFTEST_RANGE:
        return "softer than 0"
    for least, grade in GRADES:
        if ranged >= least:
            return grade  # type: ignore[return-value]
    return "harder than 5"


def speed_from_light(lux_seconds: float) -> float:
    """Return ISO speed P of a paper that needs `lux_seconds` for its speed point: P = 1000/H_m."""
    return SPEED_CONSTANT / lux_seconds
