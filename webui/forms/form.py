"""What the forms of recipes and strips share: typed text in and out, filters, stops in words, and lines.

A form keeps what was typed, letter for letter, whether it makes sense or not; only `tree()` of a form turns
it into the document that the controller reads or refuses. So nothing typed is ever lost to a refusal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, TypeVar

from werkzeug.datastructures import MultiDict

from controller.errors import Impossible
from controller.exposure.stops import parse_more_stops
from controller.words import say

Typed = MultiDict[str, str]
Tree = dict[str, Any]
Place = tuple[int | str, ...]

OWN: Final = "own"
"""The choice that opens a field of one's own."""
IN_SECONDS: Final = "seconds"
MOST_LINES: Final = 60
FILTERS: Final = ("soft", "hard", "00", "0", "1", "2", "3", "4", "5")
"""What the list of filters offers; any other name goes into the field beside it."""
STOPS: Final = ("1/12", "1/6", "1/4", "1/3", "1/2", "2/3", "3/4", "1", "1 1/3", "1 1/2", "1 2/3", "2", "2 1/2", "3")
"""What the list of stops offers; any other amount goes into the field beside it."""
FINENESS: Final = ("1/2", "1/3", "1/6")
"""Coarse, usual, fine."""

_PLAIN_NUMBER: Final = re.compile(r"[+\-]?[0-9]{1,15}(?:[.,][0-9]{1,15})?")

F = TypeVar("F", bound="Form")


@dataclass(frozen=True)
class Form:
    """Typed text by field; the name of an input is the field's, with dashes, after its line's prefix."""

    @classmethod
    def read(cls: type[F], typed: Typed, prefix: str = "") -> F:
        """Return the form that was typed; what is not there is empty. Lines of `Line` fields are left out."""
        found: dict[str, object] = {}
        for field in fields(cls):
            name = input_name(field.name, prefix)
            if field.type == "str":
                found[field.name] = typed_text(typed.get(name, ""))
            elif field.type == "tuple[str, ...]":
                found[field.name] = tuple(typed.getlist(name))
        return cls(**found)


def input_name(field: str, prefix: str = "") -> str:
    """Return the name of the input that holds a field."""
    return prefix + field.replace("_", "-")


def typed_text(text: str) -> str:
    """Return text as it was typed: with the line ends of the sender made plain and without space around it."""
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def line_numbers(typed: Typed, kind: str) -> tuple[int, ...]:
    """Return the numbers of the lines `kind-N-…` that a form has, in order, sixty at the most."""
    pattern = re.compile(rf"{kind}-([0-9]{{1,3}})-")
    found = {int(match[1]) for name in typed if (match := pattern.match(name))}
    return tuple(sorted(found))[:MOST_LINES]


def number(text: str) -> int | float | str | None:
    """Return typed text as the number it says, a comma read as a point; None where nothing was typed.

    What is no number is handed on as it is: the reader has the sentence for it.
    """
    if not text:
        return None
    if not _PLAIN_NUMBER.fullmatch(text):
        return text
    plain = text.replace(",", ".")
    return float(plain) if "." in plain else int(plain)


def typed_number(value: Decimal | float | None) -> str:
    """Return a kept number as one would type it; empty where there is none."""
    return "" if value is None else f"{Decimal(str(value)):f}"


def without_blanks(tree: Tree) -> Tree:
    """Return the tree without what was left empty, so that an untouched group is no group."""
    kept: Tree = {}
    for key, value in tree.items():
        inner = without_blanks(value) if isinstance(value, dict) else value
        if inner not in (None, "", {}):
            kept[key] = inner
    return kept


# ---- filters


@dataclass(frozen=True)
class LightLine(Form):
    """A filter and its seconds, as typed."""

    filter: str = "soft"
    filter_own: str = ""
    seconds: str = ""

    @property
    def filter_name(self) -> str:
        """The filter that was chosen from the list or typed beside it."""
        return self.filter_own if self.filter == OWN else self.filter

    def tree(self) -> Tree:
        """Return the line as the document has it."""
        return without_blanks({"filter": self.filter_name, "seconds": number(self.seconds)})


def light_line(filter_name: str, seconds: Decimal | None) -> LightLine:
    """Return the line that shows a kept light."""
    chosen, own = chosen_or_own(filter_name, FILTERS)
    return LightLine(filter=chosen, filter_own=own, seconds=typed_number(seconds))


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


# ---- where a refusal belongs


def beside(place: Place, names: Iterable[str], renamed: Mapping[str, str]) -> str:
    """Return the input that a refusal at `place` of the document belongs to; empty where it is about the whole.

    `names` are the inputs that are there, `renamed` the keys with another input name than their own. A place
    that has no input of its own goes to the input above it, or to the first inside it.
    """
    there = tuple(names)
    parts = [str(part) for part in place]
    while parts:
        path = ".".join(parts)
        generic = re.sub(r"\.[0-9]+(?=\.|$)", ".*", path)
        name = renamed.get(path) or _numbered(renamed.get(generic, ""), parts) or path.replace(".", "-")
        name = name.replace("_", "-")
        if name in there:
            return name
        inside = next((other for other in there if other.startswith(f"{name}-")), "")
        if inside:
            return inside
        parts.pop()
    return ""


def _numbered(pattern: str, parts: list[str]) -> str:
    numbers = iter([part for part in parts if part.isdigit()])
    return re.sub(r"\*", lambda _: next(numbers, "0"), pattern)


# ---- lines added, taken away and moved by plain buttons


@dataclass(frozen=True)
class Move:
    """What a button of a form asks for: `add`, `drop` or `up`, of a kind of line, at a number from 0."""

    verb: str
    kind: str
    line: int = 0


_MOVE: Final = re.compile(r"(add|drop|up) ([a-z]+)(?: ([0-9]{1,3}))?")
L = TypeVar("L")


def read_move(text: str) -> Move | None:
    """Return the move a button stands for; None where it stands for something else."""
    match = _MOVE.fullmatch(text)
    return Move(match[1], match[2], int(match[3] or 0)) if match else None


def moved(lines: tuple[L, ...], move: Move, fresh: L) -> tuple[L, ...]:
    """Return the lines after a move; one that makes no sense changes nothing."""
    at = move.line
    match move.verb:
        case "add" if len(lines) < MOST_LINES:
            return (*lines, fresh)
        case "drop" if at < len(lines):
            return lines[:at] + lines[at + 1 :]
        case "up" if 0 < at < len(lines):
            return (*lines[: at - 1], lines[at], lines[at - 1], *lines[at + 1 :])
    return lines
