"""Everything as plain files: what is on the shelf, version by version, and the journal, row by row.

An export is a folder. `export.json` says what is in it; each version on the shelf is a file that can be read,
edited and imported by itself; what a room writes out of the journal is for reading only and is not taken back in.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated, Final, Literal, TextIO

from pydantic import Field

from controller.backup.registered import ROOMS, THINGS
from controller.errors import NotThere, StoreTrouble
from controller.files import settle
from controller.model import Frozen
from controller.store.columns import slug
from controller.store.database import read_store
from controller.store.folder import DataFolder
from controller.store.pictures import ENDING, MOST_PICTURES, Pictures
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL
from controller.store.shelf import Shelf
from controller.store.versions import Away, Version
from controller.words import say

INDEX: Final = "export.json"
JOURNAL_FILE: Final = "journal.jsonl"
STEP_S: Final = 0.05
"""So long is worked on between two rests."""


class _InAFile(Frozen):
    file: str


class Listed(Version, _InAFile):
    """One version on the shelf, but for its text, which is in `file`; that key stands first."""


class Index(Frozen):
    """What an export holds, in the order in which it was kept."""

    format: Literal["treadle/export/1"] = "treadle/export/1"
    shelf: tuple[Listed, ...] = ()
    away: tuple[Away, ...] = ()
    rows: int = Field(default=0, ge=0)
    """How many lines the journal has."""
    pictures: tuple[Annotated[str, Field(pattern="^[0-9a-f]{64}$")], ...] = Field(default=(), max_length=MOST_PICTURES)
    """The hashes of the pictures, each in a file of its own; the key is left out where there are none."""


def export(data: DataFolder, out: Path) -> Path:
    """Write everything in a data folder to the new folder `out`; a daemon may go on meanwhile.

    Row by row and version by version: it takes no more memory for many than for few.

    Raises:
        StoreTrouble: `out` is there already, or cannot be written; nothing is left behind.
    """
    if out.exists():
        raise StoreTrouble(say("store.export-there", path=out))
    draft = out.with_name(f".{out.name}.{secrets.token_hex(4)}")
    try:
        draft.parent.mkdir(parents=True, exist_ok=True)
        draft.mkdir(mode=0o700)  # whoever may not look into it sees none of its files
        with _at_hand(data, draft.with_name(f"{draft.name}.read")) as readable:
            write_all(readable, draft)
        os.sync()  # once for all of its many files
        draft.rename(out)
        settle(out.parent)
    except OSError as problem:
        raise StoreTrouble(say("store.no-export", path=out, detail=problem.strerror)) from problem
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return out


@contextmanager
def _at_hand(data: DataFolder, beside: Path) -> Iterator[DataFolder]:
    """Give a data folder that can be read; of a card that has become read-only, as a failing one does, a copy `beside`.

    Neither store can be opened without a file of the database's own next to it.
    """
    if not os.statvfs(data.path).f_flag & os.ST_RDONLY:
        yield data
        return
    try:
        beside.mkdir(mode=0o700)
        for path in (data.journal, data.shelf):
            for part in (path, path.with_name(f"{path.name}-wal")):
                if part.exists():
                    shutil.copyfile(part, beside / part.name)
        (beside / data.pictures.name).symlink_to(data.pictures)
        yield DataFolder(beside, make=False)
    finally:
        shutil.rmtree(beside, ignore_errors=True)


class Pace:
    """Called as often as one likes, it calls `between` once a step's time has gone by."""

    def __init__(self, between: Callable[[], None]) -> None:
        self._between, self._last_s = between, time.monotonic()

    def __call__(self) -> None:
        """Rest, where it is time to."""
        if time.monotonic() - self._last_s >= STEP_S:
            self._between()
            self._last_s = time.monotonic()


