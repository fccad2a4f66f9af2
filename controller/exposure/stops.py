"""Stops: their text, their exact value, the light they stand for, and the rounding of every computed time.

One stop doubles the light: t = t₀ · 2^stops. Stops are exact fractions; a power of two that is not a whole
number is carried to 60 digits, so that no rounding to 0.1 s can fall on the wrong side.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import Final

from controller.errors import Impossible
from controller.words import say

MOST_STOPS: Final = 5
TENTH_MS: Final = 100
_LONGEST_TEXT: Final = 40
_TEXT: Final = re.compile(
    r"(?P<sign>[+\-−]?)\s*(?:(?P<whole>[0-9]+)\s+)?(?:(?P<over>[0-9]+)/(?P<under>[0-9]+)|(?P<decimal>[0-9]+(?:\.[0-9]+)?))"
)


def parse_stops(text: str | int) -> Fraction:
    """Return the stops that `text` says: `N`, `N/D`, `N N/D` or a decimal, with a sign; within ±5.

    Raises:
        Impossible: the text says no stops, or too many.
    """
    value = _exact(str(text)) if not isinstance(text, bool) else None
    if value is None:
        raise Impossible(say("reckoning.stops-text", found=shown(text)))
    if abs(value) > MOST_STOPS:
        raise Impossible(say("reckoning.stops-range", found=shown(text), most=MOST_STOPS))
    return value


def parse_more_stops(text: str | int) -> Fraction:
    """Return stops as `parse_stops` does, where only more than none makes sense: a burn, a dodge, a strip's step.

    Raises:
        Impossible: as `parse_stops`, or the stops are none or less.
    """
    value = parse_stops(text)
    if value <= 0:
        raise Impossible(say("reckoning.stops-over-none", found=shown(text)))
    return value


def _exact(text: str) -> Fraction | None:
    text = text.strip()
    found = _TEXT.fullmatch(text) if len(text) <= _LONGEST_TEXT else None
    if found is None:
        return None
    if found["decimal"] is not None:
        if found["whole"] is not None:
            return None
        value = Fraction(found["decimal"])
    elif int(found["under"]) == 0:
        return None
    else:
        value = int(found["whole"] or 0) + Fraction(int(found["over"]), int(found["under"]))
    return -value if found["sign"] in ("-", "−") else value


def shown(value: object, most: int = 40) -> str:
    """Return `value` as it may stand in a sentence: printable, and no longer than `most`."""
    text = "".join(c if c.isprintable() else "·" for c in str(value)[: 2 * most])
    return text if len(text) <= most else f"{text[: most - 1]}…"


def fraction_text(stops: Fraction) -> str:
    """Return stops as the plain text that `parse_stops` reads: "0", "1/3", "4/3", "-1/2"."""
    return str(stops)


def signed_text(text: str | int, *, less: bool = False) -> str:
    """Return stops as they are said beside seconds: "+1", "+1/3"; with `less` "−1/3" (a dodge)."""
    bare = str(text).strip().lstrip("+-−").lstrip()
    return f"{'−' if less else '+'}{bare}"


@lru_cache(512)
def light_factor(stops: Fraction) -> Fraction:
    """Return 2^stops: exact for whole stops, else to 60 digits."""
    if stops.denominator == 1:
        return Fraction(2) ** stops.numerator
    with localcontext() as context:
        context.prec = 60
        return Fraction(Decimal(2) ** (Decimal(stops.numerator) / Decimal(stops.denominator)))


def stops_between(before: Fraction, after: Fraction) -> float:
    """Return how many stops more light `after` is than `before` (both above 0)."""
    return math.log2(after / before)


def figure_text(stops: float) -> str:
    """Return stops that were calculated as they are shown, three figures with a sign: "+0.971", "−1", "+0"."""
    return f"{stops:+.3g}".replace("-", "−")


def farthest_off(reference: Mapping[int, int | Fraction], given: Mapping[int, int | Fraction]) -> float | None:
    """Return by how many stops the step that is farthest off differs from the same step of a reference, with its sign.

    Both map a step's number to its light, in any one unit. Of steps that are equally far off the first one's sign is
    told; None where a step of the two had no light at all, or is missing in one: no stops lead from nothing.
    """
    if reference.keys() != given.keys() or not all((*reference.values(), *given.values())):
        return None
    off = (stops_between(Fraction(reference[number]), Fraction(given[number])) for number in sorted(reference))
    return max(off, key=abs, default=None)


def round_ms(exact_ms: Fraction | int) -> int:
    """Round a computed time to 0.1 s, half up; in and out in milliseconds."""
    return math.floor(Fraction(exact_ms) / TENTH_MS + Fraction(1, 2)) * TENTH_MS


def seconds_text(ms: int) -> str:
    """Return milliseconds as seconds for a person: 0.1 s, or as fine as they were typed."""
    if ms % TENTH_MS == 0:
        return f"{ms // 1000}.{ms % 1000 // TENTH_MS}"
    return f"{ms // 1000}.{ms % 1000:03d}".rstrip("0")


def dried_ms(ms: int, percent: Fraction) -> int:
    """Return a time less `percent`, rounded to 0.1 s; without dry-down the time as it was typed."""
    return round_ms(ms * (1 - percent / 100)) if percent else ms
