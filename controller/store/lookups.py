"""What is looked up often, kept in a file of its own: the latest of each thing, a line a sheet, and their words.

Nothing in it is the truth. It follows the journal and the shelf by their running numbers, may be thrown away at any
time, and is begun anew where it does not fit them any more; never in the way of a press: it is behind, or asked anew.
"""

from __future__ import annotations

import logging
import sqlite3
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, Final, Literal, TypeVar

from pydantic import ValidationError

from controller.errors import Damaged, NotThere, StoreTrouble, Unreadable
from controller.keeping import SHEET, Derived, ThingKind
from controller.model import Frozen
from controller.recipe.plan import Plan
from controller.store.database import sum_of
from controller.store.entries import SheetPlanned
from controller.store.folding import fold
from controller.store.lookup_tables import MOST_NUMBERED, numbered, opened, token
from controller.store.rows import Reader
from controller.store.sessions import Outline, outline
from controller.store.shelf import Shelf

_BROKEN: Final = (sqlite3.DatabaseError, UnicodeDecodeError)
"""What a damaged file ends in: the database's message may quote what can be no text."""
ROWS_AT_ONCE: Final = 500
THINGS_AT_ONCE: Final = 50
"""So much is followed in one go: a few dozen milliseconds."""
REST_SECONDS: Final = 0.02
"""The least that is rested between two goes; and never less than the last one took."""
_log = logging.getLogger(__name__)
What = Literal["rows", "kept", "away"]
OF_THE_JOURNAL: Final[tuple[What, ...]] = ("rows",)
OF_THE_SHELF: Final[tuple[What, ...]] = ("kept", "away")
T = TypeVar("T")


class Found(Frozen):
    """One thing or sheet that was sought."""

    place: int
    """Orders those of one kind: the later, the higher. What follows one on the next page lies below it."""
    kind: str
    id: str
    version: int
    title: str
    made: str
    away: bool


