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
from typing import Final, Literal, Self, TypeAlias

from controller import wall
from controller.errors import NotThere
from controller.model import Frozen, new_id
from controller.store.database import SHELF, open_store, read_store, telling, transaction
from controller.words import say

Kind: TypeAlias = Literal["recipe", "strip", "paper", "settings", "carry"]

SETTINGS_ID: Final = "settings"
"""There is one set of settings, so it needs no random id."""


class Kept(Frozen):
    """One version of one thing on the shelf."""

    id: str
    version: int
    kind: Kind
    title: str
    body: str
    """The text as it was written."""
    made: str
    """Wall time, ISO 8601 in UTC; a label."""


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

    def save(self, kind: Kind, title: str, body: str, id: str | None = None) -> Kept:  # noqa: A002
        """Keep `body` as a new version of `id`, or as something new; a body that is the latest already stays it.

        Raises:
            NotThere: nothing of that id and kind is kept.
            StoreTrouble: it could not be written; nothing was kept.
        """
        with self.together():
            if kind == "settings":
                versions = self._versions(SETTINGS_ID)
            else:
                versions = self._versions(id) if id is not None else []
                if id is not None and (not versions or versions[0].kind != kind):
                    raise NotThere(say(f"store.no-{kind}", id=id))
            if versions and versions[0].body == body and versions[0].title == title:
                return versions[0]
            kept = Kept(
                id=versions[0].id if versions else SETTINGS_ID if kind == "settings" else self._free_id(),
                version=versions[0].version + 1 if versions else 1,
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
        sql = f"SELECT {_COLUMNS} FROM kept WHERE id = ? AND version <= ? ORDER BY version DESC LIMIT 1"  # noqa: S608
        with self._lock, telling(self._path, SHELF):
            found = self._connection.execute(sql, (id, _LAST if version is None else min(version, _LAST))).fetchone()
            if found is not None and (version is None or _kept(found).version == version):
                return _kept(found)
            last = self._connection.execute(sql, (id, _LAST)).fetchone()
        if last is None:
            raise NotThere(say("store.nothing", id=id))
        newest = _kept(last)
        raise NotThere(say("store.no-version", title=newest.title, version=version, last=newest.version))

    def holds(self, *kinds: Kind) -> bool:
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
            found = self._versions(id)
        if not found:
            raise NotThere(say("store.nothing", id=id))
        return tuple(found)

    def latest(self, kind: Kind, *, away: bool = False) -> tuple[Kept, ...]:
        """Return the latest version of each of a kind, last saved first: those at hand, or those put away."""
        sql = (
            f"SELECT {_COLUMNS} FROM kept AS k WHERE kind = ? AND NOT EXISTS (SELECT 1 FROM kept AS l"  # noqa: S608
            " WHERE l.id = k.id AND l.version > k.version) AND ? = coalesce((SELECT away FROM away AS a"
            " WHERE a.id = k.id ORDER BY a.number DESC LIMIT 1), 0) ORDER BY number DESC"
        )
        with self._lock, telling(self._path, SHELF):
            return tuple(_kept(columns) for columns in self._connection.execute(sql, (kind, int(away))))

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
        with self._lock, telling(self._path, SHELF):
            kept = self._connection.execute(f"SELECT {_COLUMNS} FROM kept ORDER BY number").fetchall()  # noqa: S608
            return tuple(_kept(columns) for columns in kept), self._all_away()

    def take_in(self, kept: Iterable[Kept], away: Iterable[Away] = ()) -> tuple[Kept, ...]:
        """Keep what another shelf had, all or none, ids and versions as they were; return what was new.

        What is here already is passed over. Where the two histories of one id part, the other's versions
        follow as new versions: nothing is overwritten.

        Raises:
            StoreTrouble: it could not be written; nothing was kept.
        """
        incoming, said = tuple(kept), tuple(away)
        with self._lock, telling(self._path, SHELF), transaction(self._connection):
            placed: list[tuple[int, Kept]] = []
            for id_ in dict.fromkeys(one.id for one in incoming):
                mine = self._versions(id_)[::-1]
                placed += _missing(mine, [(at, one) for at, one in enumerate(incoming) if one.id == id_])
            new = tuple(one for _, one in sorted(placed, key=lambda pair: pair[0]))
            for one in new:
                self._insert(one)
            for id_ in dict.fromkeys(one.id for one in said):
                here = [word for word in self._all_away() if word.id == id_]
                theirs = [word for word in said if word.id == id_]
                if theirs[: len(here)] == here:
                    for word in theirs[len(here) :]:
                        self._insert_away(word)
        return new

    def close(self) -> None:
        """Let the shelf go, its write-ahead file emptied into it; closing twice does nothing."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _free_id(self) -> str:
        while self._versions(fresh := new_id()):
            pass
        return fresh

    def _versions(self, id_: str) -> list[Kept]:
        sql = f"SELECT {_COLUMNS} FROM kept WHERE id = ? ORDER BY version DESC"  # noqa: S608
        return [_kept(columns) for columns in self._connection.execute(sql, (id_,))]

    def _insert(self, kept: Kept) -> None:
        self._connection.execute(
            f"INSERT INTO kept ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)",  # noqa: S608
            (kept.id, kept.version, kept.kind, kept.title, kept.body, kept.made),
        )

    def _away(self, id_: str) -> bool:
        sql = "SELECT away FROM away WHERE id = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(sql, (id_,)).fetchone()
        return bool(found and found[0])

    def _all_away(self) -> tuple[Away, ...]:
        found = self._connection.execute("SELECT id, away, made FROM away ORDER BY number").fetchall()
        return tuple(Away(id=id_, away=bool(said), made=made) for id_, said, made in found)

    def _insert_away(self, word: Away) -> None:
        self._connection.execute(
            "INSERT INTO away (id, away, made) VALUES (?, ?, ?)", (word.id, int(word.away), word.made)
        )

    def _say_away(self, id_: str, *, away: bool) -> None:
        with self._lock, telling(self._path, SHELF), transaction(self._connection):
            if not self._versions(id_):
                raise NotThere(say("store.nothing", id=id_))
            if self._away(id_) is not away:
                self._insert_away(Away(id=id_, away=away, made=wall.label(self._now())))


_LAST: Final = 2**63 - 1
"""No version is above it."""
_COLUMNS: Final = "id, version, kind, title, body, made"


def _kept(columns: Iterable[object]) -> Kept:
    return Kept.model_validate(dict(zip(Kept.model_fields, columns, strict=True)))


def _missing(mine: list[Kept], theirs: list[tuple[int, Kept]]) -> list[tuple[int, Kept]]:
    """Return the versions of one thing that `mine` lacks of `theirs`, numbered to follow; both oldest first."""
    common = 0
    while common < min(len(mine), len(theirs)) and _same(mine[common], theirs[common][1]):
        common += 1
    if common == len(mine):
        return theirs[common:]
    lacking = [(at, one) for at, one in theirs[common:] if not any(_same(one, have) for have in mine)]
    return [
        (at, one.model_copy(update={"version": version})) for version, (at, one) in enumerate(lacking, len(mine) + 1)
    ]


def _same(one: Kept, other: Kept) -> bool:
    return (one.title, one.body) == (other.title, other.body)