class _Resting(Reader):
    """Looks at a journal, and rests."""

    def __init__(self, connection: sqlite3.Connection, path: Path, pace: Pace) -> None:
        self._pace = pace
        super().__init__(connection, path, None)

    def ask(self, sql: str, values: Iterable[str | int]) -> list[tuple[str | int, ...]]:
        """Return what is asked for, after a rest where it is time for one."""
        self._pace()
        return super().ask(sql, values)


def write_all(data: DataFolder, folder: Path, between: Callable[[], None] = lambda: None) -> None:
    """Write everything in a data folder into an empty folder; `between` is called again and again, and may raise.

    Raises:
        StoreTrouble: journal or shelf cannot be read.
        OSError: the folder cannot be written.
    """
    # The journal first: what its rows speak of is then on the shelf.
    rows, pace = 0, Pace(between)
    with (folder / JOURNAL_FILE).open("w", encoding="utf-8", newline="") as lines:
        if data.journal.exists():
            with _Resting(read_store(data.journal, JOURNAL), data.journal, pace) as reader:
                reader.at_this_moment()
                for rows, row in enumerate(reader.each(), 1):  # noqa: B007 - the last number is how many there are
                    lines.write(f"{row.model_dump_json()}\n")
                for room in ROOMS:
                    if room.write_out is not None:
                        room.write_out(reader, folder)
    with (folder / INDEX).open("w", encoding="utf-8", newline="") as index:
        if data.shelf.exists():
            with Shelf.look(data.shelf) as shelf:
                things = _write_things(shelf, folder, pace)
                _write_index(index, things, shelf.all_away(), rows, _write_pictures(data, folder, pace))
        else:
            _write_index(index, (), (), rows, _write_pictures(data, folder, pace))


def _write_things(shelf: Shelf, folder: Path, pace: Pace) -> Iterator[Listed]:
    """Write each version on the shelf into its file, and say which."""
    newest = shelf.newest()
    for one in shelf.each():
        listed = Listed(
            file=_file_of(one, newest=newest.get(one.id, one.version) <= one.version),
            **one.model_dump(exclude={"body"}),
        )
        place = folder / listed.file
        place.parent.mkdir(exist_ok=True)
        place.write_bytes(one.body.encode())
        pace()
        yield listed


def picture_file(picture: str) -> str:
    """Return the file that a picture is in."""
    return f"pictures/{picture}{ENDING}"


def _write_pictures(data: DataFolder, folder: Path, pace: Pace) -> Iterator[str]:
    """Write each picture that is whole into its file, and say which."""
    pictures = Pictures(data.pictures)
    for picture in pictures.each():
        with suppress(NotThere):  # damaged: the check tells of it
            content = pictures.read(picture)
            place = folder / picture_file(picture)
            place.parent.mkdir(exist_ok=True)
            place.write_bytes(content)
            pace()
            yield picture


def _write_index(
    index: TextIO, shelf: Iterable[Listed], away: Iterable[Away], rows: int, pictures: Iterable[str]
) -> None:
    """Write what `Index` would be as JSON, an entry at a time."""
    index.write(f'{{\n "format": "{Index().format}",\n "shelf": ')
    _write_list(index, shelf)
    index.write(',\n "away": ')
    _write_list(index, away)
    index.write(f',\n "rows": {rows}')
    before = ',\n "pictures": ['
    for picture in pictures:
        index.write(f'{before}\n  "{picture}"')
        before = ","
    index.write("\n}\n" if before != "," else "\n ]\n}\n")


def _write_list(index: TextIO, entries: Iterable[Frozen]) -> None:
    before = "["
    for entry in entries:
        text = entry.model_dump_json(indent=1).replace("\n", "\n  ")
        index.write(f"{before}\n  {text}")
        before = ","
    index.write("[]" if before == "[" else "\n ]")


def _file_of(version: Version, *, newest: bool) -> str:
    thing = THINGS.get(version.kind)
    folder = thing.folder if thing else slug(version.kind)
    if thing is not None and thing.only:
        return f"{folder}.json" if newest else f"{folder}/{folder}.v{version.version}.json"
    return f"{folder}/{slug(version.title)}.{version.id}.v{version.version}.json"
