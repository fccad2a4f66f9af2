"""How backups share what is the same: a large journal is copied once, and each night's rows are a piece of their own.

Each backup's folder has all that it needs: what an earlier one has as well is the same file under a second name, and
goes with the last of them. Rows are only ever added, so pieces laid one after the other are the journal.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

from pydantic import Field

from controller.errors import StoreTrouble
from controller.files import sync_file
from controller.model import Frozen
from controller.store.database import in_order, open_store, read_store, telling
from controller.store.schemas import JOURNAL
from controller.words import say

STEP_BYTES: Final = 256 * 1024
"""So much is copied, or read, at a time: on a slow card about as long as an append takes."""
SHARED_FROM: Final = 8_000_000
"""Bytes of a file below which every backup has a copy of its own: fourteen of them are nothing to a card."""
MOST_PIECES: Final = 60
SHARE_OF_BASE: Final = 4
"""Once the pieces come to a quarter of what they are laid upon, all of it is copied anew."""
_ROWS_AT_ONCE: Final = 200


class FileSeal(Frozen):
    """What a file of a backup must be."""

    bytes: int
    sha256: str = Field(pattern="^[0-9a-f]{64}$")


class Piece(FileSeal):
    """Rows of the journal in a file of their own: those above `after`, up to `last`."""

    name: str = Field(pattern="^journal-[0-9]{1,19}-[0-9]{1,19}[.]db$")
    after: int = Field(ge=0)
    last: int = Field(ge=1)


def seal(path: Path, between: Callable[[], None] = lambda: None) -> FileSeal:
    """Return what a file is now; `between` is called between two steps of reading it."""
    whole = hashlib.sha256()
    with path.open("rb", buffering=0) as file:
        while piece := file.read(STEP_BYTES):
            whole.update(piece)
            between()
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    return FileSeal(bytes=path.stat().st_size, sha256=whole.hexdigest())


def settle_step(path: Path) -> None:
    """Bring to the card what was just copied, and free the memory it took as a file of the system's."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fdatasync(opened)
        os.posix_fadvise(opened, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(opened)


def further_pieces(
    journal: Path, before: Path, base: FileSeal, pieces: tuple[Piece, ...], draft: Path, between: Callable[[], None]
) -> tuple[Piece, ...] | None:
    """Lay the files of the backup `before` into `draft`, with a new piece of what the journal has more.

    Return all the pieces; or None where the journal had better be copied whole: it is small, or another one, or the
    pieces have become many, or what is there is not as it was made.
    """
    if (
        base.bytes < SHARED_FROM
        or len(pieces) >= MOST_PIECES
        or SHARE_OF_BASE * sum(piece.bytes for piece in pieces) > base.bytes
    ):
        return None
    last = _last(before / (pieces[-1].name if pieces else journal.name))
    if not last or last != _row(journal, int(str(last[0]))):
        return None
    if any(seal(before / name, between) != made for name, made in _files(journal.name, base, pieces)):
        return None
    try:
        for name, _ in _files(journal.name, base, pieces):
            os.link(before / name, draft / name)
    except OSError:  # a file system that knows no second names
        for name, _ in _files(journal.name, base, pieces):
            (draft / name).unlink(missing_ok=True)
        return None
    after = int(str(last[0]))
    made = _new_piece(journal, after, draft, between)
    return pieces if made is None else (*pieces, made)


def lay_upon(base: Path, folder: Path, pieces: tuple[Piece, ...]) -> None:
    """Add the rows of a backup's pieces to a copy of its base, all of them or none.

    Raises:
        StoreTrouble: a piece does not follow the one before it, or cannot be read.
    """
    with telling(base, JOURNAL), closing(open_store(base, JOURNAL)) as to:
        to.execute("BEGIN IMMEDIATE")
        for piece in pieces:
            here = int(to.execute("SELECT coalesce(max(number), 0) FROM rows").fetchone()[0])
            if here != piece.after:
                raise StoreTrouble(say("store.row-missing", number=here + 1, found=piece.after + 1))
            _add_rows(folder / piece.name, to, here, lambda: None)
        to.execute("COMMIT")
        to.execute("PRAGMA journal_mode = DELETE").fetchall()


def _files(name: str, base: FileSeal, pieces: tuple[Piece, ...]) -> list[tuple[str, FileSeal]]:
    return [(name, base), *((piece.name, FileSeal(bytes=piece.bytes, sha256=piece.sha256)) for piece in pieces)]


def _new_piece(journal: Path, after: int, draft: Path, between: Callable[[], None]) -> Piece | None:
    target = draft / "piece.db"
    with telling(target, JOURNAL), closing(open_store(target, JOURNAL)) as to:
        last = _add_rows(journal, to, after, between)
        to.execute("PRAGMA journal_mode = DELETE").fetchall()
    if last == after:
        target.unlink()
        return None
    name = f"journal-{after + 1}-{last}.db"
    target.rename(draft / name)
    sync_file(draft / name)
    return Piece(name=name, after=after, last=last, **seal(draft / name, between).model_dump())


def _add_rows(source: Path, to: sqlite3.Connection, after: int, between: Callable[[], None]) -> int:
    """Copy the rows of a journal above `after`, some at a time, and return the last one's number."""
    with closing(read_store(source, JOURNAL)) as from_, telling(source, JOURNAL):
        upto = int(from_.execute("SELECT coalesce(max(number), 0) FROM rows").fetchone()[0])
        while rows := from_.execute(
            "SELECT * FROM rows WHERE number > ? AND number <= ? ORDER BY number LIMIT ?", (after, upto, _ROWS_AT_ONCE)
        ).fetchall():
            in_order((row[0] for row in rows), after, source, JOURNAL)
            to.execute("SAVEPOINT some")  # one settling for all of them
            to.executemany(f"INSERT INTO rows VALUES ({', '.join('?' * len(rows[0]))})", rows)  # noqa: S608
            to.execute("RELEASE some")
            after = rows[-1][0]
            between()
    return after


def _last(journal: Path) -> tuple[object, ...]:
    return _row(journal, None)


def _row(journal: Path, number: int | None) -> tuple[object, ...]:
    """Return a row of a journal but for its checksum, which older ones have not; nothing where there is none."""
    with closing(read_store(journal, JOURNAL)) as connection, telling(journal, JOURNAL):
        which = "ORDER BY number DESC LIMIT 1" if number is None else "WHERE number = ?"
        found = connection.execute(f"SELECT * FROM rows {which}", () if number is None else (number,)).fetchone()  # noqa: S608
    return tuple(found[:12]) if found else ()
