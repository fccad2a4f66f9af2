"""The shelf: recipes, strips, papers, settings and what was carried over, all versions; nothing ever changed in it.

Safe from any thread: one connection behind one lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from pathlib import Path
from typing import Final

from controller import wall
from controller.errors import NotThere
from controller.model import new_id
from controller.store.database import open_store, read_store, sum_of, telling, transaction
from controller.store.on_the_shelf import OnTheShelf
from controller.store.schemas import SHELF
from controller.store.versions import Away, History, Kept, Version, by_id, digest
from controller.words import say


class Shelf(OnTheShelf):
    """What a printer writes and keeps. Saving never overwrites: it adds a version."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, now: Callable[[], datetime]) -> None:
        super().__init__(connection, path)
        self._now = now

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

    def _free_id(self) -> str:
        while self._first("id = ?", fresh := new_id()):
            pass
        return fresh

    def _insert(self, kept: Kept) -> None:
        values = (kept.id, kept.version, kept.kind, kept.title, kept.made, kept.body)
        self._connection.execute(
            f"INSERT INTO kept ({_COLUMNS}, sum) VALUES (?, ?, ?, ?, ?, ?, ?)",  # noqa: S608
            (*values, sum_of(values)),
        )

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


class OfAKind:
    """The things of one kind on a shelf, or of a few, as a page may have them; nothing of another kind is there."""

    KINDS: tuple[str, ...]

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf

    def shelf_marks(self) -> tuple[int, int]:
        """Return the numbers of the shelf's last rows: where they are as they were, so is all that is kept."""
        return self._shelf.marks()

    def get(self, source: str, version: int | None = None) -> Kept:
        """Return what the shelf knows of one, the latest version unless told: its text, its title, when it was kept.

        Raises:
            NotThere: nothing of that id and kind, or no such version of it, is kept.
        """
        kept = self._shelf.get(source, version)
        if kept.kind not in self.KINDS:
            raise NotThere(say("store.nothing", id=source))
        return kept

    def versions(self, source: str) -> tuple[Kept, ...]:
        """Return every version, newest first. Raises `NotThere`."""
        self.get(source)
        return self._shelf.versions(source)

    def put_away(self, source: str) -> None:
        """Take one off the list; its versions stay. Raises `NotThere`."""
        self.get(source)
        self._shelf.put_away(source)

    def take_out(self, source: str) -> None:
        """Put one back on the list. Raises `NotThere`."""
        self.get(source)
        self._shelf.take_out(source)

    def is_away(self, source: str) -> bool:
        """Tell whether one is put away. Raises `NotThere`."""
        self.get(source)
        return self._shelf.stands(source)[2]


_COLUMNS: Final = "id, version, kind, title, made, body"
