"""The one framework of typed forms: text in as it was typed, numbers and refusals out, lines added and moved.

What was typed is kept letter for letter, whether it makes sense or not: only where it is asked for a figure, or made
into the document that the controller reads, is it read or refused. So nothing typed is ever lost to a refusal. A page
that asks a few things has its `Fields`; a document with lines that come and go has a class of `Form`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any, Final, Generic, TypeVar

from werkzeug.datastructures import MultiDict

from controller.errors import ControllerError, Unreadable
from controller.exposure.decimals import decimal_of, decimal_within, places_of
from controller.exposure.stops import shown
from controller.words import has, say
from webui.frame.refusals import status_of

Typed = MultiDict[str, str]
Tree = dict[str, Any]
Place = tuple[int | str, ...]
Mistakes = dict[str, str]
"""Sentences by the input they belong to."""

OWN: Final = "own"
"""The choice that opens a field of one's own."""
MOST_LINES: Final = 60
MOST_PLACES: Final = 3
"""Digits behind the point that a recipe keeps of a figure."""
LONGEST_FIELD: Final = 200

F = TypeVar("F", bound="Form")
L = TypeVar("L")
T = TypeVar("T")


def typed_text(text: str) -> str:
    """Return text as it was typed: with the line ends of the sender made plain and without space around it."""
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def number(text: str) -> int | float | str | None:
    """Return typed text as a document has its number; None where nothing was typed.

    What is no number is handed on as it is: the reader has the sentence for it.
    """
    value = decimal_of(text)
    if value is None:
        return text or None
    return float(value) if places_of(value) else int(value)


# ---- what came of it


@dataclass(frozen=True)
class Refusal:
    """A sentence, and the input it belongs to; empty where it is about the whole."""

    words: str = ""
    at: str = ""
    status: int = 200


NONE: Final = Refusal()


@dataclass(frozen=True)
class Shown(Generic[T]):
    """What came of what was typed, or why nothing did; both, where only the next step was refused."""

    found: T | None = None
    refusal: Refusal = NONE


def shown_of(ask: Callable[[], T], places: Mapping[str, str]) -> Shown[T]:
    """Return what `ask` finds, or its refusal beside its field (`told`)."""
    try:
        return Shown(ask())
    except ControllerError as error:
        return Shown(refusal=told(places, error))


def told(names: Mapping[str, str], error: ControllerError) -> Refusal:
    """Return a refusal beside its field; `names` are the fields whose place is called otherwise."""
    place = "-".join(str(part) for part in error.place)
    return Refusal(str(error), names.get(place, place.replace("_", "-")), status_of(error, 409))


def to_correct(refusal: Refusal, label: Callable[[str], str]) -> tuple[tuple[str, str], ...]:
    """Return the wrong field and what it is called, for the line above the bar; nothing where none is wrong."""
    return ((refusal.at, label(refusal.at)),) if refusal.at and refusal.words else ()


# ---- a few fields


class Fields:
    """What was typed, by the names of the inputs; a label's key begins with `labels`."""

    def __init__(self, labels: str, typed: Mapping[str, str], names: Iterable[str]) -> None:
        self.labels = labels
        self.text = {name: typed_text(typed.get(name, ""))[:LONGEST_FIELD] for name in names}

    def __getitem__(self, name: str) -> str:
        return self.text.get(name, "")

    def any(self, *names: str) -> bool:
        """Tell whether something was typed into one of these fields."""
        return any(self[name] for name in names)

    def label(self, name: str) -> str:
        """Return what a field is called on the page."""
        return say(f"{self.labels}{name}")

    def called(self, name: str) -> str:
        """Return a field's label for a line elsewhere on the page; one without words of its own is "a field"."""
        key = f"{self.labels}{name}"
        return say(key if has(key) else "page.a-field")

    def figure(self, name: str, least: str, most: str, label: str = "", *, source: str = "") -> Decimal | None:
        """Return a typed number; None where nothing was typed. `source` is the field it stands in, if another.

        Raises:
            Unreadable: it is no number, or outside the limits; its place is the field.
        """
        text = self[source or name]
        if not text:
            return None
        value = decimal_within(text, least, most, places=MOST_PLACES)
        if value is None:
            raise self.no_figure(name, text, least, most, label)
        return value.normalize() if value == value.to_integral() else value

    def no_figure(self, name: str, text: str, least: str, most: str, label: str = "") -> Unreadable:
        """Return the refusal of a figure, at its field."""
        words = {"label": label or self.label(name), "found": shown(text), "least": least, "most": most}
        return Unreadable(say("contrast.no-number", **words), (name,))

    def needed(self, name: str, least: str, most: str, *, source: str = "") -> Decimal:
        """Return a number that has to be typed.

        Raises:
            Unreadable: as `figure`, and where nothing was typed.
        """
        value = self.figure(name, least, most, source=source)
        if value is None:
            raise Unreadable(say("contrast.missing", label=self.label(name), least=least, most=most), (name,))
        return value


def read_amount(
    text: str, name: str, key: str, least: float, most: float, wrong: Mistakes, **said: object
) -> float | None:
    """Return the number typed into an input; None, and a sentence in `wrong`, where it is none within its limits."""
    value = decimal_within(text, str(least), str(most))
    if value is None:
        limits = {"least": f"{least:g}".replace("-", "−"), "most": f"{most:g}"}
        wrong[name] = say(key, found=text[:40], **limits, **said)
        return None
    return float(value)


# ---- a document


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

    @classmethod
    def inputs(cls, prefix: str = "") -> tuple[str, ...]:
        """Return the names of the form's own inputs, those of its lines left out."""
        return tuple(
            input_name(field.name, prefix) for field in fields(cls) if field.type in ("str", "tuple[str, ...]")
        )

    def named(self) -> dict[str, str]:
        """Return the text of the form's own inputs, by name."""
        return {input_name(field.name): getattr(self, field.name) for field in fields(self) if field.type == "str"}


def texts_of(kind: str, lines: Iterable[Form]) -> dict[str, str]:
    """Return what was typed into the lines of a kind, by the names of their inputs."""
    return {f"{kind}-{number}-{name}": text for number, line in enumerate(lines) for name, text in line.named().items()}


def input_name(field: str, prefix: str = "") -> str:
    """Return the name of the input that holds a field."""
    return prefix + field.replace("_", "-")


def without_blanks(tree: Tree) -> Tree:
    """Return the tree without what was left empty, so that an untouched group is no group."""
    kept: Tree = {}
    for key, value in tree.items():
        inner = without_blanks(value) if isinstance(value, dict) else value
        if inner not in (None, "", {}):
            kept[key] = inner
    return kept


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


def line_numbers(typed: Typed, kind: str) -> tuple[int, ...]:
    """Return the numbers of the lines `kind-N-…` that a form has, in order, sixty at the most."""
    pattern = re.compile(rf"{kind}-([0-9]{{1,3}})-")
    found = {int(match[1]) for name in typed if (match := pattern.match(name))}
    return tuple(sorted(found))[:MOST_LINES]


@dataclass(frozen=True)
class Move:
    """What a button of a form asks for: `add`, `drop` or `up`, of a kind of line, at a number from 0."""

    verb: str
    kind: str
    line: int = 0


_MOVE: Final = re.compile(r"(add|drop|up) ([a-z]+)(?: ([0-9]{1,3}))?")


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
