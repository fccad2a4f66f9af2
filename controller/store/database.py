"""How the two database files are opened, checked, and brought up to the present version."""

from __future__ import annotations

import errno
import logging
import os
import sqlite3
import stat
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from controller.errors import Damaged, StoreTrouble
from controller.exposure.stops import shown
from controller.files import settle, sync_file
from controller.store.schemas import JOURNAL, SHELF, Schema
from controller.store.write_ahead import frames_in, taken_over
from controller.words import say

_log = logging.getLogger(__name__)
BUSY_MS: Final = 1000
"""How long a statement waits for another process's lock; longer would outlast a lead-in."""
KEY_FILE: Final = "secret.key"
"""Made at a data folder's first start, before anything is kept."""
LARGEST_WAL: Final = 4_000_000
"""Bytes the write-ahead file keeps after it was emptied into the database."""
CACHED: Final = "PRAGMA cache_size = -256"
"""The kB of pages that a connection keeps: a daemon has a dozen, and the system has the same pages ready for all."""

SMALL_BYTES: Final = 1_000_000
"""A file of no more is checked whole wherever it is looked at: that takes a few milliseconds."""


def open_store(
    path: Path | None, schema: Schema, *, whole: bool = True, note: Callable[[str], object] = _log.warning
) -> sqlite3.Connection:
    """Open a file for its one writer, checked and brought up to the present version; None is a file in memory.

    One that is not there is made, whole or not at all, for its owner's eyes only. `note` gets a sentence about what
    an unclean end has lost.

    Unless `whole`, only a small file is checked on every page; of a large one kind, version and the first and last
    row of each table are looked at, which takes no longer for many rows than for few.

    Raises:
        StoreTrouble: damaged (it is left as it is), of a newer version or another kind, no file, or not writable.
    """
    waiting = 0
    if path is not None:
        must_be_plain(path, schema)
        if not path.exists():
            _make(path, schema)
        with suppress(OSError):  # another's file, which its folder guards
            path.chmod(0o600)
        waiting = frames_in(path)
    with telling(path, schema):
        connection = sqlite3.connect(
            path or ":memory:", timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA recursive_triggers = ON")  # or REPLACE would slip past the triggers
            if path is not None and not _known(connection, path, schema) and _was_filled(path, schema):
                raise trouble("CORRUPT", say("store.is-empty"), path, schema)
            if whole or path is None or is_small(path):
                _verify(connection, path, schema)
            else:
                _glance(connection, path, schema)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(f"PRAGMA journal_size_limit = {LARGEST_WAL}")
            connection.execute(CACHED)
            if waiting > taken_over(connection):
                note(say("store.cut", name=schema.name, path=path))
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
    must_be_plain(path, schema)
    with telling(path, schema):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=ro",
            uri=True,
            timeout=BUSY_MS / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            if not _known(connection, path, schema):
                raise trouble("CORRUPT", say("store.is-empty"), path, schema)
            connection.execute(CACHED)
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


def must_be_plain(path: Path, schema: Schema) -> None:
    """Refuse what is no file, there or beside: who opens a pipe waits for its other end for ever.

    Raises:
        StoreTrouble: a pipe, a socket, a device or a folder lies where a file must.
    """
    for part in (path, *(path.with_name(path.name + tail) for tail in _BESIDE)):
        with suppress(OSError):  # not there, or not to be seen: opening it says so
            if not stat.S_ISREG(part.stat().st_mode):
                raise StoreTrouble(say("store.not-plain", name=schema.name, path=part))


_BESIDE: Final = ("-wal", "-shm", "-journal")
"""What SQLite lays beside a database, and opens with it."""


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
    except UnicodeDecodeError as problem:  # the database's own message may quote what is damaged
        raise trouble("CORRUPT", say("store.no-text"), path, schema) from problem
    except sqlite3.Error as problem:
        code = getattr(problem, "sqlite_errorname", "")
        if not code and "decode to UTF-8" in str(problem):  # Python's own of a text that is none
            raise trouble("CORRUPT", say("store.no-text"), path, schema) from problem
        raise trouble(code, str(problem), path, schema) from problem


def in_order(numbers: Iterable[int], after: int, path: Path | None, schema: Schema) -> None:
    """Hold rows that were asked for in their order, above `after`, to that order.

    In a damaged file a search can end at rows that do not go on, and who goes on from the last one found never ends.

    Raises:
        Damaged: they are not in their order.
    """
    for number in numbers:
        if number <= after:
            raise trouble("CORRUPT", say("store.no-order"), path, schema)
        after = number


def trouble(code: str, detail: str, path: Path | None, schema: Schema) -> StoreTrouble:
    """Return the sentence, with a remedy, for the database's word `code` (as SQLITE_FULL) and its `detail`."""
    key = _SENTENCES.get(code.removeprefix("SQLITE_").partition("_")[0], "store.other")
    detail = shown(detail.replace("\n", " ").replace("*** ", "").strip(), 200)
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
    "ERROR": "store.damaged",  # what is asked for is no table or column of this file: its own list of them is damaged
    "NOTADB": "store.damaged",
}


def _known(connection: sqlite3.Connection, path: Path | None, schema: Schema) -> int:
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    empty = not connection.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone()
    if mark != schema.mark and not (mark == 0 and version == 0 and empty):
        raise StoreTrouble(say("store.another-kind", name=schema.name, path=path or "memory"))
    if version < 0:
        raise trouble("CORRUPT", say("store.version-below", version=version), path, schema)
    if version > schema.version:
        raise StoreTrouble(say("store.newer", name=schema.name, path=path or "memory"))
    if version and not connection.execute("SELECT 1 FROM sqlite_schema WHERE name = ?", (schema.table,)).fetchone():
        raise trouble("CORRUPT", say("store.is-empty"), path, schema)
    return version


def _was_filled(path: Path, schema: Schema) -> bool:
    """Tell whether anything beside a file without tables says that it had some: a power cut leaves such a one."""
    others = (path.with_name(f"{other.name}.db") for other in (JOURNAL, SHELF) if other is not schema)
    return path.with_name(KEY_FILE).exists() or any(map(_bytes, others)) or any(path.parent.glob("backups/*/*.json"))


def _make(path: Path, schema: Schema) -> None:
    """Make an empty store, whole or not at all, for its owner's eyes only."""
    draft = path.with_name(f".{path.name}.new")
    try:
        draft.unlink(missing_ok=True)
        os.close(os.open(draft, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        with telling(path, schema), closing(sqlite3.connect(draft, isolation_level=None)) as connection:
            _bring_up(connection, schema)
        sync_file(draft)
        draft.rename(path)
        settle(path.parent)
    except OSError as problem:
        raise trouble(_SYSTEM_SAYS.get(problem.errno or 0, "CANTOPEN"), str(problem), path, schema) from problem
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)


_SYSTEM_SAYS: Final = {errno.ENOSPC: "FULL", errno.EDQUOT: "FULL", errno.EROFS: "READONLY", errno.EIO: "IOERR"}


def _verify(connection: sqlite3.Connection, path: Path | None, schema: Schema) -> None:
    _known(connection, path, schema)
    connection.text_factory = lambda text: text.decode(errors="replace")  # it quotes what is damaged
    found = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
    connection.text_factory = str
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


def sum_of(values: Iterable[object]) -> int:
    """Return the checksum of a row's values, in their order, so that a card that changed a letter is found out.

    It is the same for a truth and its number.
    """
    return zlib.crc32("\x1f".join(str(int(v) if isinstance(v, bool) else v) for v in values).encode(errors="replace"))
