"""What is on the shelf, looked at: versions of things, lists of them by pages, and what was put away.

Safe from any thread: one connection behind one lock. `Shelf` writes to it.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import Final, Literal, Self, TypeVar

from pydantic import ValidationError

from controller.errors import Damaged, NotThere
from controller.exposure.stops import shown
from controller.model import Frozen
from controller.store.database import in_order, sum_of, telling
from controller.store.schemas import SHELF
from controller.store.versions import Away, Kept
from controller.words import say

M = TypeVar("M", bound=Frozen)


class OnTheShelf:
    """All that may be asked of a shelf; nothing here changes it."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None) -> None:
        self._connection = connection
        self._path = path
        self._lock = threading.RLock()
        with telling(path, SHELF):
            self._version = int(connection.execute("PRAGMA user_version").fetchone()[0])

    def get(self, id: str, version: int | None = None) -> Kept:  # noqa: A002
        """Return one version, the latest unless told.

        Raises:
            NotThere: there is no such thing, or no such version of it.
        """
        with self._lock, telling(self._path, SHELF):
            last = self._latest_of(id)
            found = last if version is None else self._first("id = ? AND version = ?", id, max(0, min(version, _LAST)))
        if last is None:
            raise NotThere(say("store.nothing", id=id))
        if found is None:
            raise NotThere(say("store.no-version", title=last.title, version=version, last=last.version))
        return found

    def holds(self, *kinds: str) -> bool:
        """Tell whether anything of these kinds is kept, put away or not."""
        sql = f"SELECT 1 FROM kept WHERE kind IN ({', '.join('?' * len(kinds))}) LIMIT 1"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            return self._connection.execute(sql, kinds).fetchone() is not None

    def versions(self, id: str) -> tuple[Kept, ...]:  # noqa: A002
        """Return every version, newest first.

        Raises:
            NotThere: there is no such thing.
        """
        with self._lock, telling(self._path, SHELF):
            found = tuple(self._kept("WHERE id = ? ORDER BY version DESC", id))
        if not found:
            raise NotThere(say("store.nothing", id=id))
        return found

    def latest(self, kind: str, *, away: bool = False, limit: int | None = None) -> tuple[Kept, ...]:
        """Return the latest version of each of a kind, last saved first: those at hand, or those put away."""
        return tuple(kept for _, kept in self.page(kind, away=away, limit=limit))

    def page(
        self, kind: str, *, away: bool = False, below: int | None = None, limit: int | None = None
    ) -> tuple[tuple[int, Kept], ...]:
        """Return the first `limit` of `latest`, or of those whose row lies `below` one; each with its row's number."""
        sql = f"kind = ? AND number < ? AND {_IS_LATEST} AND {_IS_AWAY} = ? ORDER BY number DESC LIMIT ?"
        values = (kind, _LAST if below is None else below, int(away), -1 if limit is None else limit)
        return tuple((number, kept) for number, kept, _ in self._standing(sql, *values))

    def standing(self, ids: Collection[str]) -> dict[str, tuple[int, Kept, bool]]:
        """Return of those that are kept the latest version, its row's number, and whether the thing is put away."""
        sql = f"id IN ({', '.join('?' * len(ids))}) AND {_IS_LATEST}"
        return {kept.id: (number, kept, away) for number, kept, away in self._standing(sql, *ids)}

    def holding(self, kind: str, text: str) -> Iterator[Kept]:
        """Give the latest of a kind in whose text just this stands, last saved first, none that was put away."""
        yield from (
            kept
            for _, kept, _ in self._standing(
                f"kind = ? AND instr(body, ?) AND {_IS_LATEST} AND NOT {_IS_AWAY} ORDER BY number DESC", kind, text
            )
        )

    def called(self, kind: str, title: str) -> str:
        """Return the last saved of a kind that has this title, whatever its capitals, or nothing."""
        sql = f"SELECT id, title FROM kept AS k WHERE kind = ? AND {_IS_LATEST} AND NOT {_IS_AWAY} ORDER BY number DESC"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            found = self._connection.execute(sql, (kind,)).fetchall()
        return next((id_ for id_, other in found if other.casefold() == title.casefold()), "")

    def same(self, kind: str, title: str, body: str) -> Kept | None:
        """Return a thing whose latest version is just this, or None."""
        with self._lock, telling(self._path, SHELF):
            return self._first(f"kind = ? AND title = ? AND body = ? AND {_IS_LATEST}", kind, title, body)

    def touched(self, what: Literal["kept", "away"], after: int, limit: int) -> tuple[tuple[str, ...], int]:
        """Return the things of which the first `limit` rows above `after` speak, and the last number looked at."""
        sql = f"SELECT number, id FROM {what} WHERE number > ? ORDER BY number LIMIT ?"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            found = self._connection.execute(sql, (after, limit)).fetchall()
        in_order((number for number, _ in found), after, self._path, SHELF)
        return tuple(dict.fromkeys(id_ for _, id_ in found)), found[-1][0] if found else after

    def stands(self, id: str) -> tuple[int, Kept, bool]:  # noqa: A002
        """Return the row of a thing's latest version, that version, and whether it is put away.

        Raises:
            NotThere: there is no such thing.
        """
        found = self.standing((id,))
        if not found:
            raise NotThere(say("store.nothing", id=id))
        return found[id]

    def marks(self) -> tuple[int, int]:
        """Return the numbers of the last rows: where they are as they were, so is all else."""
        sql = "SELECT coalesce((SELECT max(number) FROM kept), 0), coalesce((SELECT max(number) FROM away), 0)"
        with self._lock, telling(self._path, SHELF):
            kept, away = self._connection.execute(sql).fetchone()
        return int(kept), int(away)

    def fingerprint(self, what: Literal["kept", "away"], number: int) -> tuple[str, ...]:
        """Return what tells a row from one of the same number on another shelf; nothing where there is none."""
        sql = f"SELECT id, made FROM {what} WHERE number = ?"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            return tuple(self._connection.execute(sql, (number,)).fetchone() or ())

    def newest(self) -> dict[str, int]:
        """Return the number of each thing's latest version, by its id."""
        with self._lock, telling(self._path, SHELF):
            return dict(self._connection.execute("SELECT id, max(version) FROM kept GROUP BY id"))

    def kinds(self) -> dict[str, str]:
        """Return what kind each thing is, by its id."""
        with self._lock, telling(self._path, SHELF):
            return dict(self._connection.execute("SELECT id, kind FROM kept WHERE version = 1"))

    def everything(self) -> tuple[tuple[Kept, ...], tuple[Away, ...]]:
        """Return all versions of all things, and all that was ever said of putting away, in the order of saving."""
        away = self.all_away()
        return tuple(self.each()), away

    def all_away(self) -> tuple[Away, ...]:
        """Return all that was ever said of putting away, in its order."""
        with self._lock, telling(self._path, SHELF):
            sql = f"SELECT {self._read_of('id, away, made')} FROM away ORDER BY number"  # noqa: S608
            return tuple(self._sound(Away, columns) for columns in self._connection.execute(sql))

    def each(self) -> Iterator[Kept]:
        """Give all versions of all things in the order of saving, some at a time: not all of them at once.

        Raises:
            StoreTrouble: the file cannot be read.
        """
        number = 0
        while True:
            with self._lock, telling(self._path, SHELF):
                sql = f"SELECT number, {self._read_of(_COLUMNS)} FROM kept WHERE number > ? ORDER BY number LIMIT ?"  # noqa: S608
                found = self._connection.execute(sql, (number, _AT_ONCE)).fetchall()
            if not found:
                return
            in_order((columns[0] for columns in found), number, self._path, SHELF)
            for number, *columns in found:  # noqa: B007 - the last one is where to go on
                yield self._read(columns)

    def close(self) -> None:
        """Let the shelf go, its write-ahead file emptied into it; closing twice does nothing."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _standing(self, which: str, *values: str | int) -> list[tuple[int, Kept, bool]]:
        sql = f"SELECT number, {_IS_AWAY}, {self._read_of(_COLUMNS)} FROM kept AS k WHERE {which}"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            found = self._connection.execute(sql, values).fetchall()
        return [(int(number), self._read(columns), bool(away)) for number, away, *columns in found]

    def _kept(self, rest: str, *values: str | int) -> Iterator[Kept]:
        for columns in self._connection.execute(f"SELECT {self._read_of(_COLUMNS)} FROM kept AS k {rest}", values):  # noqa: S608
            yield self._read(columns)

    def _first(self, which: str, *values: str | int) -> Kept | None:
        return next(self._kept(f"WHERE {which} LIMIT 1", *values), None)

    def _latest_of(self, id_: str) -> Kept | None:
        return next(self._kept("WHERE id = ? ORDER BY version DESC LIMIT 1", id_), None)

    def _read(self, columns: Iterable[object]) -> Kept:
        return self._sound(Kept, columns)

    def _sound(self, model: type[M], columns: Iterable[object]) -> M:
        """Return what a row says; its last value is the checksum that it was written with, if with any."""
        *values, written = columns
        if written is not None and written != sum_of(values):
            raise Damaged(say("store.thing-changed", path=self._path or "memory", id=shown(values[0])))
        try:
            return model.model_validate(dict(zip(model.model_fields, values, strict=True)))
        except ValidationError as problem:
            raise Damaged(say("store.thing", path=self._path or "memory", id=shown(values[0]))) from problem

    def _read_of(self, columns: str) -> str:
        return f"{columns}, {'sum' if self._version >= _WITH_SUMS else 'NULL'}"

    def _away(self, id_: str) -> bool:
        sql = "SELECT away FROM away WHERE id = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(sql, (id_,)).fetchone()
        return bool(found and found[0])


_LAST: Final = 2**63 - 1
"""No version is above it."""
_COLUMNS: Final = "id, version, kind, title, made, body"
_WITH_SUMS: Final = 3
"""The shelf's version from which on a row carries its checksum."""
_AT_ONCE: Final = 200
"""Versions read in one go; a text is at most 256 kB."""
_IS_LATEST: Final = "NOT EXISTS (SELECT 1 FROM kept AS l WHERE l.id = k.id AND l.version > k.version)"
_IS_AWAY: Final = "coalesce((SELECT w.away FROM away AS w WHERE w.id = k.id ORDER BY w.number DESC LIMIT 1), 0)"
