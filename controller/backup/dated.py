"""Dated copies of the journal and the shelf, taken while both are in use, and how to get them back.

A backup is a folder: the two files, pieces that belong to the journal, and a manifest with their hashes. It is whole or
not there at all. It is made in small steps, so that it holds up nobody and can be given up between any two of them.
Backups are ordered by their serial, not by their date: a Pi without a network may believe it is 1970.
"""

from __future__ import annotations

import secrets
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date, datetime
from pathlib import Path
from typing import Final, Literal

from pydantic import Field, ValidationError

from controller.backup.kept_pictures import back_up_pictures, bring_pictures, drop_unnamed, missing_of
from controller.backup.pieces import STEP_BYTES, FileSeal, Piece, further_pieces, lay_upon, seal, settle_step
from controller.errors import StoreTrouble, Unreadable
from controller.files import settle, sync_file, write_whole
from controller.model import Frozen
from controller.store.database import must_be_plain, read_store, telling, verify_file
from controller.store.folder import DataFolder
from controller.store.journal import ROOM, Journal
from controller.store.schemas import JOURNAL, SHELF, Schema
from controller.store.whole import GivenUp, check_whole
from controller.words import say, say_many

KEEP: Final = 14
OLD_DAYS: Final = 3
"""A newest backup of so many days is told of: the darkroom never had the quiet time for another."""
MANIFEST: Final = "manifest.json"
_PAGE_BYTES: Final = 4096
_DRAFT: Final = ".unfinished-"


class Manifest(Frozen):
    """What a backup holds."""

    format: Literal["treadle/backup/1", "treadle/backup/2", "treadle/backup/3"] = "treadle/backup/1"
    """The second has pieces, the third pictures, and may have pieces too."""
    serial: int = Field(ge=1)
    day: date
    """A label: the wall's date."""
    journal: FileSeal
    shelf: FileSeal
    pieces: tuple[Piece, ...] = ()
    """What belongs after the rows of the journal's file, in order."""
    pictures: tuple[FileSeal, ...] = ()
    """Pictures that belong to it; they lie once, beside all the backups of a place."""

    def files(self) -> dict[str, FileSeal]:
        """Return what each file of the backup must be, by its name."""
        pieces = {piece.name: FileSeal(bytes=piece.bytes, sha256=piece.sha256) for piece in self.pieces}
        return {f"{JOURNAL.name}.db": self.journal, f"{SHELF.name}.db": self.shelf, **pieces}

    def text(self) -> bytes:
        """Return what its file holds."""
        unsaid = {name for name in ("pieces", "pictures") if not getattr(self, name)}
        return f"{self.model_dump_json(indent=1, exclude=unsaid)}\n".encode()


def backup(data: DataFolder, today: date, between: Callable[[], None] = lambda: None) -> Path:
    """Copy both files into a new folder under `backups`, keep the newest 14 backups, and return the folder.

    The writers may go on meanwhile: each copy is of one moment. `between` is called between two steps; it may rest
    there, and raise `GivenUp`, with which nothing of this backup is kept and older ones are untouched.

    Raises:
        GivenUp: `between` did.
        StoreTrouble: a file cannot be copied, or there is no room; no backup was made, older ones are untouched.
    """
    wanted = sum(path.stat().st_size for path in (data.journal, data.shelf) if path.exists())
    if data.free_bytes() < wanted + ROOM:
        raise StoreTrouble(say("store.no-room-for-backup", path=data.backups))
    present = backups(data)
    try:
        data.backups.mkdir(mode=0o700, exist_ok=True)
        draft = fresh_draft(data.backups)
        try:
            journal, pieces = _copy_journal(data, present, draft, between)
            shelf = _copy(data.shelf, draft, SHELF, between)
            pictures = back_up_pictures(data, between)  # after the shelf: what is on it names pictures that are there
            manifest = Manifest(
                format="treadle/backup/3" if pictures else "treadle/backup/2" if pieces else "treadle/backup/1",
                serial=max((made.serial for _, made in present), default=0) + 1,
                day=today,
                journal=journal,
                shelf=shelf,
                pieces=pieces,
                pictures=pictures,
            )
            write_whole(draft / MANIFEST, manifest.text())
        except GivenUp:
            shutil.rmtree(draft)
            raise
        folder = draft.rename(free_name(data.backups, today))
        settle(data.backups)
        for old, _ in present[: max(0, len(present) + 1 - KEEP)]:
            shutil.rmtree(old)
        drop_unnamed(data.backups, (made.pictures for _, made in backups(data)))
    except OSError as problem:
        raise StoreTrouble(say("store.no-backup", path=data.backups, detail=problem.strerror)) from problem
    return folder