class Lookups:
    """Follows a shelf and a journal; safe from any thread.

    `things` are the kinds whose words are looked through, `derived` the rooms' own tables beside those that stand here.
    """

    def __init__(
        self,
        path: Path | None,
        shelf: Shelf,
        reader: Reader,
        things: Mapping[str, ThingKind],
        derived: Sequence[Derived] = (),
    ) -> None:
        self._path, self._shelf, self._reader, self._things, self._derived = path, shelf, reader, things, derived
        self._lock = threading.RLock()
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None
        self._connection = self._open()

    def start(self, busy: Callable[[], bool]) -> None:
        """Follow what there is in a thread of its own, a piece at a time, while nobody is `busy`."""
        self._thread = threading.Thread(target=self._catch_up, args=(busy,), name="lookups", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Let the file go; closing twice does nothing."""
        self._ending.set()
        if self._thread is not None:
            self._thread.join()
        with self._lock:
            self._connection.close()

    def follow(self, *whats: What) -> bool:
        """Follow a piece of what is new, on these or on all, and tell whether that was all of it.

        Who only looks does not wait for pieces while they are followed in the background.
        """
        behind = self._thread is not None and self._thread.is_alive() and self._thread is not threading.current_thread()
        return not behind and self._safely(partial(self._follow, whats or (*OF_THE_JOURNAL, *OF_THE_SHELF)))

    def rebuild(self) -> int:
        """Throw all of it away, follow everything, and return how many things and sheets there are."""
        with self._lock:
            self._begin_anew()
            while not self.follow():
                pass
            return self._safely(lambda: int(self._connection.execute("SELECT count(*) FROM found").fetchone()[0]))

    def find(
        self, words: str, kind: str, after: int | None = None, limit: int = 50, *, away: bool = False
    ) -> tuple[Found, ...]:
        """Return the newest `limit` of a kind that have all of these words, or beginnings of words, in title or notes.

        None are all of them. `after` is the place of the last one of the page before.
        """
        return self._safely(
            lambda: tuple(
                Found(**dict(zip(Found.model_fields, row, strict=True)))
                for row in self._ask(", ".join(Found.model_fields), kind, words, limit, below=after, away=away)
            )
        )

    def sheets(
        self, words: str = "", *, limit: int, below: int | None = None, above: int | None = None
    ) -> tuple[tuple[int, Outline], ...]:
        """Return the newest `limit` sheets that light has opened, with their places: all, or those with these words.

        Only those `below` a place; or, from the oldest on, those `above` one.
        """
        return self._safely(lambda: _outlines(self._ask("place, line", SHEET, words, limit, below=below, above=above)))

    def rows(self, sql: str, *values: str | int) -> list[tuple[Any, ...]]:
        """Return what a room asks of its own tables."""
        return self._safely(lambda: self._connection.execute(sql, values).fetchall())

    def numbered(self, number: int) -> tuple[tuple[int, Outline], ...]:
        """Return the sheets of a running number with their places, the newest first: more than one after an import."""
        wanted = f"of : ({token(SHEET, away=False)} {numbered(number)})"
        return self._safely(lambda: _outlines(self._matching("place, line", wanted, 1 << 62, -1, MOST_NUMBERED)))

    def _ask(
        self,
        columns: str,
        kind: str,
        words: str,
        limit: int,
        *,
        below: int | None = None,
        above: int | None = None,
        away: bool = False,
    ) -> list[tuple[Any, ...]]:
        under, over = (1 << 62) if below is None else below, -1 if above is None else above
        terms = [f'"{word}"*' for word in words.replace('"', " ").replace("\0", " ").split()]
        if terms:
            wanted = f"of : {token(kind, away=away)} AND {{title words}} : ({' AND '.join(terms)})"
            return self._matching(columns, wanted, under, over, limit, up=above is not None)
        order = "ASC" if above is not None else "DESC"
        which = f"SELECT {columns} FROM found WHERE kind = ? AND away = ? AND place < ? AND place > ?"  # noqa: S608
        ask = f"{which} ORDER BY place {order} LIMIT ?"
        return self._connection.execute(ask, (kind, int(away), under, over, limit)).fetchall()

    def _matching(
        self, columns: str, wanted: str, under: int, over: int, limit: int, *, up: bool = False
    ) -> list[tuple[Any, ...]]:
        order = "ASC" if up else "DESC"
        which = (
            f"SELECT rowid FROM spoken WHERE spoken MATCH ? AND rowid < ? AND rowid > ? ORDER BY rowid {order} LIMIT ?"  # noqa: S608
        )
        ask = f"SELECT {columns} FROM found WHERE place IN ({which}) ORDER BY place {order}"  # noqa: S608
        return self._connection.execute(ask, (wanted, under, over, limit)).fetchall()

    def _follow(self, whats: tuple[What, ...]) -> bool:
        with self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            marks = {what: (number, mark) for what, number, mark in self._connection.execute("SELECT * FROM followed")}
            if any(self._mark(what, number) != mark for what, (number, mark) in marks.items()):
                raise sqlite3.DatabaseError("it belongs to another journal or shelf")
            done = [
                self._follow_rows(after) if what == "rows" else self._follow_things(what, after)
                for what in whats
                for after in (marks.get(what, (0, 0))[0],)
            ]
        return all(done)

    def _follow_rows(self, after: int) -> bool:
        touched, last = self._reader.touched(after, ROWS_AT_ONCE)
        for sheet in touched:
            try:
                rows = self._reader.rows(sheet=sheet)
            except StoreTrouble:  # damaged: its own page says so
                continue
            place = next((2 * row.number + 1 for row in rows if isinstance(row.entry, SheetPlanned)), 0)
            for record in fold(rows)[:1] if place else ():
                said, plan = outline(record), record.plan
                areas = (step.step.area or "" for step in record.steps)
                stood = plan.bench.words if plan.bench else ""
                toners = (toning.toner for toning in record.tonings)
                words = " ".join((*record.remarks, *areas, *toners, stood, self._words_of(plan)))
                found = Found(
                    place=place,
                    kind=SHEET,
                    id=record.id,
                    version=plan.version,
                    title=plan.title,
                    made=record.opened_wall,
                    away=False,
                )
                self._put(found, words, said.model_dump_json(), record, numbered(record.number))
        for each in self._derived:
            if each.rows:
                for row in self._reader.readable(after=after, until=last, kinds=each.rows):
                    each.note(self._connection.execute, row.number, row)
        return self._note("rows", after, last, ROWS_AT_ONCE)

    def _words_of(self, plan: Plan) -> str:
        """Return the words of the recipe or strip that a sheet was made by: its negative, its paper, its areas."""
        with suppress(NotThere, StoreTrouble, Unreadable):  # of another darkroom, or damaged: its own page says so
            kept = self._shelf.get(plan.source, plan.version)
            if thing := self._things.get(kept.kind):
                return thing.words(kept.body)
        return ""

    def _follow_things(self, what: Literal["kept", "away"], after: int) -> bool:
        ids, last = self._shelf.touched(what, after, THINGS_AT_ONCE)
        for id_ in ids:
            try:
                number, kept, away = self._shelf.stands(id_)
            except (NotThere, StoreTrouble):  # as above
                continue
            thing = self._things.get(kept.kind)
            found = Found(place=2 * number, away=away, **kept.model_dump(exclude={"body"}))
            words = ""
            with suppress(Unreadable):  # of a newer version, or damaged: it is found by its title alone
                words = thing.words(kept.body) if thing else ""
            self._put(found, words, "", kept)
        return self._note(what, after, last, THINGS_AT_ONCE)

    def _put(self, found: Found, words: str, line: str, what: Frozen, more: str = "") -> None:
        for (place,) in self._connection.execute(
            "DELETE FROM found WHERE kind = ? AND id = ? RETURNING place", (found.kind, found.id)
        ).fetchall():
            self._connection.execute("DELETE FROM spoken WHERE rowid = ?", (place,))
        self._connection.execute(
            f"INSERT INTO found ({', '.join(Found.model_fields)}, line) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",  # noqa: S608
            (*found.model_dump().values(), line),
        )
        self._connection.execute(
            "INSERT INTO spoken (rowid, title, words, of) VALUES (?, ?, ?, ?)",
            (found.place, found.title, words, f"{token(found.kind, away=found.away)} {more}"),
        )
        for each in self._derived:
            if found.kind in each.of:
                with suppress(Unreadable):  # likewise
                    each.note(self._connection.execute, found.place, what)

    def _note(self, what: str, after: int, last: int, at_once: int) -> bool:
        if last > after:
            self._connection.execute(
                "INSERT OR REPLACE INTO followed VALUES (?, ?, ?)", (what, last, self._mark(what, last))
            )
        return last - after < at_once

    def _mark(self, what: str, number: int) -> int:
        """Return what the row up to which was followed says, so that another file's row of that number is told."""
        with suppress(Damaged):  # whoever looks at what it says is told; what else there is can be found
            if what == "rows":
                return sum_of(self._reader.fingerprint(number))
            return sum_of(self._shelf.fingerprint("kept" if what == "kept" else "away", number))
        return 0

    def _catch_up(self, busy: Callable[[], bool]) -> None:
        try:
            rest_s = REST_SECONDS
            while not self._ending.wait(rest_s):
                begun_ns = time.monotonic_ns()
                if not busy() and self.follow():
                    return
                rest_s = max(REST_SECONDS, (time.monotonic_ns() - begun_ns) / 1e9)
        except StoreTrouble as problem:  # whoever looks at journal or shelf is told
            _log.warning("lists and searches are behind: %s", problem)

    def _safely(self, do: Callable[[], T]) -> T:
        """Do something with the file; where it is damaged, or another's, once more with one that is begun anew."""
        with self._lock:
            try:
                return do()
            except (*_BROKEN, ValidationError):
                if self._ending.is_set():  # closed is not damaged
                    raise
                self._begin_anew()
                return do()

    def _begin_anew(self) -> None:
        self._connection.close()
        self._forget()
        self._connection = self._open()

    def _forget(self) -> None:
        if self._path is not None:
            for tail in ("", "-wal", "-shm"):
                with suppress(OSError):
                    self._path.with_name(self._path.name + tail).unlink()

    def _open(self) -> sqlite3.Connection:
        try:
            return opened(self._path, self._derived)
        except _BROKEN:
            self._forget()
            try:
                return opened(self._path, self._derived)
            except _BROKEN:  # a card that cannot be written: what is looked up is then kept in memory
                return opened(None, self._derived)


def _outlines(rows: list[tuple[Any, ...]]) -> tuple[tuple[int, Outline], ...]:
    return tuple((place, Outline.model_validate_json(line)) for place, line in rows)
