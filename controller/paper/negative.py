"""The negative: its density range, what of it reaches the paper, and which R and grade to start with.

R = 100 × the effective range (ISO 6846, introduction). Effective = Q × diffuse range − flare, with Callier's Q
of the light source. Q and flare below are from memory: starting values a printer may change, never constants.
"""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.iso import Grade, grade_of, stated
from controller.paper.ladder import TYPICAL, Ladder, nearest_filter
from controller.paper.tones import Density, Seconds
from controller.words import say

LightSource = Literal["diffuser", "condenser"]
CALLIER: Final[dict[LightSource, float]] = {"diffuser": 1.0, "condenser": 1.2}
"""From memory: about 1.0 with a diffuser, 1.1 to 1.3 with a condenser."""
FLARE_DENSITY: Final = 0.0
SMALLEST_RANGE: Final = 0.1


class Through(Frozen):
    """The way from negative to paper: Callier's Q of the light source, and what flare takes off the range."""

    callier: float = Field(default=CALLIER["diffuser"], ge=0.8, le=2.0)
    flare_density: float = Field(default=FLARE_DENSITY, ge=0.0, le=1.0)


class Start(Frozen):
    """Where to start with a negative."""

    effective_range: float
    """Of densities, at the easel."""
    range_exact: float
    """The R that fits it."""
    grade: Grade
    filter: str
    filter_source: Literal["typical", "own"]

    @property
    def sentence(self) -> str:
        """What to start with, in one sentence."""
        return say(f"paper.start-{self.filter_source}", filter=self.filter)


def diffuse_range(thin: Density, dense: Density) -> float:
    """Return the density range between the thinnest and the densest tone that are to show detail.

    Raises:
        Impossible: the dense tone is not the denser one.
    """
    if dense - thin < SMALLEST_RANGE:
        raise Impossible(say("paper.negative-flat", thin=f"{thin:.2f}", dense=f"{dense:.2f}"))
    return dense - thin


def effective_range(diffuse: float, through: Through) -> float:
    """Return what of a diffuse density range the paper meets: Q × range − flare.

    Raises:
        Impossible: flare takes all of it.
    """
    left = through.callier * diffuse - through.flare_density
    if left < SMALLEST_RANGE:
        raise Impossible(say("paper.negative-flare", left=f"{left:.2f}"))
    return left


def start(effective: float, ladder: Ladder = TYPICAL) -> Start:
    """Return the R, the grade and the filter to start with for an effective range."""
    wanted = 100.0 * effective
    return Start(
        effective_range=effective,
        range_exact=wanted,
        grade=grade_of(effective),
        filter=nearest_filter(wanted, ladder).filter,
        filter_source=ladder.source,
    )


def range_from_two_picks(first_tone_seconds: float, full_black_seconds: float, range_through: float) -> float:
    """Return a negative's effective range without a densitometer, from one strip through one filter.

    `first_tone_seconds` is the band where the lightest part that is to show tone just does; `full_black_seconds`
    the band where the darkest part just merges with black; `range_through` is the paper's R through that filter.
    R/100 + log10(first tone/full black): where both come in one band, the R of that filter is the negative's
    (derived from the definitions of ISO 6846). Callier and flare are in it, since the enlarger made the strip.

    Raises:
        Impossible: the picks leave no range.
    """
    found = range_through / 100.0 + math.log10(first_tone_seconds / full_black_seconds)
    if found < SMALLEST_RANGE:
        raise Impossible(say("paper.negative-picks", left=f"{found:.2f}"))
    return found


def range_from_matched_picks(dense_seconds: float, thin_seconds: float) -> float:
    """Return the density range between two areas that print as the same grey after so many seconds each.

    The same grey means the same light on the paper, so the range is log10 of the times' ratio, whatever the paper.

    Raises:
        Impossible: the dense area did not need the longer time.
    """
    found = math.log10(dense_seconds / thin_seconds)
    if found < SMALLEST_RANGE:
        raise Impossible(say("paper.negative-picks", left=f"{found:.2f}"))
    return found


class Measured(Frozen):
    """A negative's range by densitometer."""

    kind: Literal["measured"] = "measured"
    thin: Density
    dense: Density
    source: LightSource
    callier: float | None = Field(default=None, ge=0.8, le=2.0)
    flare_density: float = Field(default=0.0, ge=0.0, le=1.0)


class FilterPicks(Frozen):
    """A negative's range by one strip through one filter, whose R is known: first tone, and full black."""

    kind: Literal["filter"] = "filter"
    first_tone_seconds: Seconds
    full_black_seconds: Seconds
    range_through: float = Field(gt=0.0, le=400.0)


class MatchedPicks(Frozen):
    """A negative's range by two areas that print as the same grey after so many seconds each."""

    kind: Literal["matched"] = "matched"
    dense_seconds: Seconds
    thin_seconds: Seconds


NegativeAsk = Annotated[Measured | FilterPicks | MatchedPicks, Field(discriminator="kind")]


class NegativeRange(Frozen):
    """What a negative's range means for the paper."""

    sentence: str
    """What to start with."""
    diffuse_range: float | None
    """As a densitometer has it; None where the enlarger itself found the range."""
    effective_range: float
    range_stated: int
    grade: str
    note: str
    """The same in one line, for a recipe's notes."""


def negative_range(ask: NegativeAsk, ladder: Ladder = TYPICAL) -> NegativeRange:
    """Return what reaches the paper of a negative's range, and what to start with.

    Raises:
        Impossible: the figures leave no range; the sentence says what to look at.
    """
    diffuse: float | None = None
    match ask:
        case Measured():
            callier = CALLIER[ask.source] if ask.callier is None else ask.callier
            diffuse = diffuse_range(ask.thin, ask.dense)
            effective = effective_range(diffuse, Through(callier=callier, flare_density=ask.flare_density))
            note = say("contrast.note-measured", thin=f"{ask.thin:.2f}", dense=f"{ask.dense:.2f}")
        case FilterPicks():
            effective = range_from_two_picks(ask.first_tone_seconds, ask.full_black_seconds, ask.range_through)
            note = say("contrast.note-picks")
        case MatchedPicks():
            effective = range_from_matched_picks(ask.dense_seconds, ask.thin_seconds)
            note = say("contrast.note-picks")
    found = start(effective, ladder)
    return NegativeRange(
        sentence=found.sentence,
        diffuse_range=diffuse,
        effective_range=effective,
        range_stated=stated(found.range_exact),
        grade=str(found.grade),
        note=say(
            "contrast.note-range",
            how=note,
            range=f"{effective:.2f}",
            r=stated(found.range_exact),
            filter=found.filter,
        ),
    )
