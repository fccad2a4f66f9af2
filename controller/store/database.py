"""The two database files: how they are opened, checked, and brought up to the present version."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from controller.errors import Damaged, StoreTrouble
from controller.words import say

BUSY_MS: Final = 1000
"""How long a statement waits for another process's lock; longer would outlast a lead-in."""
LARGEST_WAL: Final = 4_000_000
"""Bytes the write-ahead file keeps after it was emptied into the database."""

SMALL_BYTES: Final = 1_000_000
"""A file of no more is checked whole wherever it is looked at: that takes a few milliseconds."""


@dataclass(frozen=True, slots=True)
class Schema:
    """One kind of file: its name (as in journal.db), its mark in the header, and its migrations, oldest first.

    Migration n takes a file of version n to version n + 1; an empty file has version 0. Migrations are only
    ever added at the end: what has once been released is never edited.
    """

    name: str
    mark: int
    migrations: tuple[str, ...]

    @property
    def version(self) -> int:
        """The version a file has once every migration has run."""
        return len(self.migrations)


JOURNAL: Final = Schema(
    "journal",
    0x7472646A,
    (
        """
        CREATE TABLE rows (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            boot TEXT NOT NULL,
            at_ns INTEGER NOT NULL,
            wall TEXT NOT NULL,
            synchronised INTEGER NOT NULL CHECK (synchronised IN (0, 1)),
            software TEXT NOT NULL,
            protocol INTEGER NOT NULL,
            setup TEXT NOT NULL,
            kind TEXT NOT NULL,
            sheet TEXT NOT NULL,
            light TEXT NOT NULL,
            body TEXT NOT NULL
        ) STRICT;
        CREATE INDEX rows_of_a_sheet ON rows (sheet, number);
        CREATE INDEX sheets_in_order ON rows (number) WHERE kind = 'planned';
        CREATE UNIQUE INDEX once_a_light ON rows (light, kind)
            WHERE light <> '' AND kind IN ('intent', 'light', 'no light');
        CREATE TRIGGER rows_stay BEFORE UPDATE ON rows
            BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
        CREATE TRIGGER rows_remain BEFORE DELETE ON rows
            BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
        """,
    ),
)

SHELF: Final = Schema(
    "shelf",
    0x74726473,
    (
        """
        CREATE TABLE kept (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            version INTEGER NOT NULL CHECK (version >= 1),
            kind TEXT NOT NULL CHECK (kind IN ('recipe', 'strip', 'paper', 'settings')),
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            made TEXT NOT NULL,
            UNIQUE (id, version)
        ) STRICT;
        CREATE TABLE away (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            away INTEGER NOT NULL CHECK (away IN (0, 1)),
            made TEXT NOT NULL
        ) STRICT;
        CREATE INDEX away_of_one ON away (id, number);
        CREATE TRIGGER kept_stay BEFORE UPDATE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER kept_remain BEFORE DELETE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER away_stay BEFORE UPDATE ON away
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER away_remain BEFORE DELETE ON away
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        """,
        # Which kinds there are is said by controller.store.shelf alone from here on: a new one needs no new table.
        """
        CREATE TABLE kept_of_any_kind (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            version INTEGER NOT NULL CHECK (version >= 1),
            kind TEXT NOT NULL,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            made TEXT NOT NULL,
            UNIQUE (id, version)
        ) STRICT;
        INSERT INTO kept_of_any_kind SELECT number, id, version, kind, title, body, made FROM kept ORDER BY number;
        DROP TABLE kept;
        ALTER TABLE kept_of_any_kind RENAME TO kept;
        CREATE TRIGGER kept_stay BEFORE UPDATE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER kept_remain BEFORE DELETE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        """,
    ),
)


