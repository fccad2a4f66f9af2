"""The shelf: recipes, strips, papers, settings and what was carried over, all versions; nothing ever changed in it.

Safe from any thread: one connection behind one lock.
"""

from __future__ import annotations

import hashlib
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from pathlib import Path
from typing import Final, Self

from pydantic import Field

from controller import wall
from controller.errors import NotThere
from controller.model import Frozen, new_id
from controller.store.database import SHELF, open_store, read_store, telling, transaction
from controller.words import say


class Version(Frozen):
    """One version of one thing on the shelf, but for its text."""

    id: str = Field(pattern="^[0-9a-z-]{1,40}$")
    version: int = Field(ge=1)
    kind: str = Field(pattern="^[a-z][a-z ]{0,20}$")
    """As the room that keeps it declares it."""
    title: str
    made: str
    """Wall time, ISO 8601 in UTC; a label."""


class Kept(Version):
    """One version of one thing on the shelf."""

    body: str
    """The text as it was written."""


class Away(Frozen):
    """Whether a thing is put away, said at a moment."""

    id: str
    away: bool
    made: str


class Shelf:
    """What a printer writes and keeps. Saving never overwrites: it adds a version."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, now: Callable[[], datetime]) -> None:
        self._connection = connection
        self._path = path
        self._now = now
        self._lock = threading.RLock()

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
            found = self._connection.execute("SELECT id, away, made FROM away ORDER BY number").fetchall()
        return tuple(Away(id=id_, away=bool(said), made=made) for id_, said, made in found)

    def each(self) -> Iterator[Kept]:
        """Give all versions of all things in the order of saving, some at a time: not all of them at once.

        Raises:
            StoreTrouble: the file cannot be read.
        """
        number = 0
        while True:
            with self._lock, telling(self._path, SHELF):
                sql = f"SELECT number, {_COLUMNS} FROM kept WHERE number > ? ORDER BY number LIMIT {_AT_ONCE}"  # noqa: S608
                found = self._connection.execute(sql, (number,)).fetchall()
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
            histories: dict[str, _History] = {}
            for one in kept:
                if one.id not in histories:
                    mine = self._kept("WHERE id = ? ORDER BY version", one.id)
                    histories[one.id] = _History([_digest(have) for have in mine])
                if (version := histories[one.id].place(one)) is not None:
                    self._insert(one.model_copy(update={"version": version}))
                    new.append(Version(**one.model_dump(exclude={"body", "version"}), version=version))
            here, theirs = _by_id(self.all_away()), _by_id(away)
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
        for columns in self._connection.execute(f"SELECT {_COLUMNS} FROM kept AS k {rest}", values):  # noqa: S608
            yield self._read(columns)

    def _first(self, which: str, *values: str | int) -> Kept | None:
        return next(self._kept(f"WHERE {which} LIMIT 1", *values), None)

    def _latest_of(self, id_: str) -> Kept | None:
        return next(self._kept("WHERE id = ? ORDER BY version DESC LIMIT 1", id_), None)

    def _read(self, columns: Iterable[object]) -> Kept:
        return Kept.model_validate(dict(zip(Kept.model_fields, columns, strict=True)))

    def _insert(self, kept: Kept) -> None:
        self._connection.execute(
            f"INSERT INTO kept ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)",  # noqa: S608
            (kept.id, kept.version, kept.kind, kept.title, kept.made, kept.body),
        )

    def _away(self, id_: str) -> bool:
        sql = "SELECT away FROM away WHERE id = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(sql, (id_,)).fetchone()
        return bool(found and found[0])

    def _insert_away(self, word: Away) -> None:
        self._connection.execute(
            "INSERT INTO away (id, away, made) VALUES (?, ?, ?)", (word.id, int(word.away), word.made)
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
_AT_ONCE: Final = 200
"""Versions read in one go; a text is at most 256 kB."""
_IS_LATEST: Final = "NOT EXISTS (SELECT 1 FROM kept AS l WHERE l.id = k.id AND l.version > k.version)"
_IS_AWAY: Final = "coalesce((SELECT w.away FROM away AS w WHERE w.id = k.id ORDER BY w.number DESC LIMIT 1), 0)"


class _History:
    """The versions of one thing, oldest first, while those of another shelf are laid beside them in their order."""

    def __init__(self, mine: list[bytes]) -> None:
        self._mine, self._known = mine, set(mine)
        self._seen, self._last, self._parted = 0, len(mine), False

    def place(self, one: Kept) -> int | None:
        """Return which version the next one of theirs becomes here, None where it is here already."""
        digest, at = _digest(one), self._seen
        self._seen += 1
        self._parted = self._parted or (at < len(self._mine) and digest != self._mine[at])
        if (at < len(self._mine) and not self._parted) or (self._parted and digest in self._known):
            return None
        self._last += 1
        return self._last if self._parted else one.version


def _digest(one: Kept) -> bytes:
    return hashlib.sha256(f"{len(one.title)} {one.title}{one.body}".encode()).digest()


def _by_id(words: Iterable[Away]) -> dict[str, list[Away]]:
    found: dict[str, list[Away]] = {}
    for word in words:
        found.setdefault(word.id, []).append(word)
    return found
