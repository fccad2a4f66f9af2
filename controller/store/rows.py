"""The journal's rows, and whoever looks at them: a reader never writes, and is safe from any thread."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final, Self

from pydantic import Field, ValidationError

from controller.errors import Damaged, StoreTrouble
from controller.model import Frozen
from controller.store.database import in_order, sum_of, telling
from controller.store.entries import ENTRY, Entry, Intent
from controller.store.schemas import JOURNAL
from controller.words import say

LAST_NUMBER: Final = 2**63 - 1


class Row(Frozen):
    """One row of the journal."""

    number: int = Field(ge=1, le=LAST_NUMBER)
    boot: str
    at_ns: int = Field(ge=0, lt=2**63)
    """Monotonic, of boot `boot`."""
    wall: str
    """ISO 8601 in UTC; a label."""
    synchronised: bool
    """The wall's clock had been set from outside when this was written."""
    software: str
    protocol: int = Field(ge=0, lt=2**31)
    setup: str
    """Hash of wiring and settings in force."""
    sheet: str
    """The sheet it belongs to, or empty; facts of light belong to their intent's sheet."""
    entry: Entry


class Reader:
    """Looks at a journal and never writes; safe from any thread. Close it when done."""

    def __init__(self, connection: sqlite3.Connection, path: Path | None, lock: threading.RLock | None) -> None:
        self._connection = connection
        self._path = path
        self._shared = lock is not None
        self._until = LAST_NUMBER
        with telling(path, JOURNAL):
            version = connection.execute("PRAGMA user_version").fetchone()[0]
        self._read = f"{COLUMNS}, kind, light, {'sum' if version >= _WITH_SUMS else 'NULL'}"
        self._lock = lock or threading.RLock()

    def rows(
        self, *, after: int = 0, sheet: str | None = None, kinds: Iterable[str] = (), limit: int | None = None
    ) -> tuple[Row, ...]:
        """Return rows in their order: numbered above `after`, of one sheet, of these kinds, the first `limit`.

        Raises:
            StoreTrouble: the file cannot be read, or a row is not what a journal says.
        """
        wanted = tuple(kinds)
        sql = f"SELECT {self._read} FROM rows WHERE number > ? AND number <= ?"  # noqa: S608 - column names of our own
        values: list[str | int] = [after, self._until]
        if sheet is not None:
            sql += " AND sheet = ?"
            values.append(sheet)
        if wanted:
            sql += f" AND kind IN ({', '.join('?' * len(wanted))})"
            values.extend(wanted)
        sql += " ORDER BY number LIMIT ?"
        values.append(-1 if limit is None else limit)
        rows = tuple(self._row(found) for found in self.ask(sql, values))
        in_order((row.number for row in rows), after, self._path, JOURNAL)
        return rows

    def readable(self, *, after: int, until: int, kinds: Sequence[str]) -> Iterator[Row]:
        """Give the rows of these kinds numbered above `after` up to `until`, in order, without those damaged."""
        marks = ", ".join("?" * len(kinds))
        sql = f"SELECT {self._read} FROM rows WHERE number > ? AND number <= ? AND kind IN ({marks}) ORDER BY number"  # noqa: S608
        for found in self.ask(sql, (after, until, *kinds)):
            with suppress(StoreTrouble):  # its own page says so
                yield self._row(found)

    def of_the_lamp(self) -> tuple[Row, ...]:
        """Return the rows that tell of the lamp itself, in order; of those that say it is warm only the last."""
        warm = f"SELECT max(number) FROM rows WHERE kind = 'lamp warmed' AND {OF_THE_LAMP}"  # noqa: S608
        sql = f"SELECT {self._read} FROM rows WHERE {OF_THE_LAMP} AND (kind <> 'lamp warmed' OR number = ({warm}))"  # noqa: S608
        return tuple(sorted(map(self._row, self.ask(sql, ())), key=lambda row: row.number))

    def of_editions(self, *, after: int = 0) -> tuple[Row, ...]:
        """Return the rows above `after` that tell of editions and of paper in boxes, in order."""
        sql = f"SELECT {self._read} FROM rows WHERE {OF_EDITIONS} AND number > ?"  # noqa: S608
        return tuple(sorted(map(self._row, self.ask(sql, (after,))), key=lambda row: row.number))

    def planned(self, *, before: int, limit: int) -> tuple[tuple[int, str], ...]:
        """Return the newest `limit` sheets planned in rows below `before`: row and id, the newest first.

        Light has not opened all of them; a sheet that was planned twice counts where it was first.
        """
        sql = (
            "SELECT number, sheet FROM rows AS p WHERE kind = 'planned' AND number < ? AND NOT EXISTS (SELECT 1"
            " FROM rows WHERE sheet = p.sheet AND number < p.number AND kind = 'planned') ORDER BY number DESC LIMIT ?"
        )
        found = tuple((int(number), str(sheet)) for number, sheet in self.ask(sql, (before, limit)))
        in_order((-number for number, _ in found), -before, self._path, JOURNAL)
        return found

    def each(self, *, after: int = 0, kinds: Iterable[str] = ()) -> Iterator[Row]:
        """Give the rows numbered above `after`, of these kinds, in their order, some at a time: not all at once.

        Raises:
            StoreTrouble: as `rows`.
        """
        wanted = tuple(kinds)
        while found := self.rows(after=after, kinds=wanted, limit=_AT_ONCE):
            yield from found
            after = found[-1].number

    def at_this_moment(self) -> Self:
        """See the rows from here on that are there now, and none that is filed meanwhile; nobody waits for that."""
        self._until = self.last()
        return self

    def sheets(self, *, after: int = 0) -> tuple[str, ...]:
        """Return the ids of the sheets planned in rows above `after`, in order; light has not opened all of them."""
        found = self.ask(
            "SELECT sheet FROM rows WHERE kind = 'planned' AND number > ? AND number <= ? ORDER BY number",
            (after, self._until),
        )
        return tuple(dict.fromkeys(str(sheet) for (sheet,) in found))

    def touched(self, after: int, limit: int = -1) -> tuple[frozenset[str], int]:
        """Return the sheets that the first `limit` rows above `after` speak of, and the last number looked at."""
        found = self.ask("SELECT number, sheet FROM rows WHERE number > ? ORDER BY number LIMIT ?", (after, limit))
        in_order((int(number) for number, _ in found), after, self._path, JOURNAL)
        last = int(found[-1][0]) if found else after
        return frozenset(str(sheet) for _, sheet in found if sheet), last

    def fingerprint(self, number: int) -> tuple[str | int, ...]:
        """Return what tells a row from one of the same number in another journal; nothing where there is none."""
        found = self.ask("SELECT boot, at_ns, wall, kind, sheet, light FROM rows WHERE number = ?", (number,))
        return found[0] if found else ()

    def last(self) -> int:
        """Return the highest row number; 0 in an empty journal."""
        return int(self.ask("SELECT coalesce(max(number), 0) FROM rows", ())[0][0])

    def unfinished(self, *, after: int = 0) -> tuple[Intent, ...]:
        """Return the intents in rows above `after` of which neither light nor no light is on file, in order."""
        found = self.ask(
            f"SELECT {self._read} FROM rows AS i WHERE number > ? AND kind = 'intent' AND light <> ''"  # noqa: S608
            f" AND NOT EXISTS (SELECT 1 FROM rows WHERE light = i.light AND {OF_A_LIGHT} AND kind <> 'intent')"
            " ORDER BY number",
            (after,),
        )
        entries = (self._row(columns).entry for columns in found)
        return tuple(entry for entry in entries if isinstance(entry, Intent))

    def changed(self) -> int | None:
        """Return the number of the first row that is not as it was written, None where all are."""
        number = 0
        while True:
            sql = f"SELECT {self._read} FROM rows WHERE number > ? ORDER BY number LIMIT {_AT_ONCE}"  # noqa: S608
            found = self.ask(sql, (number,))
            in_order((int(columns[0]) for columns in found), number, self._path, JOURNAL)
            for columns in found:
                number = int(columns[0])
                if columns[-1] is not None and columns[-1] != sum_of(columns[:-1]):
                    return number
            if not found:
                return None

    def close(self) -> None:
        """Let the file go; closing twice does nothing."""
        if not self._shared:
            with self._lock:
                self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def ask(self, sql: str, values: Iterable[str | int]) -> list[tuple[str | int, ...]]:
        """Return what a question in the database's own language is answered; for the journal's own modules."""
        with self._lock, telling(self._path, JOURNAL):
            return self._connection.execute(sql, tuple(values)).fetchall()

    def _row(self, columns: tuple[str | int, ...]) -> Row:
        *head, body, _kind, _light, written = columns
        if written is not None and written != sum_of(columns[:-1]):
            raise Damaged(say("store.row-changed", path=self._path or "memory", number=columns[0]))
        try:
            return Row.model_validate(
                {**dict(zip(Row.model_fields, head, strict=False)), "entry": ENTRY.validate_json(str(body))}
            )
        except ValidationError as problem:
            raise StoreTrouble(say("store.row", path=self._path or "memory", number=columns[0])) from problem


_WITH_SUMS: Final = 2
"""The journal's version from which on a row carries its checksum."""
_AT_ONCE: Final = 500
"""Rows read in one go."""
OF_A_LIGHT: Final = "light <> '' AND kind IN ('intent', 'light', 'no light')"
"""Word for word the condition of the index `once_a_light`: only then does a question use it."""
OF_THE_LAMP: Final = "kind IN ('paper test', 'lag found', 'lamp checked', 'lamp warmed', 'gains')"
"""Word for word the condition of the index `of_the_lamp`, as above."""
OF_EDITIONS: Final = "kind IN ('numbered', 'box counted')"
"""Word for word the condition of the index `of_editions`, as above."""
COLUMNS: Final = "number, boot, at_ns, wall, synchronised, software, protocol, setup, sheet, body"
assert COLUMNS.replace("body", "entry").split(", ") == list(Row.model_fields)
