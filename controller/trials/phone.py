"""The phone test, pure: how bright a phone's dark page may be where it lies beside the paper.

It is the safelight's test once more with the phone in the safelight's place: total darkness, and the phone's page at
one level of red. What phone and safelight give adds up; each time is half of what makes a visible change (K-4), so
that paper may lie beside both for the smaller of the two.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.trials.safelight import LEAST_GREY, MOST_GREY, Answer, Minutes, check_grey, in_order, safe_minutes

LEAST_MINUTES: Final = 1.0
"""A level that is safe for less may not be used beside paper; our own choice: no print is in the fix sooner."""


class PhoneFound(Frozen):
    """The last quarters that do not differ, with the phone's dark page at one level of red where it lies."""

    trial: Literal["phone"] = "phone"
    before: Minutes
    after: Minutes
    alone: Minutes
    grey: float = Field(ge=LEAST_GREY, le=MOST_GREY)
    level: int = Field(ge=1, le=5)
    """The level of red that it stood at."""
    safe_minutes: float = Field(gt=0.0, le=7.0)
    passed: bool
    """It may lie beside paper at this level for so long."""


def phone_found(before: Answer, after: Answer, alone: Answer, grey: float, level: int) -> PhoneFound:
    """Return what the answers mean for a phone that stood at this level of red; the smallest counts.

    Raises:
        Unreadable: as `safelight.found`; nothing is found then.
    """
    check_grey(grey)
    three = in_order(before, after, alone)
    least: Minutes = min(three)
    minutes = safe_minutes(least)
    return PhoneFound(
        before=three[0],
        after=three[1],
        alone=three[2],
        grey=grey,
        level=level,
        safe_minutes=minutes,
        passed=minutes >= LEAST_MINUTES,
    )


def together(safelight: float, phone: float) -> float:
    """Return how many minutes paper may lie beside both; `safelight` 0 where that was never tested."""
    return min(safelight, phone) if safelight else phone
