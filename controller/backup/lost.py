"""What journal and shelf have no longer that a backup of them has: rows are only ever added to either."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

from controller.backup.dated import backups
from controller.errors import StoreTrouble
from controller.model import Frozen
from controller.store.database import read_store, telling
from controller.store.folder import DataFolder
from controller.store.schemas import JOURNAL, SHELF, Schema
from controller.words import say


class Lost(Frozen):
    """One of the two has fewer rows than a backup of it."""

    words: str
    meant: bool
    """It was set aside, or replaced by a backup: that is known and no loss."""


def lost(data: DataFolder) -> Iterator[Lost]:
    """Give what is lacking; of a file that cannot be read nothing, for whoever opens it says so."""
    for path, schema in ((data.journal, JOURNAL), (data.shelf, SHELF)):
        last = _last_row(path, schema) if path.exists() else 0
        if last is None:
            continue
        newest = 0, ""
        for folder, made in backups(data):
            pieces = made.pieces if schema is JOURNAL else ()
            rows = pieces[-1].last if pieces else _last_row(folder / path.name, schema) or 0
            newest = max(newest, (rows, folder.name))
        rows, name = newest
        if last < rows:
            key, meant = _SAID[schema.name]
            words = say(key, rows=rows, last=last, backup=name)
            yield Lost(words=words, meant=any(next(data.path.glob(kind), None) for kind in meant))


def gone(data: DataFolder) -> tuple[str, ...]:
    """Return what to say where a file is not there at all, though a backup has rows of it, and nobody meant it."""
    if data.journal.exists() and data.shelf.exists():
        return ()
    return tuple(one.words for one in lost(data) if not one.meant)


_SAID: Final = {
    "journal": ("check.journal-cut", ("*.set-aside-*", "replaced-*")),
    "shelf": ("check.shelf-cut", ("replaced-*",)),
}
"""Of each what is said of it, and what lies beside one of which that was meant."""


def _last_row(path: Path, schema: Schema) -> int | None:
    """Return the last row of a file that is only looked at, None where it cannot be."""
    try:
        with telling(path, schema), closing(read_store(path, schema)) as connection:
            return int(connection.execute(f"SELECT coalesce(max(number), 0) FROM {schema.table}").fetchone()[0])  # noqa: S608
    except StoreTrouble:
        return None
