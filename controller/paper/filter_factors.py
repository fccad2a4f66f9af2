"""Single-filter work: what a change of filter does to the time, for one chosen tone, from a paper's own readings.

A filter factor belongs to a paper and holds for one tone only, so none is kept: it is read off the curves of the
two filters each time. Speed points (0.60 over base + fog) are what makers match. Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.errors import Impossible
from controller.paper.curve import Curve, draw
from controller.paper.iso import HIGH_SHARE, LOW, SPEED, figures
from controller.paper.ladder import Ladder, Rung
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.paper.paper import Paper
    from controller.paper.readings import Exposure

TONES: Final = {"first tone": LOW, "speed point": SPEED}


@dataclass(frozen=True)
class Changed:
    """A time through another filter that keeps one tone, and what it does to the ends of the scale."""

    seconds: float
    factor: float
    low_stops: float
    """How much sooner (+) or later (−) the first tone comes than it did, in stops of light."""
    high_stops: float
    """The same of full black."""


@dataclass(frozen=True)
class FilterCurve:
    """One filter's curve, and the seconds the tablet was printed with."""

    filter: str
    seconds: float
    curve: Curve


def filter_curve(name: str, exposure: Exposure) -> FilterCurve:
    """Return a filter's curve from a tablet printed through it alone.

    Raises:
        Impossible: as `curve.draw`.
    """
    return FilterCurve(name, exposure.soft_seconds + exposure.hard_seconds, draw(exposure))


def curves_of(paper: Paper) -> dict[str, FilterCurve]:
    """Return the curve of every single light a paper was read through, softest first as far as R is known.

    Prints through soft or hard alone count as well, under their filters' names (or “soft” and “hard”).

    Raises:
        Impossible: as `curve.draw`.
    """
    lights = {each.filter: each for each in paper.filters}
    names = {"soft": paper.setup.soft_filter or "soft", "hard": paper.setup.hard_filter or "hard"}
    for each in paper.readings.exposures if paper.readings is not None else ():
        if (each.soft_seconds and each.hard_seconds) or each.how == "eye":
            continue
        lights.setdefault(each.filter or names["soft" if each.soft_seconds else "hard"], each)
    curves = [filter_curve(name, each) for name, each in lights.items()]
    ranges = {each.filter: found.range_exact for each in curves if (found := figures(each.curve)) is not None}
    return {each.filter: each for each in sorted(curves, key=lambda each: -ranges.get(each.filter, 0.0))}


def own_ladder(curves: Mapping[str, FilterCurve]) -> Ladder:
    """Return the printer's own ladder of R from the filters that have been read.

    Raises:
        Impossible: no curve of them reaches from first tone to black.
    """
    rungs = []
    for name, each in curves.items():
        found = figures(each.curve)
        if found is not None:
            rungs.append(Rung(filter=name, range_exact=round(found.range_exact, 1)))
    if not rungs:
        raise Impossible(say("paper.ladder-none"))
    return Ladder(source="own", rungs=tuple(sorted(rungs, key=lambda rung: -rung.range_exact)))


def change_filter(before: FilterCurve, after: FilterCurve, seconds: float, print_density: float) -> Changed:
    """Return the time through another filter that prints one tone just as `seconds` did.

    Raises:
        Impossible: the tone lies outside what either curve reaches.
    """
    return _changed(
        seconds,
        *(
            {name: float(np.log10(each.seconds)) - each.curve.line.tablet(density) for name, density in points.items()}
            for each, points in ((each, _points(each, print_density)) for each in (before, after))
        ),
    )


def factor(before: FilterCurve, after: FilterCurve, over_base: float = SPEED) -> float:
    """Return the factor of time from one filter to another for the tone `over_base` above base + fog.

    Raises:
        Impossible: the tone lies outside what either curve reaches.
    """
    lights = [
        float(np.log10(each.seconds)) - each.curve.line.tablet(each.curve.line.dmin + over_base)
        for each in (before, after)
    ]
    if not np.isfinite(lights).all():
        raise Impossible(say("paper.factor-outside", density=f"{over_base:.2f}"))
    return float(10.0 ** (lights[1] - lights[0]))


def _points(each: FilterCurve, print_density: float) -> dict[str, float]:
    line = each.curve.line
    return {"kept": print_density, "low": line.dmin + LOW, "high": line.dmin + HIGH_SHARE * (line.dmax - line.dmin)}


def _changed(seconds: float, before: dict[str, float], after: dict[str, float]) -> Changed:
    """Return the change from the log10 of the light that each of three tones needs, before and after."""
    if not np.isfinite([*before.values(), *after.values()]).all():
        raise Impossible(say("paper.factor-reach"))
    decades = after["kept"] - before["kept"]
    stops = {name: (before[name] + decades - after[name]) / float(np.log10(2.0)) for name in ("low", "high")}
    return Changed(seconds * 10.0**decades, float(10.0**decades), stops["low"], stops["high"])