def backups(data: DataFolder) -> list[tuple[Path, Manifest]]:
    """Return the backups of a data folder, oldest first; folders that are none are passed over."""
    return backups_in(data.backups)


def backups_in(place: Path) -> list[tuple[Path, Manifest]]:
    """Return the backups that lie in a folder, oldest first; folders that are none are passed over."""
    found = []
    for folder in place.iterdir() if place.is_dir() else ():
        try:
            found.append((folder, _manifest(folder)))
        except (OSError, ValidationError):
            continue
    return sorted(found, key=lambda pair: pair[1].serial)


def days_without(data: DataFolder, today: date) -> int | None:
    """Return how old the newest backup is, in days; without one, how old the folder is; None for a new folder."""
    made = backups(data)
    if made:
        last = made[-1][1].day
    else:
        try:
            # its key is the first thing that is put into a folder
            last = datetime.fromtimestamp((data.path / "secret.key").stat().st_mtime).astimezone().date()
        except OSError:
            return None
    return max(0, (today - last).days)


def restore(folder: Path, into: DataFolder) -> Path | None:
    """Put a backup's files in place of those in a data folder; return where these lie now, None if there were none.

    Everything is checked first. What is replaced is kept in a folder of its own beside.

    Raises:
        Unreadable: the folder is no backup, or its files are not what its manifest says.
        StoreTrouble: a daemon owns the data folder, it cannot be written, or what lies in their place is no file.
    """
    with into.locked():
        pieces = (made := _check(folder)).pieces
        for schema, place in _files(into):
            must_be_plain(place, schema)
        bring_pictures(folder, into, made.pictures)
        try:
            for schema, place in _files(into):
                shutil.copyfile(folder / place.name, _draft_of(place))
                if schema is JOURNAL and pieces:
                    lay_upon(_draft_of(place), folder, pieces)
                sync_file(_draft_of(place))
                verify_file(_draft_of(place), schema)
            aside = _set_aside(into)
            for _, place in _files(into):
                # An old write-ahead file beside a new database would be read into it.
                for tail in ("-wal", "-shm"):
                    place.with_name(place.name + tail).unlink(missing_ok=True)
                settle(into.path)
                _draft_of(place).replace(place)
            settle(into.path)
            into.damage.unlink(missing_ok=True)
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=into.path, detail=problem.strerror)) from problem
        finally:
            for _, place in _files(into):
                _draft_of(place).unlink(missing_ok=True)
    return aside


def list_backups(data: DataFolder, elsewhere: Path | None = None) -> tuple[str, ...]:
    """Return a line for each backup, oldest first, or one that says there is none; and one for what was replaced.

    Those that lie in the folder `elsewhere` as well stand with their whole path.
    """
    found = tuple(folder.name for folder, _ in backups(data)) or (say("store.no-backups", path=data.backups),)
    there = () if elsewhere is None else tuple(str(folder) for folder, _ in backups_in(elsewhere))
    return (*found, *there, *(say("store.replaced", path=path, mb=megabytes(path)) for path in data.replaced()))


def remove_replaced(data: DataFolder) -> tuple[str, ...]:
    """Remove what restores have replaced, and return a line for each folder that is gone.

    Raises:
        StoreTrouble: a daemon owns the data folder, or a folder could not be removed.
    """
    with data.locked():
        lines = tuple(say("store.replaced-removed", path=path, mb=megabytes(path)) for path in data.replaced())
        try:
            for path in data.replaced():
                shutil.rmtree(path)
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=data.path, detail=problem.strerror)) from problem
    return lines or (say("store.replaced-none", path=data.path),)


