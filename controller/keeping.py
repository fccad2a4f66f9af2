"""What a room that keeps something declares, once: all that copies, checks, searches and rebuilds asks there.

The truth of every room lies in two files that know no kinds: things in versions on the shelf, and rows of the
journal. A new kind of either therefore needs no new table there; what is derived has tables of its own elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel


def _no_words(_body: str) -> str:
    return ""


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
    """What is in a text, beside its title, that a search looks through."""
    only: bool = False
    """There is one of it, whose id is its kind's name."""
    by_itself: bool = True
    """Its file may be imported without the export around it."""


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

    def __post_init__(self) -> None:
        assert self.things or self.rows, "a room that keeps nothing has nothing to declare"
