"""A decimal number as a person types it: read in this one place for pages and command line alike.

Point or comma, either minus, and a bare point before or behind the digits are all the same number. An exponent, a
thousands mark, “nan” and “inf” are none: whoever asked has the sentence for that, with the name of what was asked.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

MOST_DIGITS: Final = 15
"""Before and behind the point: what a float tells apart."""
_TEXT: Final = re.compile(
    rf"(?P<sign>[+\-−]?)\s*(?P<whole>[0-9]{{0,{MOST_DIGITS}}})(?:[.,](?P<part>[0-9]{{0,{MOST_DIGITS}}}))?"
)


def decimal_of(text: str) -> Decimal | None:
    """Return the number that was typed, with as many places as were typed; None where it is none."""
    found = _TEXT.fullmatch(text.strip())
    if found is None or not (found["whole"] or found["part"]):
        return None
    sign = "-" if found["sign"] in ("-", "−") else ""
    return Decimal(f"{sign}{found['whole'] or 0}{'.' if found['part'] else ''}{found['part'] or ''}")


def decimal_within(
    text: str, least: Decimal | float | str, most: Decimal | float | str, *, places: int = MOST_DIGITS
) -> Decimal | None:
    """Return the number that was typed; None where it is none, outside its limits, or has more than `places`."""
    value = decimal_of(text)
    if value is None or not Decimal(least) <= value <= Decimal(most):
        return None
    return value if places_of(value) <= places else None


def seconds(text: str) -> float:
    """Return the seconds that were typed, for an argument of a command; its name is what argparse calls them.

    Raises:
        ValueError: it is no number.
    """
    value = decimal_of(text)
    if value is None:
        raise ValueError(text)
    return float(value)


def places_of(value: Decimal) -> int:
    """Return how many digits stand behind the point."""
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int), "no NaN, no infinity"
    return max(0, -exponent)


def typed_text_of(value: Decimal | float | None) -> str:
    """Return a kept number as one would type it; empty where there is none."""
    return "" if value is None else f"{Decimal(str(value)):f}"