def megabytes(folder: Path) -> int:
    """Return how much lies in a folder, in MB, at least one."""
    return max(1, sum(path.stat().st_size for path in folder.iterdir()) // 1_000_000)


def bring_back(name: str, data: DataFolder) -> tuple[str, ...]:
    """Restore the backup of that name (or in that folder) and return what was done, in words; see `restore`."""
    folder = data.backups / name
    folder = folder if folder.is_dir() else Path(name)
    aside = restore(folder, data)
    missing = missing_of(
        data, next((made.pictures for place, made in backups_in(folder.parent) if place == folder), ())
    )
    said = (
        say("store.restored", name=name, path=data.path),
        say("store.kept-aside", path=aside) if aside is not None else "",
        say_many("store.restored-without", missing) if missing else "",
    )
    return tuple(filter(None, said))


def start_journal_afresh(data: DataFolder) -> tuple[str, ...]:
    """Set the journal aside, whole or damaged, so that the next start makes an empty one; nothing is deleted.

    Raises:
        StoreTrouble: a daemon owns the data folder.
    """
    with data.locked():
        aside = Journal.start_fresh(data.journal)
        data.damage.unlink(missing_ok=True)
    return (say("store.no-journal", path=data.journal) if aside is None else say("store.kept-aside", path=aside),)


def _files(data: DataFolder) -> Iterator[tuple[Schema, Path]]:
    yield JOURNAL, data.journal
    yield SHELF, data.shelf


def _draft_of(place: Path) -> Path:
    return place.with_name(f".{place.name}.restoring")


def _copy_journal(
    data: DataFolder, present: list[tuple[Path, Manifest]], draft: Path, between: Callable[[], None]
) -> tuple[FileSeal, tuple[Piece, ...]]:
    """Copy the journal, or only what it has more than in the newest backup; return its file's seal and the pieces."""
    if present:
        before, made = present[-1]
        try:
            pieces = further_pieces(data.journal, before, made.journal, made.pieces, draft, between)
        except (StoreTrouble, OSError):  # the older one is not what it was: a new one is, from its first row on
            pieces = None
        if pieces is not None:
            return made.journal, pieces
        for left in draft.iterdir():
            left.unlink()
    return _copy(data.journal, draft, JOURNAL, between), ()


def _copy(source: Path, folder: Path, schema: Schema, between: Callable[[], None]) -> FileSeal:
    target = folder / source.name
    with (
        closing(read_store(source, schema)) as from_,
        telling(target, schema),
        closing(sqlite3.connect(target, isolation_level=None)) as to,
    ):
        to.execute("PRAGMA journal_mode = OFF")  # half a copy is thrown away, never mended
        to.execute("PRAGMA synchronous = OFF")  # each step is brought to the card by itself
        to.execute(f"PRAGMA cache_size = {STEP_BYTES // _PAGE_BYTES}")  # what was copied is written soon
        # One moment is read: what is written meanwhile holds up no step, begins none anew, and is not in the copy.
        # Readers hold up no writer of a journal with a write-ahead file, which can only not be emptied so long.
        from_.execute("BEGIN")
        from_.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone()

        def after_step(_status: int, _left: int, _pages: int) -> None:
            settle_step(target)
            between()

        from_.backup(to, pages=STEP_BYTES // _PAGE_BYTES, progress=after_step)
        from_.execute("COMMIT")
        to.execute("PRAGMA journal_mode = DELETE")  # one plain file, with nothing beside it
    sync_file(target)
    check_whole(target, schema, between)
    return seal(target, between)


def _manifest(folder: Path) -> Manifest:
    return Manifest.model_validate_json((folder / MANIFEST).read_bytes())


def _check(folder: Path) -> Manifest:
    """Return the manifest of a backup whose files are as they were made."""
    try:
        manifest = _manifest(folder)
        for name, made in manifest.files().items():
            if seal(folder / name) != made:
                raise Unreadable(say("store.backup-changed", path=folder, name=name))
        return manifest
    except PermissionError:
        raise  # of another user's: the command line says whose
    except (OSError, ValidationError) as problem:
        raise Unreadable(say("store.no-such-backup", path=folder)) from problem


def _set_aside(data: DataFolder) -> Path | None:
    present = [
        beside
        for _, place in _files(data)
        for beside in (place, place.with_name(f"{place.name}-wal"))
        if beside.exists()
    ]
    if not present:
        return None
    number = 1
    while (aside := data.path / f"replaced-{number}").exists():
        number += 1
    aside.mkdir(mode=0o700)
    for path in present:
        shutil.copyfile(path, aside / path.name)
        sync_file(aside / path.name)
    settle(aside)
    settle(data.path)
    return aside


def free_name(folder: Path, today: date) -> Path:
    """Return a name for the backup of a day that no other one in the folder has."""
    name, number = folder / today.isoformat(), 1
    while name.exists():
        number += 1
        name = folder / f"{today.isoformat()}.{number}"
    return name


def fresh_draft(place: Path) -> Path:
    """Make a folder for a backup that is not whole yet, where what an interrupted one left is removed."""
    for left in place.glob(f"{_DRAFT}*"):
        shutil.rmtree(left)
    draft = place / f"{_DRAFT}{secrets.token_hex(4)}"
    draft.mkdir(mode=0o700)
    return draft
