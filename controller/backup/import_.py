"""Takes an export back, or one recipe, strip, paper or settings file; all of it is checked before any is kept."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import BinaryIO, Final

from pydantic import ValidationError

from controller import wall
from controller.backup.export import INDEX, JOURNAL_FILE, Index, Listed
from controller.errors import StoreTrouble, Unreadable
from controller.exposure.stops import shown
from controller.model import Frozen
from controller.paper.paper import PAPER, read_paper
from controller.recipe import files as reading
from controller.recipe import versioned
from controller.recipe.strip import Strip
from controller.store import settings
from controller.store.folder import DataFolder
from controller.store.journal import ROOM, Journal, Stamp
from controller.store.rows import Row
from controller.store.shelf import SETTINGS_ID, Kept, Kind, Shelf
from controller.words import say
from hardware.clock import MonotonicClock

LARGEST_BYTES: Final = 256 * 1024
"""Of one recipe, strip, paper or set of settings."""
LARGEST_INDEX_BYTES: Final = 64 * 1024 * 1024
LONGEST_LINE: Final = 1024 * 1024
"""Bytes of a row in an export's journal; a plan of the most steps is a tenth of it."""


class Brought(Frozen):
    """What an import brought that was not there: versions on the shelf, and rows of the journal."""

    kept: tuple[Kept, ...] = ()
    rows: int = 0
    journal_left: bool = False
    """The export has a journal that was not taken in, since the data folder has sheets of its own."""


def import_(source: Path, data: DataFolder) -> Brought:
    """Bring an export back, or one recipe, strip, paper or settings file; all of it is checked before any is kept.

    Ids and versions stay as they were. What is here already is passed over; where two histories of one thing
    part, the export's versions follow as new ones. The journal is taken in by a data folder without one only.

    Raises:
        Unreadable: names the file and what is wrong with it; nothing was kept.
        StoreTrouble: a daemon owns the data folder, or it cannot be written.
    """
    with data.locked():
        try:
            if not source.is_dir():
                return _bring_file(source, data)
            index = _read_index(source)
            kept = tuple(_read_kept(source, listed) for listed in index.shelf)
            rows = _read_journal(source, index.rows)
        except OSError as problem:
            raise Unreadable(say("store.no-file", path=problem.filename, detail=problem.strerror)) from problem
        if data.free_bytes() < ROOM + 3 * sum(len(one.body) for one in kept) + 3000 * len(rows):
            raise StoreTrouble(say("store.no-room-for-import", path=data.path))
        with Shelf.open(data.shelf) as shelf, _journal(data) as journal:
            here = {one.id: one.kind for one in shelf.everything()[0]}
            for one in kept:
                if here.get(one.id, one.kind) != one.kind:
                    raise Unreadable(say("store.export-kinds", path=source / INDEX, id=one.id))
            taking = bool(rows) and not journal.last()
            new = shelf.take_in(kept, index.away)
            if taking:
                journal.take_in(rows)
        return Brought(kept=new, rows=len(rows) if taking else 0, journal_left=bool(rows) and not taking)


def _journal(data: DataFolder) -> Journal:
    return Journal.open(data.journal, MonotonicClock(), Stamp.here())


def _bring_file(source: Path, data: DataFolder) -> Brought:
    text = _text(source, LARGEST_BYTES)
    kind, title = _checked(text, source.name)
    with Shelf.open(data.shelf) as shelf:
        before = shelf.everything()[0]
        for away in (False, True):
            for one in shelf.latest(kind, away=away):
                if one.body == text:
                    shelf.take_out(one.id)
                    return Brought()
        kept = shelf.save(kind, title, text)
    return Brought(kept=() if kept in before else (kept,))


def _read_index(folder: Path) -> Index:
    place = folder / INDEX
    try:
        index = Index.model_validate_json(_text(place, LARGEST_INDEX_BYTES))
    except ValidationError as problem:
        first = problem.errors()[0]
        where = ".".join(shown(part) for part in first["loc"]) or INDEX
        raise Unreadable(say("store.no-index", path=place, place=where, detail=first["msg"])) from None
    versions: dict[str, tuple[int, Kind]] = {}
    for one in index.shelf:
        version, kind = versions.get(one.id, (0, one.kind))
        if (one.version, one.kind) != (version + 1, kind) or (one.kind == "settings") != (one.id == SETTINGS_ID):
            raise Unreadable(say("store.export-versions", path=place, id=one.id, version=one.version))
        versions[one.id] = one.version, one.kind
    for word in index.away:
        if word.id not in versions:
            raise Unreadable(say("store.export-versions", path=place, id=word.id, version=1))
    return index


def _read_kept(folder: Path, listed: Listed) -> Kept:
    place = folder / listed.file
    name = shown(listed.file, 200)
    if not place.resolve().is_relative_to(folder.resolve()):
        raise Unreadable(say("store.export-outside", path=folder / INDEX, file=shown(listed.file, 200)))
    text = _text(place, LARGEST_BYTES, name)
    if listed.kind == "carry":
        versioned.format_of(text, name)
    elif (kind := _checked(text, name)[0]) != listed.kind:
        raise Unreadable(say("store.export-other-kind", path=name, kind=kind, listed=listed.kind))
    return Kept(body=text, **listed.model_dump(exclude={"file"}))


def _read_journal(folder: Path, count: int) -> tuple[Row, ...]:
    rows: list[Row] = []
    place = folder / JOURNAL_FILE
    if count or place.exists():
        with _plain(place) as file:
            for number, line in enumerate(iter(lambda: file.readline(LONGEST_LINE + 1), b""), 1):
                try:
                    if len(line) > LONGEST_LINE:
                        raise ValueError(line[:40])
                    row = Row.model_validate_json(line)
                    wall.moment(row.wall)
                except ValueError as problem:
                    raise Unreadable(say("store.export-row", path=place, number=number)) from problem
                if row.number != number:
                    raise Unreadable(say("store.row-missing", number=number, found=row.number))
                rows.append(row)
    if len(rows) != count:
        raise Unreadable(say("store.export-rows", path=place, count=count, found=len(rows)))
    return tuple(rows)


def _text(place: Path, most: int, name: str = "") -> str:
    with _plain(place) as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise Unreadable(say("store.file-too-large", path=name or place, most=most // 1024))
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise Unreadable(say("store.file-not-text", path=name or place)) from None


def _plain(place: Path) -> BinaryIO:
    """Open a plain file: a pipe or a device would be waited for, or read, without end."""
    if not stat.S_ISREG(place.stat().st_mode):
        raise Unreadable(say("store.no-plain-file", path=place))
    return place.open("rb")


def _checked(text: str, name: str) -> tuple[Kind, str]:
    """Return what kind of thing a text is, and its title; refuse what this software could not use."""
    form = versioned.family(versioned.format_of(text, name))
    if form == versioned.family(settings.FORMAT):
        settings.read_settings(text, name)
        return "settings", SETTINGS_ID
    if form == versioned.family(PAPER):
        return "paper", read_paper(text, name).name
    # What the longest light is on this machine is asked when the recipe is loaded.
    model = reading.read_recipe(text, name, longest_ms=_LONGEST_MS)
    return ("strip" if isinstance(model, Strip) else "recipe"), model.title


_LONGEST_MS: Final = 900_000
"""The most that the longest light can be set to."""
