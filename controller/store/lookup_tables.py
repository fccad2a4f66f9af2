"""The file that lists and searches look in: its own tables with those of the rooms, and the words it tells them by."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from controller.keeping import Derived
from controller.store.database import CACHED, sum_of

_VERSION: Final = 4
"""Of the tables here; a file of another, or with other tables of the rooms, is begun anew."""
_TABLES: Final = """
    CREATE TABLE followed (what TEXT PRIMARY KEY, number INTEGER NOT NULL, mark INTEGER NOT NULL) STRICT;
    CREATE TABLE found (place INTEGER PRIMARY KEY, kind TEXT NOT NULL, id TEXT NOT NULL, version INTEGER NOT NULL,
        title TEXT NOT NULL, made TEXT NOT NULL, away INTEGER NOT NULL, line TEXT NOT NULL, UNIQUE (kind, id)) STRICT;
    CREATE INDEX found_of_a_kind ON found (kind, away, place);
    CREATE VIRTUAL TABLE spoken
        USING fts5(title, words, of, tokenize = "unicode61 remove_diacritics 2", prefix = '1 2 3');
"""


MOST_NUMBERED: Final = 20
"""Sheets of one number: each import from another darkroom may bring one."""


def opened(path: Path | None, derived: Sequence[Derived]) -> sqlite3.Connection:
    """Open the file at `path`, made where there is none; without one it is kept in memory.

    Raises:
        sqlite3.DatabaseError: it is damaged, or of another version.
    """
    tables = "\n".join((_TABLES, *(each.tables for each in derived)))
    mark = sum_of((_VERSION, tables, *(each.version for each in derived))) & 0x7FFF_FFFF  # SQLite has 31 bits for it
    connection = sqlite3.connect(path or ":memory:", isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(CACHED)
        connection.execute("PRAGMA synchronous = NORMAL")  # a power cut costs the last piece, which is followed again
        if connection.execute("PRAGMA user_version").fetchone()[0] != mark:
            with closing(connection.execute("SELECT count(*) FROM sqlite_schema")) as there:
                if there.fetchone()[0]:
                    raise sqlite3.DatabaseError("of another version")
            connection.executescript(f"BEGIN; {tables} PRAGMA user_version = {mark}; COMMIT;")
    except BaseException:
        connection.close()
        raise
    if path is not None:
        with suppress(OSError):
            path.chmod(0o600)
    return connection


def token(kind: str, *, away: bool) -> str:
    """Return the word by which those of a kind are told from others within the index of words."""
    return f"{'away' if away else 'here'}{''.join(letter for letter in kind if letter.isalnum())}"


def numbered(number: int) -> str:
    """Return the word by which a sheet is found by its running number."""
    return f"number{number}"
