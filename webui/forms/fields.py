"""A sentence, and the input it belongs to."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from controller.errors import ControllerError, Unreadable
from controller.exposure.stops import shown
from controller.words import say
from webui.forms.form import typed_text
from webui.frame.refusals import status_of


@dataclass(frozen=True)
class Refusal:
    """A sentence, and the input it belongs to; empty where it is about the whole."""

    words: str = ""
    at: str = ""
    status: int = 200


MOST_PLACES: Final = 3
"""Digits behind the point that a recipe keeps of what is typed here."""
_NUMBER: Final = re.compile(rf"[+]?([0-9]{{1,6}})(?:[.,]([0-9]{{1,{MOST_PLACES}}}))?")


class Fields:
    """What was typed, letter for letter, by the names of the inputs; a label's key begins with `labels`."""

    def __init__(self, labels: str, typed: Mapping[str, str], names: Iterable[str]) -> None:
        self.labels = labels
        self.text = {name: typed_text(typed.get(name, ""))[:200] for name in names}

    def __getitem__(self, name: str) -> str:
        return self.text.get(name, "")

    def any(self, *names: str) -> bool:
        """Tell whether something was typed into one of these fields."""
        return any(self[name] for name in names)

    def label(self, name: str) -> str:
        """Return what a field is called on the page."""
        return say(f"{self.labels}{name}")

    def figure(self, name: str, least: str, most: str, label: str = "") -> Decimal | None:
        """Return a typed number, a comma read as a point; None where nothing was typed.

        Raises:
            Unreadable: it is no number, or outside the limits; its place is the field.
        """
        text = self[name]
        if not text:
            return None
        found = _NUMBER.fullmatch(text)
        value = Decimal(f"{found[1]}.{found[2] or 0}") if found else None
        if value is None or not Decimal(least) <= value <= Decimal(most):
            words = {"label": label or self.label(name), "found": shown(text), "least": least, "most": most}
            raise Unreadable(say("contrast.no-number", **words), (name,))
        return value.normalize() if value == value.to_integral() else value

    def needed(self, name: str, least: str, most: str) -> Decimal:
        """Return a number that has to be typed.

        Raises:
            Unreadable: as `figure`, and where nothing was typed.
        """
        value = self.figure(name, least, most)
        if value is None:
            raise Unreadable(say("contrast.missing", label=self.label(name), least=least, most=most), (name,))
        return value


def told(names: Mapping[str, str], error: ControllerError) -> Refusal:
    """Return a refusal beside its field; `names` are the fields whose place is called otherwise."""
    place = "-".join(str(part) for part in error.place)
    return Refusal(str(error), names.get(place, place.replace("_", "-")), status_of(error, 409))
