"""The journal: an append-only record of every sheet and every light; one file, one writing thread.

Rows are ordered by their number. Monotonic time belongs to a boot; wall time is only a label. What was wrong
is put right by a further row: the file itself refuses to change or drop one.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Final, Protocol

from controller import wall
from controller.errors import StoreTrouble
from controller.store.database import open_store, read_store, sum_of, telling, transaction
from controller.store.entries import Closed, Entry, Intent, LightCame, NoLightCame, SheetPlanned
from controller.store.rows import COLUMNS, OF_A_LIGHT, Reader, Row
from controller.store.schemas import JOURNAL
from controller.store.write_ahead import empty
from controller.words import say
from hardware.clock import boot_id
from hardware.wire import PROTOCOL

ROOM: Final = 16_000_000
"""Bytes that must be free before anything is armed."""


class MonotonicNow(Protocol):
    """What tells monotonic time; `hardware.clock.Clock` does."""

    def now_ns(self) -> int:
        """Return the moment it is."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What every row says of the machine that wrote it, and how to ask for the wall's time."""

    boot: str
    software: str
    protocol: int
    wall_now: Callable[[], datetime] = wall.now
    synchronised: Callable[[], bool] = wall.synchronised

    @staticmethod
    def here(now: Callable[[], datetime] = wall.now, synchronised: Callable[[], bool] = wall.synchronised) -> Stamp:
        """Return the stamp of this machine and this software."""
        return Stamp(boot_id(), version("treadle"), PROTOCOL, now, synchronised)


def setup_hash(*texts: str) -> str:
    """Return the short hash of wiring and settings that rows carry."""
    whole = hashlib.sha256()
    for text in texts:
        whole.update(len(text.encode()).to_bytes(8, "big") + text.encode())
    return whole.hexdigest()[:16]


