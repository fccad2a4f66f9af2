"""What the forms of a recipe and a strip have in common: set-up, lights, filters, stops and lines."""

from __future__ import annotations

import json
import re
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Protocol

from controller.enlarger.standing import Setting
from controller.errors import Impossible
from controller.exposure.decimals import decimal_of, typed_text_of
from controller.exposure.stops import parse_more_stops, shown
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.words import has, say
from webui.forms.form import OWN, Form, Place, Tree, Typed, line_numbers, number, without_blanks

IN_SECONDS: Final = "seconds"
FILTERS: Final = ("soft", "hard", "00", "0", "1", "2", "3", "4", "5")
"""What the list of filters offers; any other name goes into the field beside it."""
STOPS: Final = ("1/12", "1/6", "1/4", "1/3", "1/2", "2/3", "3/4", "1", "1 1/3", "1 1/2", "1 2/3", "2", "2 1/2", "3")
"""What the list of stops offers; any other amount goes into the field beside it."""
FINENESS: Final = ("1/2", "1/3", "1/6")
"""Coarse, usual, fine."""

SETUP_PLACES: Final[Mapping[str, str]] = {
    "lens.focal_mm": "lens-focal",
    "lens.aperture": "lens-aperture",
    "head_height_mm": "head-height",
}
"""Where a key of the set-up has another name than its field."""

_LINE: Final = re.compile(r"(light|local|under|after|tools|hands)-([0-9]+)-")
"""How the name of a line's input begins."""
_LABELS: Final[Mapping[str, str]] = {
    "lens-aperture": "aperture",
    "lens-focal": "focal",
    "base": "burn-base",
    "bands": "how-many",
    "card": "card-legend",
    "filter-own": "filter-own-name",
    "fineness-own": "fineness-own-stops",
    "carrier": "light-carrier",
    "words": "work-words",
    "dose": "dose-more",
    "dose-own": "dose-own-stops",
}
"""Where an input's label has another name in the catalogue than the input."""
_SUCH: Final[Mapping[str, str]] = {
    "lens-aperture": "8",
    "lens-focal": "80 mm",
    "head-height": "620 mm",
    "magnification": "4.5",
    "image-long": "240 mm",
    "image-short": "180 mm",
    "dry-down": "8 %",
    "flash-seconds": "1.5 s",
    "height-mm": "120 mm",
    "developer-celsius": "20 °C",
    "developer-seconds": "90 s",
    "seconds": "12.5 s",
    "step": "3 s",
    "centre": "10 s",
    "base": "10 s",
    "gap": "4 s",
}
"""The fields of a number, each with one that would do."""


@dataclass(frozen=True)
class SetupForm(Form, ABC):
    """Negative, paper, size and filters, as typed."""

    negative_name: str = ""
    negative_format: str = ""
    paper_name: str = ""
    paper_support: str = ""
    paper_size: str = ""
    magnification: str = ""
    lens_focal: str = ""
    lens_aperture: str = ""
    head_height: str = ""
    filters_soft: str = ""
    filters_hard: str = ""

    @abstractmethod
    def tree(self) -> Tree:
        """Return the document that was typed, right or wrong."""

    @abstractmethod
    def beside(self, place: Place) -> str:
        """Return the input that a refusal at `place` belongs to; empty where it is about the whole."""

    @abstractmethod
    def filled(self, key: str) -> tuple[int, ...]:
        """Return which lines (from 0) of the form stand in the document's list `key`: an empty one is none."""

    def in_form(self, place: Place) -> Place:
        """Return a place of the document as one of the form, where empty lines are counted too."""
        match place:
            case (str() as key, int() as number, *beyond) if number < len(filled := self.filled(key)):
                return (key, filled[number], *beyond)
        return place

    def texts(self) -> dict[str, str]:
        """Return what was typed into every input, by name."""
        return self.named()

    def line_name(self, key: str, number: int) -> str:
        """Return the words for line `number` (from 0) of the document's list `key`; empty where none is shown."""
        return say(f"shelf.nth-{key}", nth=nth(number)) if key in ("light", "under", "after", "tools", "hands") else ""

    def label(self, name: str) -> str:
        """Return what an input is called on the page, a line's with its line: "Seconds, the second base exposure"."""
        line = _LINE.match(name)
        if line is None:
            return field_label(name)
        outer = self.line_name(line[1], int(line[2]))
        return say("shelf.field-of", label=field_label(name), line=outer) if outer else field_label(name)

    def place_name(self, place: Place) -> str:
        """Return what the place of a value is called on the page; empty where it has no field."""
        match self.in_form(place):
            case (str() as key, int() as number, *beyond) if outer := self.line_name(key, number):
                label = field_label(self.beside(place)) if beyond else ""
                return say("recipe.place-in", inner=f"“{label}”", outer=outer) if label else outer
        label = field_label(self.beside(place))
        return f"“{label}”" if label else ""

    def no_number(self, name: str) -> str:
        """Return the sentence for a field of a number that holds none; empty where it holds one, or is none."""
        text, such = self.texts().get(name, ""), _SUCH.get(_LINE.sub("", name), "")
        if not such or not text or decimal_of(text) is not None:
            return ""
        return say("shelf.no-number", label=self.label(name), such=such, found=shown(text))

    def text(self) -> str:
        """Return the document as text, for the desk."""
        return json.dumps(self.tree(), ensure_ascii=False, indent=2)

    def sums(self) -> dict[str, str]:
        """Return what is typed into each group, in a line that stands for it while it is shut."""
        aperture = f"f/{self.lens_aperture}" if self.lens_aperture else ""
        head = f"{self.head_height} mm" if self.head_height else ""
        paper = f"{self.paper_size} {self.paper_support}".strip()
        return {
            "negative": in_a_line(self.negative_name, self.negative_format, self.paper_name, paper),
            "size": in_a_line(aperture, head),
            "filters": in_a_line(self.filters_soft, self.filters_hard),
        }

    def setup(self) -> Tree:
        """Return the set-up's part of the document."""
        return {
            "negative": {"name": self.negative_name, "format": self.negative_format},
            "paper": {"name": self.paper_name, "support": self.paper_support, "size": self.paper_size},
            "magnification": number(self.magnification),
            "lens": {"focal_mm": number(self.lens_focal), "aperture": number(self.lens_aperture)},
            "head_height_mm": number(self.head_height),
            "filters": {"soft": self.filters_soft, "hard": self.filters_hard},
        }


