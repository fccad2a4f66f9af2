"""What a room that keeps something declares, once: all that copies, checks, searches and rebuilds asks there.

The truth of every room lies in two files that know no kinds: things in versions on the shelf, and rows of the
journal. A new kind of either therefore needs no new table there; what is derived has tables of its own elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel

Execute = Callable[[str, Sequence[Any]], object]
"""Carries out one statement of SQL."""


SHEET: Final = "sheet"
"""What a sheet of the journal is called where kinds of thing are told apart."""
LOOKED_AT: Final = 200
"""Things of a kind that a check reads; they are read one after the other."""


def _no_words(_body: str) -> str:
    return ""


def no_pictures(_body: str) -> tuple[str, ...]:
    """Return no picture: most kinds of thing name none."""
    return ()


@dataclass(frozen=True)
class ThingKind:
    """One kind of thing that is kept on the shelf, in versions; each version is a file of an export."""

    kind: str
    """As the shelf and an export's list call it."""
    folder: str
    """Where an export keeps it."""
    format: str
    """What its file says it is in."""
    read: Callable[[str, str], str]
    """Read a file's text (its name is for the refusal) and return the thing's title; raises `Unreadable`."""
    words: Callable[[str], str] = _no_words
    """What is in a text, beside its title, that a search looks through; nothing of one that is `Unreadable`."""
    only: bool = False
    """There is one of it, whose id is its kind's name."""
    by_itself: bool = True
    """Its file may be imported without the export around it."""
    pictures: Callable[[str], tuple[str, ...]] = no_pictures
    """The hashes of the pictures that a text names, in the store of pictures; none of one that is unreadable."""


@dataclass(frozen=True)
class Derived:
    """Tables that a room looks up in, beside those of `controller.store.lookups`: no truth, and filled anew at will."""

    of: tuple[str, ...]
    """The kinds of thing that they are filled from; `SHEET` is a sheet of the journal."""
    tables: str
    """The SQL that makes them; with other SQL they are begun anew."""
    note: Callable[[Execute, int, Any], object]
    """Note one of a kind, in place of what was noted of it: its latest version, a sheet's record, or a row.

    The number is its place: the later it was saved, the higher. `Unreadable` is passed over: so what was noted before
    is to be taken out first."""
    version: int = 1
    """One higher where the same tables are filled otherwise."""
    rows: tuple[str, ...] = ()
    """The kinds of row of the journal they are filled from besides; each is noted once, in order, by its number."""


@dataclass(frozen=True)
class Keeps:
    """What one room keeps, and how it is carried out of the stores for people to read."""

    room: str
    things: tuple[ThingKind, ...] = ()
    """Its truth on the shelf."""
    rows: tuple[type[BaseModel], ...] = ()
    """Its truth in the journal, a model a kind of row; the models stand in `controller.store.entries`."""
    write_out: Callable[[Any, Path], None] | None = None
    """Write what people want to read of the journal, given its reader, into an export's folder; never taken back."""
    derived: tuple[Derived, ...] = ()
    """What it looks up quickly; followed, thrown away and rebuilt with all other lookups."""
    check: Callable[[Any], Iterator[str]] | None = None
    """Give a sentence for each thing on a shelf that is readable, and yet not as it must be; pass over the others."""

    def __post_init__(self) -> None:
        assert self.things or self.rows, "a room that keeps nothing has nothing to declare"
