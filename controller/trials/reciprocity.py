"""The reciprocity test, pure: its strip, and the exponent that follows from the band that matches.

A middle grey is printed with the lens two stops further down, in each band for four times as long as before and so many
twelfths of a stop more; the last band is the same grey as it was found. Where light a quarter as strong does in t' what
the whole does in t, t'/t = 4^(1/p): with k twelfths more than four times as long, p = 2/(2 + k/12).
Source: Schwarzschild's law, effect = intensity · time^p (from memory). No exponent of a paper was found in print, so
none is assumed: 1 until it is tested.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.exposure.stops import light_factor, round_ms, seconds_text
from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import TEST_SOURCE, Hands, Plan, Step, StepKind, StripPlan
from controller.recipe.set_up import SetUp
from controller.recipe.strip_templates import FULL_STOPS
from controller.words import say

NAME: Final = "reciprocity"
STOPS: Final = 2
"""By how many stops the lens is stopped down."""
TWELFTHS: Final = (-1, 0, 1, 2, 3, 4)
"""What each band has over four times the time: exponents from 1.04 down to 0.86."""
BANDS: Final = len(TWELFTHS) + 1
"""The last one is the grey that the others are compared with."""
LEAST_GREY: Final = 0.25
MOST_GREY: Final = 1.60
"""Between these print densities a twelfth of a stop is seen (common practice)."""
LEAST_MS: Final = 4_000
"""A shorter light is not known well enough to compare long ones with."""
SMALLEST: Final = 32.0
"""Few lenses can be stopped down further."""
MOST_EXPONENT: Final = 1.02
"""No paper does more in long light than in short (common practice): what looks so is the lens's ring, or the hand."""
EYE_TWELFTHS: Final = 0.25
"""How far off, of a twelfth, the band or the place between two is that looks alike."""
READ_DENSITY: Final = 0.01
"""To what a print density is read."""
_FELL: Final = 0.02
"""A band that has more light, and is lighter by more than this, was not given what it should have been."""


class ReciprocityFound(Frozen):
    """A paper's exponent, and what it was found from."""

    trial: Literal["reciprocity"] = "reciprocity"
    exponent: float = Field(ge=0.5, le=1.5)
    uncertain: float = Field(ge=0.0, le=0.5)
    """As a standard deviation, of what was seen or read."""
    twelfths: float
    """How much more than four times as long the grey took, in twelfths of a stop."""
    how: Literal["eye", "densities"]
    seconds: float = Field(gt=0.0)
    """Of the grey at the larger aperture."""
    aperture: str
    filter: str


class Grey(Frozen):
    """The light that a grey was found with: what the test begins from."""

    ms: int = Field(ge=1)
    filter: str
    aperture: float = Field(gt=0.0)


# ---- the strip


def narrow(aperture: float) -> str:
    """Return the f-number two stops further down, as a lens's ring has it."""
    marked = [*map(float, FULL_STOPS)]
    if aperture in marked[:-STOPS]:
        return FULL_STOPS[marked.index(aperture) + STOPS]
    return f"{2 * aperture:g}"


def times_ms(grey: Grey) -> list[int]:
    """Return how long the bands at the smaller aperture are lit, in order, to 0.1 s."""
    return [round_ms(4 * grey.ms * light_factor(Fraction(k, 12))) for k in TWELFTHS]


