"""The shelf: recipes, strips, papers, settings and what was carried over, all versions; nothing ever changed in it.

Safe from any thread: one connection behind one lock.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from pathlib import Path
from typing import Final, Literal, Self, TypeVar

from pydantic import ValidationError

from controller import wall
from controller.errors import Damaged, NotThere
from controller.exposure.stops import shown
from controller.model import Frozen, new_id
from controller.store.database import open_store, read_store, sum_of, telling, transaction
from controller.store.schemas import SHELF
from controller.store.versions import Away, History, Kept, Version, by_id, digest
from controller.words import say

M = TypeVar("M", bound=Frozen)


class Shelf:
    """What a printer writes and keeps. Saving never overwrites: it adds a version."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, now: Callable[[], datetime]) -> None:
        self._connection = connection
        self._path = path
        self._now = now
        self._lock = threading.RLock()
        with telling(path, SHELF):
            self._version = int(connection.execute("PRAGMA user_version").fetchone()[0])

    @classmethod
    def open(cls, path: Path, now: Callable[[], datetime] = wall.now, *, whole: bool = True) -> Shelf:
        """Open the shelf at `path`, made where there is none; unless `whole`, a large one is only glanced at.

        Raises:
            StoreTrouble: damaged (the file is left as it is), newer than this software, or not writable.
        """
        return cls(open_store(path, SHELF, whole=whole), path, now)

    @classmethod
    def look(cls, path: Path) -> Shelf:
        """Open the shelf at `path` beside the one that writes it, for looking only.

        Raises:
            StoreTrouble: it is not there, or cannot be read; or later, when something is to be saved.
        """
        return cls(read_store(path, SHELF), path, wall.now)

    @classmethod
    def in_memory(cls, now: Callable[[], datetime] = wall.now) -> Shelf:
        """Return a shelf that is gone when it is closed."""
        return cls(open_store(None, SHELF), None, now)

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep all that is saved inside, or none of it; one may stand inside another.

        Raises:
            StoreTrouble: it could not be written; nothing was kept.
        """
        with self._lock, telling(self._path, SHELF):
            inside = self._connection.in_transaction
            with nullcontext() if inside else transaction(self._connection):
                yield

    def save(
        self,
        kind: str,
        title: str,
        body: str,
        id: str | None = None,  # noqa: A002
        *,
        only: bool = False,
    ) -> Kept:
        """Keep `body` as a new version of `id`, or as something new; a body that is the latest already stays it.

        Of a kind of which there is `only` one, it is a version of that one, whose id is its kind.

        Raises:
            NotThere: nothing of that id and kind is kept.
            StoreTrouble: it could not be written; nothing was kept.
        """
        with self.together():
            known = kind if only else id
            last = self._latest_of(known) if known is not None else None
            if id is not None and (last is None or last.kind != kind):
                raise NotThere(say("store.nothing", id=id))
            if last is not None and last.body == body and last.title == title:
                return last
            kept = Kept(
                id=known or self._free_id(),
                version=last.version + 1 if last else 1,
                kind=kind,
                title=title,
                body=body,
                made=wall.label(self._now()),
            )
            self._insert(kept)
            return kept

    def get(self, id: str, version: int | None = None) -> Kept:  # noqa: A002
        """Return one version, the latest unless told.

        Raises:
            NotThere: there is no such thing, or no such version of it.
        """
        with self._lock, telling(self._path, SHELF):
            last = self._latest_of(id)
            found = last if version is None else self._first("id = ? AND version = ?", id, min(version, _LAST))
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

    def latest(
        self, kind: str, *, away: bool = False, limit: int | None = None, after: Version | None = None
    ) -> tuple[Kept, ...]:
        """Return the latest version of each of a kind, last saved first: those at hand, or those put away.

        The first `limit` of them, or those that follow `after`, the last one of the page before.
        """
        sql = f"WHERE kind = ? AND {_IS_LATEST} AND {_IS_AWAY} = ?"
        values: list[str | int] = [kind, int(away)]
        if after is not None:
            sql += " AND number < (SELECT number FROM kept WHERE id = ? AND version = ?)"
            values += [after.id, after.version]
        with self._lock, telling(self._path, SHELF):
            return tuple(self._kept(f"{sql} ORDER BY number DESC LIMIT ?", *values, -1 if limit is None else limit))

    def same(self, kind: str, title: str, body: str) -> Kept | None:
        """Return a thing whose latest version is just this, or None."""
        with self._lock, telling(self._path, SHELF):
            return self._first(f"kind = ? AND title = ? AND body = ? AND {_IS_LATEST}", kind, title, body)

    def touched(self, what: Literal["kept", "away"], after: int, limit: int) -> tuple[tuple[str, ...], int]:
        """Return the things of which the first `limit` rows above `after` speak, and the last number looked at."""
        sql = f"SELECT number, id FROM {what} WHERE number > ? ORDER BY number LIMIT ?"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            found = self._connection.execute(sql, (after, limit)).fetchall()
        return tuple(dict.fromkeys(id_ for _, id_ in found)), found[-1][0] if found else after

    def stands(self, id: str) -> tuple[int, Kept, bool]:  # noqa: A002
        """Return the row of a thing's latest version, that version, and whether it is put away.

        Raises:
            NotThere: there is no such thing.
        """
        kept = self.get(id)
        with self._lock, telling(self._path, SHELF):
            sql = "SELECT number FROM kept WHERE id = ? AND version = ?"
            number = self._connection.execute(sql, (id, kept.version)).fetchone()[0]
            return int(number), kept, self._away(id)

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

    def put_away(self, id: str) -> None:  # noqa: A002
        """Take a thing off the list; its versions stay. Putting it away twice does nothing.

        Raises:
            NotThere: there is no such thing.
        """
        self._say_away(id, away=True)

    def take_out(self, id: str) -> None:  # noqa: A002
        """Put a thing back on the list. Taking it out twice does nothing.

        Raises:
            NotThere: there is no such thing.
        """
        self._say_away(id, away=False)

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
            for number, *columns in found:  # noqa: B007 - the last one is where to go on
                yield self._read(columns)

    def take_in(self, kept: Iterable[Kept], away: Iterable[Away] = ()) -> tuple[Version, ...]:
        """Keep what another shelf had, all or none, ids and versions as they were; return what was new.

        What is here already is passed over. Where the two histories of one id part, the other's versions
        follow as new versions: nothing is overwritten.

        Raises:
            StoreTrouble: it could not be written; nothing was kept.
        """
        new: list[Version] = []
        with self._lock, telling(self._path, SHELF), transaction(self._connection):
            histories: dict[str, History] = {}
            for one in kept:
                if one.id not in histories:
                    mine = self._kept("WHERE id = ? ORDER BY version", one.id)
                    histories[one.id] = History([digest(have) for have in mine])
                if (version := histories[one.id].place(one)) is not None:
                    self._insert(one.model_copy(update={"version": version}))
                    new.append(Version(**one.model_dump(exclude={"body", "version"}), version=version))
            here, theirs = by_id(self.all_away()), by_id(away)
            for id_, words in theirs.items():
                known = here.get(id_, [])
                if words[: len(known)] == known:
                    for word in words[len(known) :]:
                        self._insert_away(word)
        return tuple(new)

    def close(self) -> None:
        """Let the shelf go, its write-ahead file emptied into it; closing twice does nothing."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _free_id(self) -> str:
        while self._first("id = ?", fresh := new_id()):
            pass
        return fresh

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

    def _insert(self, kept: Kept) -> None:
        values = (kept.id, kept.version, kept.kind, kept.title, kept.made, kept.body)
        self._connection.execute(
            f"INSERT INTO kept ({_COLUMNS}, sum) VALUES (?, ?, ?, ?, ?, ?, ?)",  # noqa: S608
            (*values, sum_of(values)),
        )

    def _away(self, id_: str) -> bool:
        sql = "SELECT away FROM away WHERE id = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(sql, (id_,)).fetchone()
        return bool(found and found[0])

    def _insert_away(self, word: Away) -> None:
        values = (word.id, int(word.away), word.made)
        self._connection.execute(
            "INSERT INTO away (id, away, made, sum) VALUES (?, ?, ?, ?)", (*values, sum_of(values))
        )

    def _say_away(self, id_: str, *, away: bool) -> None:
        with self._lock, telling(self._path, SHELF), transaction(self._connection):
            if self._latest_of(id_) is None:
                raise NotThere(say("store.nothing", id=id_))
            if self._away(id_) is not away:
                self._insert_away(Away(id=id_, away=away, made=wall.label(self._now())))


_LAST: Final = 2**63 - 1
"""No version is above it."""
_COLUMNS: Final = "id, version, kind, title, made, body"
_WITH_SUMS: Final = 3
"""The shelf's version from which on a row carries its checksum."""
_AT_ONCE: Final = 200
"""Versions read in one go; a text is at most 256 kB."""
_IS_LATEST: Final = "NOT EXISTS (SELECT 1 FROM kept AS l WHERE l.id = k.id AND l.version > k.version)"
_IS_AWAY: Final = "coalesce((SELECT w.away FROM away AS w WHERE w.id = k.id ORDER BY w.number DESC LIMIT 1), 0)"
