"""Takes an export back, or one file of a thing that is kept by itself; all of it is checked before any is kept."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, BinaryIO, Final, Protocol

from controller import wall
from controller.backup.export import INDEX, JOURNAL_FILE, Index, Listed, Pace, picture_file
from controller.backup.index import MOST_ENTRIES, MOST_ENTRIES_ALONE, read_index
from controller.backup.registered import THINGS, read_thing
from controller.enlarger.enlargers import KEEPS as ENLARGERS
from controller.enlarger.enlargers import Enlarger, must_agree, read_enlarger
from controller.errors import Impossible, StoreTrouble, Unreadable
from controller.exposure.stops import shown
from controller.keeping import ThingKind
from controller.model import Frozen
from controller.recipe.fields import LARGEST_BYTES
from controller.recipe.files import KEEPS as RECIPES
from controller.recipe.files import read_recipe
from controller.store.folder import DataFolder
from controller.store.journal import ROOM, Journal, Stamp
from controller.store.pictures import LARGEST_BYTES as LARGEST_PICTURE
from controller.store.pictures import Pictures, hash_of, look_at
from controller.store.rows import Row
from controller.store.shelf import Shelf
from controller.store.versions import Kept, Version
from controller.words import say
from hardware.clock import MonotonicClock

LARGEST_INDEX_BYTES: Final = 64 * 1024 * 1024
LONGEST_LINE: Final = 1024 * 1024
"""Bytes of a row in an export's journal; a plan of the most steps is a tenth of it."""


class Brought(Frozen):
    """What an import brought that was not there: versions on the shelf, and rows of the journal."""

    kept: tuple[Version, ...] = ()
    rows: int = 0
    journal_left: bool = False
    """The export has a journal that was not taken in, since the data folder has sheets of its own."""


class Export(Protocol):
    """Where the files of an export are read."""

    place: Path
    """What it is called in a refusal."""

    def text(self, file: str, most: int, name: str = "") -> str:
        """Return what is in a file of it, of so many bytes at most; `name` is for the refusal.

        Raises:
            Unreadable: there is no such file, it lies outside, is too large, or is no text.
        """

    def content(self, file: str, most: int) -> bytes:
        """Return the bytes of a file of it, so many at most.

        Raises:
            Unreadable: there is no such file, it lies outside, or is too large.
        """


