"""A set of negatives, as it lies on a contact sheet: `treadle/negatives/1`, as frozen models.

A set is a film, or some sheets of film, that was exposed, developed and proofed together. A negative is one frame of
it, known by what stands beside it on the film's edge; everywhere else it goes by its reference, "SET:FRAME".
"""

from __future__ import annotations

import json
import re
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Final, Literal, Self, get_args

from pydantic import AfterValidator, Field, PlainSerializer, PlainValidator, model_validator

from controller.errors import NotThere
from controller.model import Frozen
from controller.negatives.on_proof import goes_round
from controller.recipe import versioned
from controller.recipe.fields import FilmDensity, GridSide, Notes, Share, Words, refusal, told
from controller.recipe.model_schema import Tree
from controller.recipe.outline import Outline
from controller.recipe.versioned import PlaceNames, VersionedForm
from controller.words import say

NEGATIVES: Final = "treadle/negatives/1"
KIND: Final = "negatives"
"""As the shelf calls a set."""
MOST_FRAMES: Final = 80
"""Of one set: more than any roll that is proofed on one sheet of paper, half frames on a 35 mm film included."""
MOST_AREAS: Final = 12
"""Of one frame: more than a printer's hands burn and dodge in one evening."""
LONGEST_NOTES: Final = 4000
OLDEST: Final = date(1826, 1, 1)
NEWEST: Final = date(2199, 12, 31)

Mark = Literal["print", "maybe", "no"]
"""What a pencil says on a proof."""
MARKS: Final[tuple[Mark, ...]] = get_args(Mark)
LOOKS: Final = ("-1", "-2/3", "-1/3", "0", "1/3", "2/3", "1")
"""How a frame stands on the proof, in stops: above 0 it is too light there and wants more."""
CORNERS: Final = ("top-left", "top-right", "bottom-right", "bottom-left")
_FRAME: Final = re.compile(r"[0-9A-Za-z][0-9A-Za-z-]{0,7}")


def _frame(text: Any) -> str:
    if not isinstance(text, str) or not _FRAME.fullmatch(text):
        raise refusal("negatives.frame-name", found=told(text))
    return text


def _day(value: Any) -> date:
    try:
        # `fromisoformat` also takes weeks and days without dashes, which no one reads as a day
        day = value if type(value) is date else date.fromisoformat(value) if _DAY.fullmatch(value) else None
    except (TypeError, ValueError):
        day = None
    if day is None or not OLDEST <= day <= NEWEST:
        raise refusal("negatives.day", found=told(value), least=OLDEST.year, most=NEWEST.year)
    return day


_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def _look(value: Any) -> str:
    text = str(value).replace("−", "-").removeprefix("+").strip() if isinstance(value, str | int | Decimal) else ""
    if isinstance(value, bool) or text not in LOOKS:
        raise refusal("negatives.look", found=told(value), choices=", ".join(LOOKS))
    return text


def _short(text: str) -> str:
    if len(text) > LONGEST_NOTES:
        raise refusal("negatives.notes-long", most=LONGEST_NOTES)
    return text


FrameName = Annotated[str, PlainValidator(_frame)]
Day = Annotated[date, PlainValidator(_day), PlainSerializer(date.isoformat, when_used="json")]
Look = Annotated[str, PlainValidator(_look)]
"""One of `LOOKS`."""
SomeNotes = Annotated[Notes, AfterValidator(_short)]
Point = tuple[Share, Share]
"""Across and down, as shares of a picture's width and height."""


class KnownTone(Frozen):
    """A place on a frame's scan where the film's density is known, and from what."""

    at: Point
    what: Literal["edge", "read", "light", "dark"]
    """The film's clear edge; what was read there; or the light or the dark tone that a strip was picked by."""
    density: FilmDensity | None = None
    """Of an edge, and of what was read; what a pick was made by follows from the paper it was made on."""
    sheet: Annotated[Words, Field(max_length=64)] | None = None
    """The strip of a pick."""

    @model_validator(mode="after")
    def _is_known(self) -> Self:
        picked = self.what in ("light", "dark")
        if picked != (self.sheet is not None) or picked == (self.density is not None):
            raise refusal("negatives.tone-unknown", at=("what",))
        return self


class Scan(Frozen):
    """A frame's scan, or a photograph of it over a light table, for previews of its prints."""

    photograph: str = Field(pattern="^[0-9a-f]{64}$")
    """Its hash in the store of pictures: a small JPEG, sRGB, the right way up."""
    how: Literal["flatbed", "light table"] = "flatbed"
    tones: Annotated[tuple[KnownTone, ...], Field(max_length=2)] = ()
    """What ties its densities to the film's: two, in the order in which they were told."""