def in_a_line(*parts: str) -> str:
    """Return what there is of these, in a line."""
    return " · ".join(part for part in parts if part)


def field_label(name: str) -> str:
    """Return what an input is called, its line left out; empty where it has no words of its own."""
    bare = _LINE.sub("", name)
    line = _LINE.match(name)
    own = f"{line[1]}-{bare}" if line and line[1] in ("tools", "hands") else ""
    key = f"shelf.{own or _LABELS.get(bare, bare)}"
    return say(key) if bare and has(key) else ""


def setup_of(kept: Recipe | Strip | Setting) -> dict[str, str]:
    """Return the fields of `SetupForm` that show a kept recipe's or strip's set-up, or what stands at the enlarger."""
    negative, paper, lens, filters = kept.negative, kept.paper, kept.lens, kept.filters
    return {
        "negative_name": negative.name if negative else "",
        "negative_format": (negative.format if negative else None) or "",
        "paper_name": (paper.name if paper else None) or "",
        "paper_support": (paper.support if paper else None) or "",
        "paper_size": (paper.size if paper else None) or "",
        "magnification": typed_text_of(kept.magnification),
        "lens_focal": typed_text_of(lens.focal_mm if lens else None),
        "lens_aperture": typed_text_of(lens.aperture if lens else None),
        "head_height": typed_text_of(kept.head_height_mm),
        "filters_soft": (filters.soft if filters else None) or "",
        "filters_hard": (filters.hard if filters else None) or "",
    }


def nth(number: int) -> str:
    """Return the number of a line (from 0) in words."""
    words = say("shelf.nths").split()
    return words[number] if number < len(words) else say("shelf.nth-more", number=number + 1)


# ---- filters


class FilterChoice:
    """A form with a filter from the list, or typed beside it."""

    filter: str
    filter_own: str

    @property
    def filter_name(self) -> str:
        """The filter that was chosen from the list or typed beside it."""
        return self.filter_own if self.filter == OWN else self.filter


@dataclass(frozen=True)
class LightLine(FilterChoice, Form):
    """A filter and its seconds, as typed."""

    seconds: str = ""
    filter: str = "soft"
    filter_own: str = ""
    carrier: str = ""
    """Of a recipe's base; a strip is of one negative."""

    @property
    def empty(self) -> bool:
        """Nothing is typed in it: the filter that stands there by itself says nothing."""
        return not (self.seconds or self.filter_own)

    def tree(self) -> Tree:
        """Return the line as the document has it."""
        tree: Tree = {"filter": self.filter_name, "seconds": number(self.seconds), "carrier": self.carrier}
        return without_blanks(tree)


def light_line(filter_name: str, seconds: Decimal | None) -> LightLine:
    """Return the line that shows a kept light."""
    chosen, own = chosen_or_own(filter_name, FILTERS)
    return LightLine(filter=chosen, filter_own=own, seconds=typed_text_of(seconds))


class _Line(Protocol):
    @property
    def empty(self) -> bool: ...


def filled_lines(lines: Iterable[_Line]) -> tuple[int, ...]:
    """Return the numbers (from 0) of the lines in which something is typed."""
    return tuple(number for number, line in enumerate(lines) if not line.empty)


def read_lines(typed: Typed, kind: str) -> tuple[LightLine, ...]:
    """Return the lights that were typed under `kind`."""
    return tuple(LightLine.read(typed, f"{kind}-{line}-") for line in line_numbers(typed, kind))


def chosen_or_own(value: str, choices: Iterable[str]) -> tuple[str, str]:
    """Return what a list and the field beside it show for `value`."""
    return (value, "") if value in choices else (OWN, value)


# ---- stops


def stops_words(text: str, *, less: bool) -> str:
    """Return stops as the page says them: "a third more, +1/3", "a third less, −1/3"."""
    key = text.replace(" ", "-").replace("/", "of")
    words = say(f"shelf.stops-{key}")
    return say("shelf.stops-less" if less else "shelf.stops-more", words=words, stops=text)


def exact(text: str) -> Fraction | None:
    """Return typed stops as an exact fraction; None where they say none."""
    try:
        return parse_more_stops(text)
    except Impossible:
        return None
