"""The rooms that keep something. A new one adds itself here, and is exported, imported, checked and searched."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from controller.carry import wanted as carry
from controller.easel import keeps as easel
from controller.editions import keeps as editions
from controller.enlarger import enlargers as enlarger
from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.keeping import LOOKED_AT, Derived, Keeps, ThingKind, no_pictures
from controller.lamp import history as lamp
from controller.negatives import keeps as negatives
from controller.paper import paper
from controller.recipe import files as recipe
from controller.recipe.versioned import family, format_of
from controller.store import baths, last_trials, settings
from controller.store import columns as sheets
from controller.store.entries import Photographed
from controller.store.folding import fold
from controller.store.pictures import Pictures
from controller.store.rows import Reader
from controller.store.shelf import Shelf
from controller.words import say

ROOMS: Final[tuple[Keeps, ...]] = (
    recipe.KEEPS,
    paper.KEEPS,
    carry.KEEPS,
    settings.KEEPS,
    sheets.KEEPS,
    lamp.KEEPS,
    negatives.KEEPS,
    enlarger.KEEPS,
    easel.KEEPS,
    baths.KEEPS,
    editions.KEEPS,
    last_trials.KEEPS,
)
THINGS: Final[dict[str, ThingKind]] = {thing.kind: thing for room in ROOMS for thing in room.things}
DERIVED: Final[tuple[Derived, ...]] = tuple(each for room in ROOMS for each in room.derived)


def read_thing(text: str, name: str, *, alone: bool = False) -> tuple[ThingKind, str]:
    """Return what kind of thing a file's text is, and its title; refuse what this software could not use.

    Raises:
        Unreadable: it is nothing that a room keeps, or not as it must be; or not to be brought `alone`.
    """
    form = family(format_of(text, name))
    for thing in THINGS.values():
        if form == family(thing.format) and (thing.by_itself or not alone):
            return thing, thing.read(text, name)
    known = " / ".join(f"“{thing.format}”" for thing in THINGS.values() if thing.by_itself or not alone)
    raise Unreadable(say("recipe.format-unknown", file=name, found=format_of(text, name), formats=known))


def unread(shelf: Shelf) -> Iterator[str]:
    """Give a sentence for each thing on the shelf that this software cannot read, of the last saved of each kind."""
    for thing in THINGS.values():
        for kept in shelf.latest(thing.kind, limit=LOOKED_AT):
            try:
                thing.read(kept.body, shown(kept.title) or say("store.untitled", kind=thing.kind))
            except Unreadable as problem:
                yield str(problem)


def checked(shelf: Shelf) -> Iterator[str]:
    """Give what each room finds wrong among the things that can be read."""
    for room in ROOMS:
        if room.check is not None:
            yield from room.check(shelf)


def pictures_amiss(shelf: Shelf, pictures: Pictures) -> Iterator[str]:
    """Give a sentence for each thing whose picture is not here, and for each picture that is not what it was."""
    damaged = [picture for picture in pictures.each() if not pictures.whole(picture)]
    for thing in THINGS.values():
        if thing.pictures is no_pictures:
            continue
        for kept in (*shelf.latest(thing.kind), *shelf.latest(thing.kind, away=True)):
            for picture in thing.pictures(kept.body):
                if picture not in damaged and not pictures.has(picture):
                    yield say("store.picture-lost", title=shown(kept.title), path=pictures.folder)
    for picture in damaged:
        yield say("store.picture-damaged", path=pictures.place(picture))


def photographs_amiss(reader: Reader, pictures: Pictures) -> Iterator[str]:
    """Give a sentence for each sheet whose photograph, the last that was brought of its dry print, is not here."""
    last: dict[str, Photographed] = {}
    after = 0
    while rows := reader.rows(after=after, kinds=("photographed",), limit=LOOKED_AT):
        after = rows[-1].number
        last |= {row.sheet: row.entry for row in rows if row.sheet and isinstance(row.entry, Photographed)}
    for sheet, row in last.items():
        if row.hash and not pictures.has(row.hash):
            for record in fold(reader.rows(sheet=sheet)):
                yield say("store.photo-lost", number=record.number, title=record.plan.title, path=pictures.folder)
