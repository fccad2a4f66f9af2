"""The safelight test, pure: what the quarters of a sheet tell of how long paper may lie under this safelight.

Source: Kodak Publication K-4 (October 2006), “How Safe Is Your Safelight?”: paper with a light grey on it is the most
easily fogged; a safe time is at most half the time that makes a visible change.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.errors import Unreadable
from controller.model import Frozen
from controller.words import say

WAITS_S: Final = (240, 120, 60)
"""The card is moved on by a quarter after each of these waits: at first it leaves one quarter open, at last three."""
QUARTERS_MIN: Final = (7, 3, 1, 0)
"""What the quarters have had in the end, in minutes; the last one lay covered from the start."""
Minutes = Literal[0, 1, 3, 7]
LEAST_GREY: Final = 0.25
MOST_GREY: Final = 0.50
"""Between these a grey shows the least change; reflection densities, as K-4 has them."""
Half = Literal["before", "after", "alone"]
"""Under the safelight before the grey was exposed, after it, and without any other light."""


class SafelightFound(Frozen):
    """The last quarters that do not differ from the covered one, and how long paper may lie there."""

    trial: Literal["safelight"] = "safelight"
    before: Minutes
    after: Minutes
    alone: Minutes
    grey: float = Field(ge=LEAST_GREY, le=MOST_GREY)
    """The density of the grey, as far as it was told."""
    safe_minutes: float = Field(gt=0.0, le=7.0)
    case: Literal["A", "B", "C"]
    """As K-4 tells its three examples apart: safe for seven minutes, not safe, safe for less."""


def first_change(last_same: Minutes) -> int | None:
    """Return after how many minutes the first quarter differs; None: none does."""
    return {0: 1, 1: 3, 3: 7, 7: None}[last_same]


def safe_minutes(last_same: Minutes) -> float:
    """Return how long paper may lie there: what left no change, and at most half of what made the first one."""
    changed = first_change(last_same)
    return 7.0 if changed is None else min(float(last_same) or changed / 2, changed / 2)


def found(before: Minutes, after: Minutes, alone: Minutes, grey: float) -> SafelightFound:
    """Return what the answers mean; the smallest of them counts, since what paper gets adds up.

    Raises:
        Unreadable: the grey is out of limits, or paper without a grey was fogged sooner than paper with one; nothing
            is found then, and the sentence says what to do.
    """
    check_grey(grey)
    if alone < min(before, after):
        raise Unreadable(say("trials.safelight-order"), ("alone",))
    least = min(before, after, alone)
    case: Literal["A", "B", "C"] = "A" if least == 7 else "B" if least == 0 else "C"
    return SafelightFound(
        before=before, after=after, alone=alone, grey=grey, safe_minutes=safe_minutes(least), case=case
    )


def check_grey(grey: float) -> None:
    """See that a grey shows a small change. Raises `Unreadable` outside 0.25 to 0.50."""
    if not LEAST_GREY <= grey <= MOST_GREY:
        key = "trials.safelight-grey-light" if grey < LEAST_GREY else "trials.safelight-grey-dark"
        raise Unreadable(say(key, found=f"{grey:.2f}", least=f"{LEAST_GREY:.2f}", most=f"{MOST_GREY:.2f}"), ("grey",))
