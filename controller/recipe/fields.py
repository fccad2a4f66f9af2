"""The kinds of value that a written file may hold: seconds, millimetres, stops, filters, words; each with its limits.

A value that is not as it must be is refused with a key of the catalogue; `controller.recipe.files` makes the
sentence. Numbers are kept as they were typed (`Decimal`), stops as their text, so that a file read and written
again says the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Annotated, Any, Final, Literal, LiteralString

from pydantic import AfterValidator, PlainSerializer, PlainValidator, Strict, ValidationInfo
from pydantic_core import PydanticCustomError

from controller.errors import Impossible
from controller.exposure.stops import parse_more_stops, shown
from controller.words import say
from hardware.timing import MOST_LIGHT_MS, Timing

LONGEST_MS: Final = Timing().longest_light_ms
BOTH: Final = "both"
"""In local work: through each base's filter in turn."""
END: Final = "end"
"""Of what is asked of the hands: after the last light."""
LARGEST_BYTES: Final = 256 * 1024
JOINING: Final = frozenset("\u200c\u200d")
"""Seen only in what they join or part: several signs into one picture, letters of scripts that are written joined."""
TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Turn the direction of what follows, so that words read other than they are (UAX #9, explicit directions)."""


def refusal(key: LiteralString, /, **values: object) -> PydanticCustomError:
    """Return a refusal that says `key` of the catalogue with `values`; the reading adds file and place."""
    return PydanticCustomError(key, key, values)


def told(value: object) -> str:
    """Return a value of a file as a sentence may quote it: printable, short, and named where it is no plain value."""
    match value:
        case bool():
            return "true" if value else "false"
        case Mapping():
            return say("recipe.an-object")
        case str() | int() | float() | Decimal():
            return shown(value)
        case None:
            return "null"
    return say("recipe.a-list")


def _number(value: object) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise refusal("recipe.not-a-number", found=told(value))
    number = value if isinstance(value, Decimal) else Decimal(str(value))
    if not number.is_finite():
        raise refusal("recipe.not-a-number", found=told(number))
    return number


def _places(number: Decimal) -> int:
    """Return the digits behind the point that count."""
    _, digits, exponent = number.as_tuple()
    assert isinstance(exponent, int)
    bare = len(digits)
    while bare > 1 and digits[bare - 1] == 0:
        bare -= 1
    return 0 if digits[bare - 1] == 0 else max(0, -(exponent + len(digits) - bare))


def _within(value: object, least: Decimal, most: Decimal, unit: str, places: int) -> Decimal:
    number = _number(value)
    limits = {"least": f"{least}", "most": f"{most}", "unit": unit}
    if not least <= number <= most:
        raise refusal("recipe.out-of-range", found=told(value), **limits)
    if _places(number) > places:
        raise refusal("recipe.too-fine", found=told(value), places=places, **limits)
    return number


def _amount(least: str, most: str, unit: str, places: int = 3) -> Callable[[Any], Decimal]:
    lower, upper = Decimal(least), Decimal(most)
    return lambda value: _within(value, lower, upper, unit, places)


def _seconds(value: Any, info: ValidationInfo) -> Decimal:
    # What the program puts together itself tells no longest: what compiles it holds it to the one that is set.
    longest_ms = (info.context or {}).get("longest_ms", MOST_LIGHT_MS)
    return _within(value, Decimal("0.1"), Decimal(longest_ms) / 1000, "seconds", 3)


def _whole(least: int, most: int) -> Callable[[Any], int]:
    def check(value: Any) -> int:
        number = _number(value)
        if not least <= number <= most or number != math.floor(number):
            raise refusal("recipe.not-whole", found=told(value), least=least, most=most)
        return int(number)

    return check


def _before(value: Any) -> int | str:
    if value == END:
        return END
    if isinstance(value, str):
        raise refusal("recipe.hands-before", found=told(value), end=END)
    return _entry(value)


_entry = _whole(1, 64)


def plain_number(number: Decimal) -> int | float:
    """Return a kept number as it is written into a file: 12 stays 12, 12.0 stays 12.0, 10.1 stays 10.1."""
    exponent = number.as_tuple().exponent
    return int(number) if isinstance(exponent, int) and exponent >= 0 else float(number)


def _words(most: int, *, lines: bool = False) -> Callable[[str], str]:
    def check(text: str) -> str:
        if not TURNING.isdisjoint(text):
            raise refusal("recipe.words-turned", found=told(text))
        allowed = JOINING | set("\n\r\t") if lines else JOINING
        odd = any(not c.isprintable() and c not in allowed for c in text) or (text != "" and JOINING.issuperset(text))
        if odd or len(text) > most or (not lines and (not text or text != text.strip())):
            raise refusal("recipe.words-lines" if lines else "recipe.words", found=told(text), most=most)
        return text

    return check


def _filter(name: str) -> str:
    if not name.isprintable() or not 1 <= len(name) <= 12 or name != name.strip():
        raise refusal("recipe.filter-name", found=told(name))
    return name


def _base_filter(name: str) -> str:
    if name == BOTH:
        raise refusal("recipe.filter-both")
    return _filter(name)


def _stops(value: Any) -> str | int:
    if isinstance(value, Decimal) and value.as_tuple().exponent == 0:
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise refusal("recipe.stops-kind", found=told(value))
    try:
        parse_more_stops(value)
    except Impossible as error:
        raise refusal("recipe.stops", problem=str(error).rstrip(".")) from None
    return value


_Number = PlainSerializer(plain_number, when_used="json")

Seconds = Annotated[Decimal, PlainValidator(_seconds), _Number]
"""From 0.1 to the longest light (validation context `longest_ms`), to the millisecond."""
GapSeconds = Annotated[Decimal, PlainValidator(_amount("1.5", "60", "seconds")), _Number]
TraySeconds = Annotated[Decimal, PlainValidator(_amount("1", "3600", "seconds")), _Number]
Millimetres = Annotated[Decimal, PlainValidator(_amount("0.1", "10000", "mm")), _Number]
HeadHeight = Annotated[Decimal, PlainValidator(_amount("0", "10000", "mm")), _Number]
Magnification = Annotated[Decimal, PlainValidator(_amount("0.01", "200", "as a magnification", 6)), _Number]
Aperture = Annotated[Decimal, PlainValidator(_amount("0.5", "128", "as an f-number")), _Number]
ColumnOffset = Annotated[Decimal, PlainValidator(_amount("-10000", "10000", "mm")), _Number]
Callier = Annotated[Decimal, PlainValidator(_amount("1", "3", "as a Callier factor")), _Number]
LagSeconds = Annotated[Decimal, PlainValidator(_amount("0", "0.5", "seconds", 4)), _Number]
Celsius = Annotated[Decimal, PlainValidator(_amount("1", "60", "°C")), _Number]
Percent = Annotated[Decimal, PlainValidator(_amount("0", "50", "per cent")), _Number]
Bands = Annotated[int, PlainValidator(_whole(2, 24))]
Sheets = Annotated[int, PlainValidator(_whole(2, 50))]
"""That are flashed in one go: a box of 25 twice; what lies open on a table is no more."""
GridSide = Annotated[int, PlainValidator(_whole(1, 20))]
"""Rows, or columns, in which frames lie on a contact sheet."""
Share = Annotated[Decimal, PlainValidator(_amount("0", "1", "as a share of the picture", 6)), _Number]
FilmDensity = Annotated[Decimal, PlainValidator(_amount("0", "6", "as a density")), _Number]
EditionSize = Annotated[int, PlainValidator(_whole(1, 250))]
"""Prints of one edition."""
Proofs = Annotated[int, PlainValidator(_whole(0, 50))]
"""Artist's proofs beside an edition."""
PrintNumber = Annotated[int, PlainValidator(_whole(1, 250))]
VersionNumber = Annotated[int, PlainValidator(_whole(1, 1_000_000))]
SpreadStops = Annotated[Decimal, PlainValidator(_amount("-30", "30", "stops")), _Number]
Money = Annotated[Decimal, PlainValidator(_amount("0", "1000000", "as an amount of money", 2)), _Number]
ToolHeight = Annotated[Decimal, PlainValidator(_amount("0", "2000", "mm")), _Number]
"""Of a tool above the paper; one that lies on it has 0."""
Before = Annotated[int | Literal["end"], PlainValidator(_before)]
"""The number of an entry of a recipe, or its end."""
Milliseconds = Annotated[int, PlainValidator(_whole(0, 86_400_000))]
Stops = Annotated[str | int, PlainValidator(_stops)]
"""More than none and at most 5; kept as typed, reckoned with `parse_more_stops`."""
YesOrNo = Annotated[bool, Strict()]
FilterName = Annotated[str, AfterValidator(_base_filter)]
FilterOrBoth = Annotated[str, AfterValidator(_filter)]
Area = Annotated[str, AfterValidator(_words(12))]
Words = Annotated[str, AfterValidator(_words(200))]
Notes = Annotated[str, AfterValidator(_words(LARGEST_BYTES, lines=True))]


def milliseconds(seconds: Decimal) -> int:
    """Return typed seconds in milliseconds; exact, since no more than milliseconds can be typed."""
    return int(seconds * 1000)
