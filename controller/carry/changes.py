"""How a carried value is kept: as round as may be, and so that the way back finds the typed value again.

A typed value is known to half its last place. Carried by a factor, it may be kept as any value within that much;
the roundest of them is taken. Back again, the typed value is the only one as round within reach, so that
carrying there and back changes nothing typed to the coarsest place (0.1 s), for factors from 1/100 to 100.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field

from controller.model import Frozen
from controller.paper.tones import Stops
from controller.recipe.fields import Aperture, FilterName, HeadHeight, Magnification, Millimetres, Percent
from controller.recipe.recipe import Flash, Paper
from controller.recipe.set_up import SetUp


def carried_value(typed: Decimal, factor: Fraction, coarsest: Decimal, places: int) -> Decimal:
    """Return `typed` times `factor`, kept no coarser than `coarsest` and no finer than `places` decimals."""
    finest = Decimal(1).scaleb(-places)
    place = max(finest, min(coarsest, _last_place(typed)))
    exact = Fraction(typed) * factor
    reach = Fraction(place) / 2 * factor
    step = coarsest
    while step > finest:
        kept = _nearest(exact, step)
        # Half open, as rounding half up is: the way back from either edge must round to the typed value.
        if -reach <= Fraction(kept) - exact < reach:
            return kept
        step /= 10
    return _nearest(exact, finest)


def _last_place(typed: Decimal) -> Decimal:
    """Return what the last decimal that counts is worth."""
    exponent = typed.normalize().as_tuple().exponent
    assert isinstance(exponent, int)
    return Decimal(1).scaleb(min(exponent, 0)) if exponent < 0 else Decimal(1)


def _nearest(exact: Fraction, step: Decimal) -> Decimal:
    """Return the multiple of `step` nearest to an exact value, half up."""
    count = Fraction(exact) / Fraction(step)
    whole = (2 * count.numerator + count.denominator) // (2 * count.denominator)
    return (Decimal(whole) * step).quantize(step, rounding=ROUND_HALF_UP)


class ToSize(Frozen):
    """Another size: by magnification, or by the projected image where the recipe has its own size and magnification."""

    kind: Literal["size"] = "size"
    magnification: Magnification | None = None
    image_mm: tuple[Millimetres, Millimetres] | None = None
    pupil: Annotated[float, Field(ge=0.3, le=3.0)] = 1.0
    head_height_mm: HeadHeight | None = None
    """The column's reading at the new size, where the printer has read it; else reckoned from the focal length."""
    paper_size: str | None = None


class ToAperture(Frozen):
    """Another marked aperture."""

    kind: Literal["aperture"] = "aperture"
    aperture: Aperture


class FilterStops(Frozen):
    """How much more time one filter needs on another paper, in stops."""

    filter: FilterName
    stops: Stops


class ToPaper(Frozen):
    """Another paper, with its own correction for each filter, its dry-down, and its flash where that is known."""

    kind: Literal["paper"] = "paper"
    paper: Paper
    stops: tuple[FilterStops, ...]
    dry_down_percent: Percent | None = None
    flash: Flash | None = None
    flash_stops: Stops | None = None
    """How much more the flash needs, in stops, where that was reckoned; else it takes the correction of its filter."""


class ToDryDown(Frozen):
    """Another dry-down."""

    kind: Literal["dry-down"] = "dry-down"
    dry_down_percent: Percent | None


class ToFlash(Frozen):
    """Another flash, from a threshold strip; or none."""

    kind: Literal["flash"] = "flash"
    flash: Flash | None
    found_at: SetUp | None = None
    """How the enlarger stood for the strip that found it; None where it was found as the new print is made."""


Change = Annotated[ToSize | ToAperture | ToPaper | ToDryDown | ToFlash, Field(discriminator="kind")]