class _Folder:
    """An export as a folder."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def text(self, file: str, most: int, name: str = "") -> str:
        return _text(self._inside(file, name), most, name)

    def content(self, file: str, most: int) -> bytes:
        with _plain(self._inside(file)) as opened:
            return read_bytes(opened, most, file)

    def _inside(self, file: str, name: str = "") -> Path:
        place = self.place / file
        try:
            inside = place.resolve().is_relative_to(self.place.resolve())
        except (ValueError, RuntimeError):  # a name that no file has, and links that lead in a circle
            inside = False
        if not inside:
            raise Unreadable(say("store.export-outside", path=self.place / INDEX, file=name or file))
        return place


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
            return _bring_export(source, data) if source.is_dir() else _bring_file(source, data)
        except OSError as problem:
            raise Unreadable(
                say("store.no-file", path=shown(problem.filename, 400), detail=problem.strerror)
            ) from problem


def _bring_export(source: Path, data: DataFolder) -> Brought:
    folder = _Folder(source)
    index = read_index(folder.text(INDEX, LARGEST_INDEX_BYTES), source / INDEX, MOST_ENTRIES_ALONE)
    bodies, seals, named = _read_through(folder, index)
    for _ in _read_journal(source, index.rows):
        pass
    if data.free_bytes() < ROOM + 3 * bodies + 3000 * index.rows:
        raise StoreTrouble(say("store.no-room-for-import", path=data.path))
    with Shelf.open(data.shelf) as shelf, _journal(data) as journal:
        taking = bool(index.rows) and not journal.last()
        # those of prints are named by the journal: where it stays, nothing here would ever show them
        with _pictures_of(folder, index.pictures if taking else named, data):
            new = _take_in(shelf, folder, index, seals)
            if taking:
                journal.take_in(_read_journal(source, index.rows))
    return Brought(kept=new, rows=index.rows if taking else 0, journal_left=bool(index.rows) and not taking)


def bring_things(source: Export, data: DataFolder, largest_index: int, between: Callable[[], None]) -> Brought:
    """Bring the things of an export to a shelf that is in use, and none of its journal; all of it is checked before.

    `between` is called again and again, and may raise: nothing was kept then. The shelf can be looked at meanwhile.

    Raises:
        Unreadable: names the file and what is wrong with it; nothing was kept.
        StoreTrouble: it cannot be written; nothing was kept.
    """
    pace = Pace(between)
    index = read_index(source.text(INDEX, largest_index), source.place / INDEX, MOST_ENTRIES)
    between()
    bodies, seals, named = _read_through(source, index, pace)
    if data.free_bytes() < ROOM + 3 * bodies:
        raise StoreTrouble(say("store.no-room-for-import", path=data.path))
    with _pictures_of(source, named, data, pace), Shelf.open(data.shelf, whole=False) as shelf:
        new = _take_in(shelf, source, index, seals, pace)
    return Brought(kept=new, journal_left=bool(index.rows))


def _nothing() -> None:
    """Do not rest: nobody else is there."""


def _read_through(
    source: Export, index: Index, pace: Callable[[], None] = _nothing
) -> tuple[int, list[bytes], tuple[str, ...]]:
    """Check every version of an export; return how long they are together, the seal of each, and what they show.

    Everything is read twice, so that all of it is checked and none of it is held. Pictures that no version names are
    of the journal: photographs of prints.
    """
    bodies = 0
    seals: list[bytes] = []
    named: set[str] = set()
    for listed in index.shelf:
        one = _read_kept(source, listed)
        bodies += len(one.body)
        seals.append(_seal(one))
        named.update(THINGS[listed.kind].pictures(one.body))
        pace()
    for picture in index.pictures:
        bodies += len(_read_picture(source, picture))
        pace()
    return bodies, seals, tuple(picture for picture in index.pictures if picture in named)


@contextmanager
def _pictures_of(
    source: Export, wanted: Iterable[str], data: DataFolder, pace: Callable[[], None] = _nothing
) -> Iterator[None]:
    """Keep these pictures of an export; where what follows fails, none that was not here before."""
    pictures, new = Pictures(data.pictures), []
    try:
        for picture in wanted:
            if not pictures.whole(picture):
                pictures.keep(_read_picture(source, picture), picture_file(picture))
                new.append(picture)
            pace()
        yield
    except BaseException:
        for picture in new:
            pictures.drop(picture)
        raise


def _read_picture(source: Export, picture: str) -> bytes:
    file = picture_file(picture)
    content = source.content(file, LARGEST_PICTURE)
    if hash_of(content) != picture:
        raise Unreadable(say("store.picture-other", path=source.place / file))
    look_at(content, str(source.place / file))
    return content


def _take_in(
    shelf: Shelf, source: Export, index: Index, seals: list[bytes], pace: Callable[[], None] = _nothing
) -> tuple[Version, ...]:
    here = shelf.kinds()
    for listed in index.shelf:
        if here.get(listed.id, listed.kind) != listed.kind:
            raise Unreadable(say("store.export-kinds", path=source.place / INDEX, id=listed.id))
    return shelf.take_in(_as_checked(source, index, seals, pace), index.away)


def _journal(data: DataFolder) -> Journal:
    return Journal.open(data.journal, MonotonicClock(), Stamp.here())


def _bring_file(source: Path, data: DataFolder) -> Brought:
    text = _text(source, LARGEST_BYTES)
    thing, title = read_thing(text, source.name, alone=True)
    with Shelf.open(data.shelf) as shelf:
        if thing in RECIPES.things:
            _must_agree(text, source.name, shelf)
        return keep_thing(shelf, thing, title, text)


def _must_agree(text: str, name: str, shelf: Shelf) -> None:
    """Refuse a recipe whose height and magnification contradict each other by every column that is known."""
    enlargers: list[Enlarger] = []
    for kept in shelf.latest(ENLARGERS.things[0].kind):
        with suppress(Unreadable):
            enlargers.append(read_enlarger(kept.body, kept.title))
    try:
        must_agree(read_recipe(text, name), enlargers)
    except Impossible as problem:
        raise Unreadable(f"{name}: {problem}") from None


def keep_thing(shelf: Shelf, thing: ThingKind, title: str, text: str) -> Brought:
    """Keep the text of a file that was read; what is at hand or put away just so is at hand then.

    Raises:
        StoreTrouble: it could not be written; nothing was kept.
    """
    if (here := shelf.same(thing.kind, title, text)) is not None:
        shelf.take_out(here.id)
        return Brought()
    return Brought(kept=(shelf.save(thing.kind, title, text, only=thing.only),))


def _read_kept(source: Export, listed: Listed) -> Kept:
    name = shown(listed.file, 200)
    text = source.text(listed.file, LARGEST_BYTES, name)
    thing = read_thing(text, name)[0]
    if thing.kind != listed.kind:
        raise Unreadable(say("store.export-other-kind", path=name, kind=thing.kind, listed=listed.kind))
    return Kept(body=text, **listed.model_dump(exclude={"file"}))


def _as_checked(source: Export, index: Index, seals: list[bytes], pace: Callable[[], None]) -> Iterator[Kept]:
    """Give the export's versions once more, each as it was when it was checked."""
    for listed, seal in zip(index.shelf, seals, strict=True):
        text = source.text(listed.file, LARGEST_BYTES, shown(listed.file, 200))
        one = Kept(body=text, **listed.model_dump(exclude={"file"}))
        if _seal(one) != seal:
            raise Unreadable(say("store.export-changing", path=source.place / listed.file))
        pace()
        yield one


def _seal(one: Kept) -> bytes:
    return hashlib.sha256(one.body.encode()).digest()


def _read_journal(folder: Path, count: int) -> Iterator[Row]:
    """Give the rows of an export's journal, each checked; a line longer than any row is not read to its end."""
    place, number = folder / JOURNAL_FILE, 0
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
                yield row
    if number != count:
        raise Unreadable(say("store.export-rows", path=place, count=count, found=number))


def _text(place: Path, most: int, name: str = "") -> str:
    with _plain(place) as file:
        return read_text(file, most, name or str(place))


def read_text(file: IO[bytes], most: int, name: str) -> str:
    """Return the text in a file of so many bytes at most.

    Raises:
        Unreadable: it is larger, or no text; `name` is the file's in the sentence.
    """
    content = read_bytes(file, most, name)
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise Unreadable(say("store.file-not-text", path=name)) from None


def read_bytes(file: IO[bytes], most: int, name: str) -> bytes:
    """Return the bytes of a file, so many at most.

    Raises:
        Unreadable: it is larger; `name` is the file's in the sentence.
    """
    content = file.read(most + 1)
    if len(content) > most:
        raise Unreadable(say("store.file-too-large", path=name, most=most // 1024))
    return content


def _plain(place: Path) -> BinaryIO:
    """Open a plain file: a pipe or a device would be waited for, or read, without end."""
    if not stat.S_ISREG(place.stat().st_mode):
        raise Unreadable(say("store.no-plain-file", path=place))
    return place.open("rb")