class Journal(Reader):
    """The journal as its one writer has it; it can be read like any reader.

    The writer is the thread that appends first, or that last called `adopt`.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path | None,
        clock: MonotonicNow,
        stamp: Stamp,
        free: Callable[[], int],
    ) -> None:
        super().__init__(connection, path, None)
        self._clock = clock
        self._stamp = stamp
        self._free = free
        self._setup = ""
        self._writer: int | None = None
        self._closed = False
        self._emptying: threading.Thread | None = None
        self.notes: tuple[str, ...] = ()
        """What was found to be lost as it was opened, in words."""

    @classmethod
    def open(
        cls,
        path: Path,
        clock: MonotonicNow,
        stamp: Stamp,
        *,
        free: Callable[[], int] | None = None,
        whole: bool = True,
    ) -> Journal:
        """Open the journal at `path`, made where there is none; `free` tells the bytes left on its card.

        Unless `whole`, a large one is only glanced at; see `open_store`.

        Raises:
            StoreTrouble: damaged (the file is left as it is), newer than this software, or not writable.
        """
        room = free or (lambda: shutil.disk_usage(path.parent).free)
        notes: list[str] = []
        journal = cls(open_store(path, JOURNAL, whole=whole, note=notes.append), path, clock, stamp, room)
        journal.notes = tuple(notes)
        return journal

    @classmethod
    def in_memory(cls, clock: MonotonicNow, stamp: Stamp) -> Journal:
        """Return a journal that is gone when it is closed, for a replay."""
        return cls(open_store(None, JOURNAL), None, clock, stamp, lambda: ROOM)

    @staticmethod
    def start_fresh(path: Path) -> Path | None:
        """Move the journal at `path` aside and return its new name; the next `open` makes an empty one.

        Only ever done when the printer says so. Nothing is deleted.
        """
        if not path.exists():
            return None
        number = 1
        while (aside := path.with_name(f"{path.stem}.set-aside-{number}{path.suffix}")).exists():
            number += 1
        for tail in ("-wal", "-shm", ""):
            beside = path.with_name(path.name + tail)
            if beside.exists():
                beside.rename(aside.with_name(aside.name + tail))
        return aside

    def adopt(self) -> None:
        """Make the calling thread the one that writes."""
        self._writer = threading.get_ident()

    def set_hash(self, setup: str) -> None:
        """Set the hash of wiring and settings (`setup_hash`) that the rows from now on carry."""
        self._setup = setup

    def room_left(self) -> bool:
        """Tell whether there is room enough on the card to arm."""
        return self._free() >= ROOM

    def append(self, *entries: Entry) -> tuple[Row, ...]:
        """File entries in their order, all or none; they are on disk when this returns. Return the new rows.

        A fact of a light that is already on file is passed over: filing twice does nothing. A light that is
        said to have come after all, of which "no light" was filed, is filed.

        Raises:
            StoreTrouble: nothing was filed. Intents and plans are refused without `ROOM`; facts never are.
        """
        if self._writer is None:
            self.adopt()
        assert self._writer == threading.get_ident(), "the journal has one writing thread"
        if any(isinstance(entry, Intent | SheetPlanned) for entry in entries) and not self.room_left():
            raise StoreTrouble(say("store.no-room", path=self._path or "memory"))
        label, synchronised = wall.label(self._stamp.wall_now()), self._stamp.synchronised()
        rows = []
        with self._lock, telling(self._path, JOURNAL), transaction(self._connection):
            for entry in entries:
                if self._filed(entry):
                    continue
                row = Row(
                    number=self.last() + 1,
                    boot=self._stamp.boot,
                    at_ns=self._clock.now_ns(),
                    wall=label,
                    synchronised=synchronised,
                    software=self._stamp.software,
                    protocol=self._stamp.protocol,
                    setup=self._setup,
                    sheet=self._sheet_of(entry),
                    entry=entry,
                )
                self._insert(row)
                rows.append(row)
        if any(isinstance(row.entry, Closed) for row in rows):
            self._empty_soon()
        return tuple(rows)

    def take_in(self, rows: Iterable[Row]) -> None:
        """File the rows of another journal as they are, all or none; only an empty journal takes any.

        Raises:
            StoreTrouble: this journal has rows of its own, or a row does not follow the one before it.
        """
        with self._lock, telling(self._path, JOURNAL), transaction(self._connection):
            number = self.last()
            if number:
                raise StoreTrouble(say("store.not-empty", path=self._path or "memory"))
            for row in rows:
                number += 1
                if row.number != number:
                    raise StoreTrouble(say("store.row-missing", number=number, found=row.number))
                self._insert(row)

    def reader(self) -> Reader:
        """Return a reader of its own, for other threads; whoever asked closes it."""
        if self._path is None:
            return Reader(self._connection, None, self._lock)
        return Reader(read_store(self._path, JOURNAL), self._path, None)

    def close(self) -> None:
        """Empty the write-ahead file into the journal and let it go; closing twice does nothing."""
        if self._emptying is not None:
            self._emptying.join()
        with self._lock, telling(self._path, JOURNAL):
            if not self._closed:
                self._closed = True
                try:
                    self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                finally:
                    self._connection.close()

    def _empty_soon(self) -> None:
        """Write what a sheet has filed from the write-ahead file into the journal, beside whoever goes on."""
        if self._path is not None and (self._emptying is None or not self._emptying.is_alive()):
            self._emptying = threading.Thread(target=empty, args=(self._path,), name="journal", daemon=True)
            self._emptying.start()

    def _filed(self, entry: Entry) -> bool:
        match entry:
            case LightCame():
                kinds = ("light", "light")
            case NoLightCame():
                kinds = ("light", "no light")
            case _:
                return False
        sql = f"SELECT 1 FROM rows WHERE light = ? AND {OF_A_LIGHT} AND kind IN (?, ?) LIMIT 1"  # noqa: S608
        return bool(self.ask(sql, (entry.light, *kinds)))

    def _sheet_of(self, entry: Entry) -> str:
        if isinstance(entry, LightCame | NoLightCame):
            sql = f"SELECT sheet FROM rows WHERE light = ? AND {OF_A_LIGHT} AND kind = 'intent'"  # noqa: S608
            found = self.ask(sql, (entry.light,))
            return str(found[0][0]) if found else ""
        return str(getattr(entry, "sheet", ""))

    def _insert(self, row: Row) -> None:
        values = (
            *(row.number, row.boot, row.at_ns, row.wall, int(row.synchronised), row.software),
            *(row.protocol, row.setup, row.sheet, row.entry.model_dump_json(), row.entry.kind),
            str(getattr(row.entry, "light", "")),
        )
        self._connection.execute(
            f"INSERT INTO rows ({COLUMNS}, kind, light, sum) VALUES ({', '.join('?' * 13)})",  # noqa: S608
            (*values, sum_of(values)),
        )