class Frame(Frozen):
    """One negative of a set."""

    frame: FrameName
    """As on the film's edge: 1, 12A, 00."""
    title: Words | None = None
    mark: Mark | None = None
    look: Look | None = None
    """In stops, as text in thirds; absent where nobody has looked."""
    notes: SomeNotes | None = None
    scan: Scan | None = None
    areas: Annotated[tuple[Outline, ...], Field(max_length=MOST_AREAS)] | None = None
    """What its burns and dodges go by, drawn on its picture; absent where none is drawn."""

    @model_validator(mode="after")
    def _each_letter_once(self) -> Self:
        letters = [each.letter for each in self.areas or ()]
        for letter in letters:
            if letters.count(letter) > 1:
                raise refusal("negatives.area-twice", at=("areas",), letter=letter)
        return self

    @property
    def look_stops(self) -> Fraction:
        """How much more light than the proof it wants, in stops; 0 where nobody has looked."""
        return Fraction(self.look or 0)


class Proof(Frozen):
    """The photograph of a set's contact sheet."""

    photograph: str = Field(pattern="^[0-9a-f]{64}$")
    """Its hash in the store of pictures."""
    corners: tuple[Point, Point, Point, Point] | None = None
    """Where the frames' field has its corners on it, from the top left on as a clock goes; absent: its own corners."""

    @model_validator(mode="after")
    def _turns_one_way(self) -> Self:
        if self.corners is not None and not goes_round([(float(x), float(y)) for x, y in self.corners]):
            raise refusal("negatives.corners", at=("corners",))
        return self


class NegativeSet(Frozen):
    """What is kept of a set: how it was made, once for all, and its frames in the order in which they lie."""

    set: Words
    """What it is called."""
    film: Words | None = None
    date: Day
    frame_format: Annotated[Words, Field(max_length=20)] | None = None
    """Of a frame: 24x36, 6x6, 4x5. (The key `format` of a file is the name of its form.)"""
    rows: GridSide | None = None
    columns: GridSide | None = None
    """As they lie on the contact sheet, row by row; neither where they are a list."""
    development: Words | None = None
    notes: SomeNotes | None = None
    proof: Proof | None = None
    frames: Annotated[tuple[Frame, ...], Field(min_length=1, max_length=MOST_FRAMES)]

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        if (self.rows is None) != (self.columns is None):
            raise refusal("negatives.grid-half", at=("columns" if self.columns is None else "rows",))
        if self.rows is not None and self.columns is not None and len(self.frames) > self.rows * self.columns:
            places = self.rows * self.columns
            raise refusal("negatives.grid-small", at=("rows",), places=places, frames=len(self.frames))
        seen: set[str] = set()
        for number, one in enumerate(self.frames):
            if one.frame.casefold() in seen:
                raise refusal("negatives.frame-twice", at=("frames", number, "frame"), frame=one.frame)
            seen.add(one.frame.casefold())
        return self

    def frame(self, name: str) -> Frame:
        """Return the frame of that name.

        Raises:
            NotThere: the set has none.
        """
        found = next((one for one in self.frames if one.frame == name), None)
        if found is None:
            raise NotThere(say("negatives.no-frame", set=self.set, frame=name[:20]))
        return found

    def with_frame(self, changed: Frame) -> NegativeSet:
        """Return the set with this frame in place of the one of its name."""
        frames = tuple(changed if one.frame == changed.frame else one for one in self.frames)
        return self.model_copy(update={"frames": frames})


def reference(set_id: str, frame: str) -> str:
    """Return what a negative goes by wherever it is named: in a plan, in the journal."""
    return f"{set_id}:{frame}"


def split_reference(text: str) -> tuple[str, str]:
    """Return the set's id and the frame that a reference names; two empty ones where it is no reference."""
    set_id, colon, frame = text.partition(":")
    return (set_id, frame) if colon and set_id and _FRAME.fullmatch(frame) else ("", "")


def read_negatives(text: str | bytes, name: str) -> NegativeSet:
    """Return the set of negatives that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _FORM)


def read_tree(tree: Tree, name: str, place_names: PlaceNames | None = None) -> NegativeSet:
    """Return the set in a tree of plain values, as JSON would give it or a page's form fills it.

    Raises:
        Unreadable: as `read_negatives`.
    """
    return versioned.read_tree(tree, name, _FORM, place_names=place_names)


def write_negatives(kept: NegativeSet) -> str:
    """Return the file of a set; `read_negatives` reads the same from it. What is not said has no key."""
    known = kept.model_dump(mode="json", exclude_none=True)
    frames = ",\n  ".join(json.dumps(one, ensure_ascii=False) for one in known.pop("frames"))
    head = json.dumps({"format": NEGATIVES} | known, ensure_ascii=False, indent=1)
    return f'{head.removesuffix("}").rstrip()},\n "frames": [\n  {frames}\n ]\n}}\n'


_FORM: Final = VersionedForm(NEGATIVES, NegativeSet, typed=True)