def open_store(path: Path | None, schema: Schema, *, whole: bool = True) -> sqlite3.Connection:
    """Open a file for its one writer, checked and brought up to the present version; None is a file in memory.

    Unless `whole`, only a small file is checked on every page; of a large one kind, version and the first and last
    row of each table are looked at, which takes no longer for many rows than for few.

    Raises:
        StoreTrouble: damaged (it is left as it is), of a newer version, of another kind, or not writable.
    """
    with telling(path, schema):
        connection = sqlite3.connect(
            path or ":memory:", timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA recursive_triggers = ON")  # or REPLACE would slip past the triggers
            if whole or path is None or is_small(path):
                _verify(connection, path, schema)
            else:
                _glance(connection, path, schema)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(f"PRAGMA journal_size_limit = {LARGEST_WAL}")
            _bring_up(connection, schema)
        except BaseException:
            connection.close()
            raise
    return connection


def read_store(path: Path, schema: Schema) -> sqlite3.Connection:
    """Open a file for looking only; it must have been opened by its writer before.

    Raises:
        StoreTrouble: as `open_store`, and where there is no such file.
    """
    with telling(path, schema):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=ro",
            uri=True,
            timeout=BUSY_MS / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            _known(connection, path, schema)
        except BaseException:
            connection.close()
            raise
    return connection


def verify_file(path: Path, schema: Schema) -> None:
    """Check a file that nobody is writing: its kind, its version, every page of it.

    Raises:
        StoreTrouble: says what is wrong with it.
    """
    with closing(read_store(path, schema)) as connection, telling(path, schema):
        _verify(connection, path, schema)


def is_small(path: Path) -> bool:
    """Tell whether a file, with what waits beside it to be written into it, is checked whole in a moment."""
    return sum(_bytes(part) for part in (path, _wal(path))) <= SMALL_BYTES


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do all of it or none of it, on disk when this ends."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def telling(path: Path | None, schema: Schema) -> Iterator[None]:
    """Turn what the database says into a sentence with a remedy.

    Raises:
        StoreTrouble: in place of any `sqlite3.Error`.
    """
    try:
        yield
    except sqlite3.Error as problem:
        raise trouble(str(getattr(problem, "sqlite_errorname", "")), str(problem), path, schema) from problem


def trouble(code: str, detail: str, path: Path | None, schema: Schema) -> StoreTrouble:
    """Return the sentence, with a remedy, for the database's word `code` (as SQLITE_FULL) and its `detail`."""
    key = _SENTENCES.get(code.removeprefix("SQLITE_").partition("_")[0], "store.other")
    detail = detail.replace("\n", " ").replace("*** ", "").strip()
    kind = Damaged if key == "store.damaged" else StoreTrouble
    return kind(say(key, name=schema.name, path=path or "memory", detail=detail))


_SENTENCES: Final = {
    "BUSY": "store.busy",
    "LOCKED": "store.busy",
    "FULL": "store.full",
    "READONLY": "store.read-only",
    "CANTOPEN": "store.cannot-open",
    "PERM": "store.cannot-open",
    "IOERR": "store.card",
    "CORRUPT": "store.damaged",
    "NOTADB": "store.damaged",
}


def _known(connection: sqlite3.Connection, path: Path | None, schema: Schema) -> int:
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    empty = not connection.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone()
    if mark != schema.mark and not (mark == 0 and version == 0 and empty):
        raise StoreTrouble(say("store.another-kind", name=schema.name, path=path or "memory"))
    if version > schema.version:
        raise StoreTrouble(say("store.newer", name=schema.name, path=path or "memory"))
    return version


def _verify(connection: sqlite3.Connection, path: Path | None, schema: Schema) -> None:
    _known(connection, path, schema)
    found = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
    if found != "ok":
        raise trouble("CORRUPT", found, path, schema)


def _glance(connection: sqlite3.Connection, path: Path, schema: Schema) -> None:
    _known(connection, path, schema)
    tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    for (name,) in tables:
        for way in ("ASC", "DESC"):
            connection.execute(f'SELECT * FROM "{name}" ORDER BY rowid {way} LIMIT 1').fetchone()  # noqa: S608


def _wal(path: Path) -> Path:
    return path.with_name(f"{path.name}-wal")


def _bytes(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _bring_up(connection: sqlite3.Connection, schema: Schema) -> None:
    with transaction(connection):  # says at once where the file cannot be written
        version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    for number in range(version, schema.version):
        try:
            connection.executescript(
                f"BEGIN IMMEDIATE; {schema.migrations[number]};"
                f"PRAGMA application_id = {schema.mark}; PRAGMA user_version = {number + 1}; COMMIT;"
            )
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
