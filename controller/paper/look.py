"""What a paper's page shows: one plain sentence, the curves, and one tap deeper the figures. Loads numpy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.errors import Impossible
from controller.paper.curve import draw
from controller.paper.emulsions import mixture, steady, thinnest
from controller.paper.fit import high_residuals
from controller.paper.graphs import Curves, NamedTone, curves_of
from controller.paper.iso import figures, speed_from_light
from controller.paper.readings import shown_seconds
from controller.paper.support import NONE, ROUGH, off_words, overall
from controller.paper.written import faults_of, written_of
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.faults import ReadingFault
    from controller.paper.iso import IsoFigures
    from controller.paper.paper import Paper
    from controller.paper.readings import Exposure

USUAL_TONES: Final = (0.20, 0.45, 0.70, 0.95, 1.20)
"""Densities of an ordinary negative from thin to dense (common practice), flagged until the printer's own are typed."""
USUAL_MIDDLE: Final = 0.70


@dataclass(frozen=True)
class Print:
    """One print of the tablet: its light in words, and what ISO 6846 says of its curve; or why it says nothing."""

    exposure: Exposure
    figures: IsoFigures | None
    why_not: str = ""

    @property
    def light(self) -> str:
        """The light, as it is said."""
        return shown_seconds(self.exposure)

    @property
    def log_range(self) -> float:
        """LER: the log exposure range, R/100."""
        return self.figures.range_exact / 100.0 if self.figures is not None else float("nan")

    @property
    def speed_seconds(self) -> float:
        """Seconds of this light, with no negative, that print 0.60 over base + fog."""
        assert self.figures is not None
        seconds = self.exposure.soft_seconds + self.exposure.hard_seconds
        return float(seconds * 10.0**-self.figures.speed_point_density)

    def speed(self, lux: float) -> float:
        """Return ISO speed P where this light gives `lux` at the easel with no negative."""
        return speed_from_light(lux * self.speed_seconds)


@dataclass(frozen=True)
class Look:
    """A paper as its page shows it."""

    paper: Paper
    plain: str
    """The one sentence a printer sees first."""
    spread: float
    """Density: what a prediction is usually off by."""
    strip: str
    """The one strip that would help most; empty where none would."""
    strip_needed: bool
    """The predictions are rough, or none at all, without it."""
    high: str
    """That the readings lie further off than readings do, and where; else empty."""
    faults: tuple[tuple[Exposure, ReadingFault], ...]
    prints: tuple[Print, ...]
    curves: Curves

    @property
    def supported(self) -> bool:
        """Tell whether the readings support a prediction at all."""
        return self.spread <= NONE


def look_at(paper: Paper) -> Look:
    """Return what a paper's page shows."""
    spread, strip = overall(paper)
    written = written_of(paper)
    return Look(
        paper=paper,
        plain=off_words(spread),
        spread=spread,
        strip=strip.sentence if strip is not None else "",
        strip_needed=spread > ROUGH,
        high=high_residuals(paper) or "",
        faults=faults_of(written) if written is not None else (),
        prints=tuple(_print(each) for each in written.prints) if written is not None else (),
        curves=_curves(paper),
    )


def _usual_light(paper: Paper) -> tuple[float, float]:
    """Return seconds, half soft and half hard, that print the middle of an ordinary negative as a middle grey."""
    mix = steady(mixture(paper))
    half = (mix.dmin + mix.dmax) / 2.0
    alone = [10.0 ** (USUAL_MIDDLE - float(thinnest(mix, *each, half))) for each in ((1.0, 0.0), (0.0, 1.0))]
    soft, hard = (each / 2.0 for each in alone)
    # Half of either alone is not quite the whole together: the sum is brought to the same grey.
    more = 10.0 ** (USUAL_MIDDLE - float(thinnest(mix, soft, hard, half)))
    return max(0.1, round(soft * more, 1)), max(0.1, round(hard * more, 1))


def _curves(paper: Paper) -> Curves:
    """Return the curves of the usual light, an ordinary negative's densities on them."""
    tones = [
        NamedTone(name=say("papers.negative-tone", density=f"{each:.2f}"), negative_density=each)
        for each in USUAL_TONES
    ]
    return curves_of(paper, *_usual_light(paper), tones)


def steps_off(paper: Paper) -> tuple[tuple[str, float, float], ...]:
    """Return for each print of the fit its light, and the root mean square and the worst of read − fitted."""
    from controller.paper.fit import residuals

    found: dict[str, list[float]] = {}
    for each in residuals(paper):
        found.setdefault(shown_seconds(each.exposure), []).append(each.off)
    return tuple((light, float(np.sqrt(np.mean(np.square(off)))), max(off, key=abs)) for light, off in found.items())


def _print(exposure: Exposure) -> Print:
    if exposure.how == "eye":
        return _by_eye(exposure)
    try:
        found = figures(draw(exposure))
    except Impossible as problem:
        return Print(exposure, None, str(problem))
    return Print(exposure, found, "" if found is not None else say("paper.curve-short", light=shown_seconds(exposure)))


def _by_eye(exposure: Exposure) -> Print:
    """Two steps picked by eye have no curve: their range is what lies between them (`paper.eye`)."""
    darkest, lightest = exposure.readings[0].tablet_density, exposure.readings[-1].tablet_density
    return Print(
        exposure,
        None,
        say("papers.by-eye-range", light=shown_seconds(exposure), range=f"{100 * (lightest - darkest):.0f}"),
    )
