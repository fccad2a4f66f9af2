"""What a recipe of picks is called, unless the printer says otherwise: after what it shows, and the sheets it is of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from controller.exposure.stops import seconds_text
from controller.recipe.pick import Pick
from controller.recipe.strip import Strip
from controller.words import say

_LONGEST_NAME: Final = 120
"""Letters of a negative's name in a title: there is room for what was picked, too."""
_LONGEST_TITLE: Final = 200
_MOST_SHEETS: Final = 4
"""Sheets that a title names, the last ones."""
_OPEN: Final = {"name": "(.+)", "seconds": r"[\d.]+", "filter": ".+?", "filters": ".+?"}
_NUMBERS: Final = r"(\d+(?:, \d+)*)"


def pick_title(strip: Strip, pick: Pick, number: int) -> str:
    """Return what a new recipe of a pick is called: what it shows, what was picked, and the sheet `number` it is of.

    So two picks of one negative are told apart. It is no longer than a title may be.
    """
    return _of_one(strip.negative.name if strip.negative else strip.title, pick, number)


def next_title(title: str, filters: Sequence[str], pick: Pick, number: int) -> str:
    """Return what a recipe is called once a base was picked into it, from sheet `number`; `filters` are its lights'.

    A title that was proposed for its earlier picks would say only those: it names its filters and all its sheets
    instead. Times are not in it, for verdicts change them. A title of the printer's own stays.
    """
    found = next(filter(None, (re.fullmatch(_pattern(key), title) for key in _PROPOSED)), None)
    if found is None or pick.kind != "base":
        return title
    name, before = found.groups()
    if len(filters) == 1:
        return _of_one(name, pick, number)
    sheets = tuple(dict.fromkeys((*before.split(", "), str(number))))[-_MOST_SHEETS:]
    made = say("reckoning.pick-title-several", name=name, filters=" + ".join(filters), numbers=", ".join(sheets))
    return made if len(made) <= _LONGEST_TITLE else title


_PROPOSED: Final = ("reckoning.pick-title", "reckoning.pick-title-numbered", "reckoning.pick-title-several")


def _pattern(key: str) -> str:
    """Return what a proposed title looks like, whatever its name, its seconds and its filters are."""
    marks = {name: f"\0{place}\0" for place, name in enumerate((*_OPEN, "number", "numbers"))}
    pattern = re.escape(say(key, **marks))
    for name, mark in marks.items():
        pattern = pattern.replace(re.escape(mark), _OPEN.get(name, _NUMBERS))
    return pattern


def _of_one(name: str, pick: Pick, number: int) -> str:
    name = name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"
    numbered, seconds = pick.filter[:1].isdigit(), seconds_text(round(pick.seconds * 1000))
    if pick.kind == "burn":
        key = "reckoning.pick-title-burn-numbered" if numbered else "reckoning.pick-title-burn"
        stops = f"+{pick.stops}" if Fraction(pick.stops) else pick.stops
        return say(key, name=name, stops=stops, filter=pick.filter, number=number)
    key = "reckoning.pick-title-numbered" if numbered else "reckoning.pick-title"
    return say(key, name=name, seconds=seconds, filter=pick.filter, number=number)
