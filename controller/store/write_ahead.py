"""The write-ahead file beside a store: how much was in it, so that what could not be taken over is not missed unsaid.

SQLite takes over a write-ahead file's frames up to the first that is damaged, and drops the rest without a word.
"""

from __future__ import annotations

import sqlite3
import struct
from contextlib import closing, suppress
from pathlib import Path
from typing import BinaryIO, Final

_HEADER: Final = struct.Struct(">8I")
_FRAME: Final = struct.Struct(">6I")
_MAGIC: Final = 0x377F0682
"""The file's first word but for its last bit, which says how its checksums count. Source: SQLite's file format."""


def frames_in(path: Path) -> int:
    """Return how many frames of finished transactions the write-ahead file of a database has, damaged or not.

    Frames left from before the file was last begun anew do not count; they carry another salt.
    """
    try:
        with path.with_name(f"{path.name}-wal").open("rb") as file:
            return _frames(file)
    except FileNotFoundError:
        return 0


def taken_over(connection: sqlite3.Connection) -> int:
    """Return how many frames of it the database has taken over, and write them into it as far as nobody waits."""
    # Just after a check of all pages SQLite holds its tables for in use, until a transaction has come and gone.
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("COMMIT")
    _busy, frames, _written = connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
    return max(0, int(frames))


def empty(path: Path) -> None:
    """Write all of a write-ahead file into its database and empty it; where somebody is at it, later will do.

    The long part is done first, beside whoever reads or writes; the short one gives up rather than wait.
    """
    gives_up = suppress(sqlite3.Error, UnicodeDecodeError)
    with gives_up, closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as connection:
        connection.execute("PRAGMA wal_checkpoint(PASSIVE)")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _frames(file: BinaryIO) -> int:
    head = file.read(_HEADER.size)
    if len(head) < _HEADER.size:
        return 0
    magic, _version, page_bytes, _serial, *salt, first, second = _HEADER.unpack(head)
    step = _FRAME.size + (page_bytes if page_bytes in _PAGES else _USUAL_PAGE)
    if magic & ~1 != _MAGIC or _checksum(head[:24], big=bool(magic & 1)) != (first, second):
        salt = []  # damaged: what its first frame says counts
    count = number = 0
    while len(frame := file.read(_FRAME.size)) == _FRAME.size:
        _page, pages_after, salt_one, salt_two, *_ = _FRAME.unpack(frame)
        salt = salt or [salt_one, salt_two]
        number += 1
        if [salt_one, salt_two] == salt and pages_after:
            count = number
        file.seek(_HEADER.size + number * step)
    return count


_PAGES: Final = frozenset(2**power for power in range(9, 17))
_USUAL_PAGE: Final = 4096


def _checksum(data: bytes, *, big: bool) -> tuple[int, int]:
    words = struct.unpack(f"{'>' if big else '<'}{len(data) // 4}I", data)
    one = two = 0
    for even, odd in zip(words[::2], words[1::2], strict=True):
        one = (one + even + two) & 0xFFFFFFFF
        two = (two + odd + one) & 0xFFFFFFFF
    return one, two