def plan(grey: Grey, title: str, longest_ms: int) -> Plan:
    """Return the strip: a window that is moved on, six bands at the smaller aperture, then the grey itself.

    The lens stands in the end where it stood at first. All lights are shares of the grey's, so that lamp lag is in none
    of the comparisons.

    Raises:
        Impossible: the grey was found with too short or too long a light, or at too small an aperture.
    """
    times = times_ms(grey)
    if grey.ms < LEAST_MS:
        least = seconds_text(LEAST_MS)
        raise Impossible(say("reciprocity.short", seconds=seconds_text(grey.ms), least=least))
    if max(times) > longest_ms:
        most = seconds_text(longest_ms // 6)
        raise Impossible(say("reciprocity.long", seconds=seconds_text(grey.ms), most=most))
    if 2 * grey.aperture > SMALLEST:
        raise Impossible(say("reciprocity.aperture", aperture=f"{grey.aperture:g}"))
    marked = {False: narrow(grey.aperture), True: f"{grey.aperture:g}"}
    steps = []
    for n, ms in enumerate((*times, grey.ms), 1):
        last = n == BANDS
        steps.append(
            Step(
                number=n,
                name=say("reciprocity.band", band=n, bands=BANDS, aperture=marked[last]),
                act=StepKind.BAND,
                filter=grey.filter,
                planned_ms=ms,
                base_ms=grey.ms,
                hands=Hands.TWO_STOPS_DOWN if n == 1 else Hands.TWO_STOPS_OPEN if last else None,
                card="recipe.card-window-first" if n == 1 else "recipe.card-window-next",
            )
        )
    totals = (*times, grey.ms)
    strip = StripPlan(filter=grey.filter, kind="stops", card="window", pace="press", totals_ms=totals, pulses_ms=totals)
    return Plan(
        source=f"{TEST_SOURCE}{NAME}",
        version=1,
        kind="strip",
        title=title,
        steps=tuple(steps),
        strip=strip,
        wants=SetUp(aperture=float(grey.aperture)),
    )


def grey_of(plan: Plan) -> Grey:
    """Return the grey that a sheet of this test began from."""
    last = plan.steps[-1]
    return Grey(ms=last.planned_ms, filter=last.filter, aperture=float(plan.aperture))


def grey_at(bench: AtEnlarger, seconds: Decimal | float, filter_name: str) -> Grey:
    """Return the grey of a pick or base that was found as the enlarger stands.

    Raises:
        Impossible: nobody has said at which aperture.
    """
    if bench.aperture is None:
        raise Impossible(say("reciprocity.no-aperture"))
    return Grey(ms=round(float(seconds) * 1000), filter=filter_name, aperture=bench.aperture)


# ---- what it says


def exponent_of(twelfths: float) -> float:
    """Return the exponent of a paper that wants so many twelfths of a stop more than four times the time."""
    return STOPS / (STOPS + twelfths / 12.0)


def by_eye(band: int, *, between: bool, grey: Grey) -> ReciprocityFound:
    """Return what it means that `band`, or the place between it and the next, looks like the last band.

    Raises:
        Impossible: there is no such band, or it says what no paper does; nothing is found then.
    """
    if not 1 <= band <= len(TWELFTHS) - between:
        raise Impossible(say("reciprocity.no-band", band=band, last=len(TWELFTHS)))
    twelfths = sum(TWELFTHS[band - 1 : band + between]) / (1 + between)
    return _found(twelfths, EYE_TWELFTHS, "eye", grey)


def by_densities(read: Sequence[float], grey: Grey) -> ReciprocityFound:
    """Return what the print densities of all bands say, the last one's last.

    Raises:
        Impossible: too few, a grey in which nothing is seen, bands out of their order, or none to either side of the
            grey; the sentence names what and what to do, and nothing is found then.
    """
    if len(read) != BANDS:
        raise Impossible(say("reciprocity.all", bands=BANDS))
    *bands, wanted = read
    if not LEAST_GREY <= wanted <= MOST_GREY:
        limits = {"least": f"{LEAST_GREY:.2f}", "most": f"{MOST_GREY:.2f}"}
        raise Impossible(say("reciprocity.grey", found=f"{wanted:.2f}", **limits))
    for n, (one, two) in enumerate(pairwise(bands), 1):
        if two < one - _FELL:
            raise Impossible(say("reciprocity.order", band=n + 1, before=n))
    if wanted > max(bands):
        raise Impossible(say("reciprocity.lighter"))
    if wanted < bands[0]:
        raise Impossible(say("reciprocity.darker"))
    at = next(n for n in range(len(bands) - 1) if bands[n + 1] >= wanted)
    rise = max(bands[at + 1] - bands[at], 1e-6)
    twelfths = TWELFTHS[at] + min(1.0, max(0.0, (wanted - bands[at]) / rise))
    steep = max((bands[-1] - bands[0]) / (TWELFTHS[-1] - TWELFTHS[0]), 1e-3)
    return _found(twelfths, READ_DENSITY * 2.0**0.5 / steep, "densities", grey)


def none_alike(which: Literal["lighter", "darker"]) -> Impossible:
    """Return what to say where all bands are lighter than the last one, or all darker."""
    return Impossible(say(f"reciprocity.{which}"))


def _found(twelfths: float, off: float, how: Literal["eye", "densities"], grey: Grey) -> ReciprocityFound:
    exponent = exponent_of(twelfths)
    if exponent > MOST_EXPONENT:
        raise Impossible(say("reciprocity.over-one", exponent=f"{exponent:.2f}"))
    return ReciprocityFound(
        exponent=round(min(1.0, exponent), 3),
        uncertain=round(exponent**2 / STOPS / 12.0 * off, 3),
        twelfths=round(twelfths, 2),
        how=how,
        seconds=grey.ms / 1000,
        aperture=f"{grey.aperture:g}",
        filter=grey.filter,
    )
