"""The reckoning by itself: size, aperture, burn, dodge, dry-down, between two bands; developing time and cold baths."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, render_template, request

from controller.errors import ControllerError
from controller.exposure import reckon as reckoning
from controller.exposure.decimals import decimal_of, decimal_within, typed_text_of
from controller.exposure.stops import round_ms
from controller.trays import development as of_trays
from controller.words import say
from webui.forms.form import Fields
from webui.frame.guard import needs_day
from webui.pictures import Picture, size_picture
from webui.pictures.strip import stops_text
from webui.wording import known, seconds

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("reckon", __name__)

FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "size": ("negative_mm", "from_mm", "to_mm", "from", "to", "time"),
    "aperture": ("from", "to", "time"),
    "burn": ("base", "stops"),
    "dodge": ("base", "stops"),
    "dry-down": ("percent", "seconds"),
    "between": ("one", "two"),
    "develop": ("appearance", "factor"),
    "cold": ("seconds", "celsius"),
}
"""What each reckoning asks for, under the names in `controller.exposure.reckon`, the last two in
`controller.trays.development`; "time" is the page's own."""
UNITS: Final = {
    "negative_mm": "mm",
    "from_mm": "mm",
    "to_mm": "mm",
    "time": "s",
    "base": "s",
    "seconds": "s",
    "one": "s",
    "two": "s",
    "percent": "%",
    "appearance": "s",
    "factor": "×",
    "celsius": "°C",
}
SHORT_SIDE: Final = 0.8
"""Prints are drawn 5 : 4, since only their longer sides are asked for."""


@dataclass(frozen=True)
class Reckoned:
    """What came out: a figure to read at arm's length, and the rest of it; or why nothing did."""

    figure: str = ""
    lines: tuple[str, ...] = ()
    picture: Picture | None = None
    refusal: str = ""


@blueprint.get("/reckon")
@needs_day
def reckon() -> ResponseReturnValue:
    """Show every reckoning, and the answer to the one that was asked."""
    asked = request.args.get("of", "")
    names = FIELDS.get(asked, ())
    typed = Fields(f"shelf.reckon-{asked}-", request.args, names)
    found = answer(asked, typed) if typed.any(*names) else Reckoned()
    page = render_template(
        "reckon.html", fields=FIELDS, units=UNITS, label=label, asked=asked, typed=typed, found=found
    )
    return make_response(page, 422 if found.refusal else 200)


def answer(kind: str, typed: Fields) -> Reckoned:
    """Return the answer to what was typed for one reckoning, or the sentence that says what is missing."""
    given = {name: typed[name] for name in FIELDS[kind] if name != "time"}
    try:
        room = of_trays if kind in of_trays.QUANTITIES else reckoning
        found = room.reckon(kind, given, lambda name: f"“{label(kind, name)}”")
    except ControllerError as error:
        return Reckoned(refusal=str(error))
    match found:
        case reckoning.SizeAnswer():
            return _size(found, typed)
        case reckoning.ApertureAnswer():
            return Reckoned(_factor(found), _new_time(found.factor, typed))
        case reckoning.DodgeAnswer():
            return Reckoned(_seconds(found.held_back), (say("shelf.reckon-open", seconds=f"{found.open:.1f}"),))
        case reckoning.SecondsAnswer():
            return Reckoned(_seconds(found.seconds))
    return Reckoned(lines=found.lines())


def label(kind: str, name: str) -> str:
    """Return the label of a field: its own in this reckoning, or the one it has in all."""
    word = name.replace("_", "-")
    return known(f"shelf.reckon-{kind}-{word}", f"shelf.reckon-{word}")


def _size(found: reckoning.SizeAnswer, typed: Fields) -> Reckoned:
    figure = _factor(found)
    lines = (*_new_time(found.factor, typed), say("shelf.reckon-area-rule", factor=f"{found.area_rule:.2f}"))
    old, new = (decimal_of(typed[name]) for name in ("from_mm", "to_mm"))
    if old is None or new is None:
        return Reckoned(figure, lines)
    sides = [(float(long), float(long) * SHORT_SIDE) for long in (old, new)]
    captions = (say("shelf.size-old", long=typed_text_of(old)), say("shelf.size-new", long=typed_text_of(new)))
    return Reckoned(figure, lines, size_picture(*sides, ident="size", words=figure, captions=captions))


def _factor(found: reckoning.SizeAnswer | reckoning.ApertureAnswer) -> str:
    """Return a factor with its stops to the nearest sixth, which is as fine as a hand works."""
    return say("shelf.reckon-factor", factor=f"{found.factor:.2f}", stops=sixths_words(found.stops))


def sixths_words(stops: float) -> str:
    """Return stops as they are said, to the nearest sixth."""
    sixths = Fraction(round(abs(stops) * 6), 6)
    return stops_text(f"{'-' if stops < 0 and sixths else ''}{mixed(sixths)}")


def mixed(stops: Fraction) -> str:
    """Return a fraction as it is said: "2/3", "1 1/6", "2"."""
    whole, rest = divmod(stops, 1)
    return f"{whole} {rest}" if whole and rest else f"{rest or whole}"


def _new_time(factor: float, typed: Fields) -> tuple[str, ...]:
    """Return what a time becomes; nothing where none was typed, the remedy where it is no time."""
    text = typed["time"]
    if not text:
        return ()
    old = decimal_within(text, "0.1", "900")
    if old is None:
        return (say("shelf.reckon-no-time", found=text[:40]),)
    new = round_ms(Fraction(old) * 1000 * Fraction(str(factor)))
    return (say("shelf.reckon-becomes", old=seconds(round(old * 1000)), new=seconds(new)),)


def _seconds(value: float) -> str:
    return say("shelf.worth", seconds=seconds(round(value * 1000)))
