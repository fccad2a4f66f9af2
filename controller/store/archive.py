"""Sheets' records on demand: each is folded from its own rows, kept, and folded again only when rows were added."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from controller.errors import NotThere
from controller.store.entries import LampChecked
from controller.store.folding import fold
from controller.store.lookups import OF_THE_JOURNAL, OF_THE_SHELF, Lookups
from controller.store.records import RemarkRecord, SheetRecord
from controller.store.rows import Reader
from controller.store.sessions import Outline, SheetsPage, Thread, cut, outline, session_lines
from controller.store.threads import thread_of, threads_among, threads_of
from controller.words import say

MOST_FOLDED: Final = 64
"""Records that are kept in memory: a long evening's; one takes about 60 kB."""
LEAST: Final = 40
MOST: Final = 100
"""Sheets on a page: once there are so few it ends with a session, and it never has more than so many."""
_AT_A_TIME: Final = 32
"""Sheets whose ids are read at a time: more than an evening has."""
_LAST_OF: Final = "SELECT sheet FROM thread_sheets WHERE source = ? ORDER BY version DESC, place DESC LIMIT 1"


class Archive:
    """Records read through `reader`, which it does not close; safe from any thread.

    Lists of sessions come from `lookups`, unless these are far behind.

    Looking at the newest sessions folds their sheets only, however long the journal is.
    """

    def __init__(self, reader: Reader, lookups: Lookups | None = None, *, threaded: bool = False) -> None:
        """`threaded`: `lookups` has the tables of `controller.store.threads`; else threads stay within a page."""
        self._reader = reader
        self._lookups = lookups
        self._threaded = lookups if threaded else None
        self._lock = threading.Lock()
        self._seen = 0
        self._folded: OrderedDict[str, SheetRecord | None] = OrderedDict()
        """Those looked at last; the one looked at last of all is the last of them."""

    def record(self, sheet: str) -> SheetRecord:
        """Return a sheet's record.

        Raises:
            NotThere: no light has opened a sheet of that id.
        """
        with self._lock:
            self._look()
            record = self._record(sheet)
        if record is None:
            raise NotThere(say("store.no-sheet", id=sheet))
        return record

    def remark(self, sheet: str, number: int) -> RemarkRecord:
        """Return one of a sheet's remarks, by its number from 1.

        Raises:
            NotThere: there is no such sheet, or nothing like that was written about it.
        """
        remarks = self.record(sheet).all_remarks
        if not 1 <= number <= len(remarks):
            raise NotThere(say("store.no-remark"))
        return remarks[number - 1]

    def thread(self, record: SheetRecord) -> Thread:
        """Return where a sheet comes from, as far as it is looked up by now."""
        if self._threaded is None:
            return Thread()
        self._threaded.follow()
        return thread_of(self._threaded.rows, record)

    def threads(self, records: Iterable[SheetRecord]) -> dict[str, Thread]:
        """Return where each of these sheets comes from, by their ids, as far as it is looked up by now."""
        if self._threaded is None:
            return {}
        self._threaded.follow()
        return {record.id: thread_of(self._threaded.rows, record) for record in records}

    def last_of(self, source: str) -> SheetRecord | None:
        """Return the last sheet of a recipe's newest version that was printed, as far as it is looked up by now."""
        if self._threaded is None:
            return None
        self._threaded.follow()
        found = self._threaded.rows(_LAST_OF, source)
        return self.record(found[0][0]) if found else None

    def lamp_checks(self) -> tuple[tuple[int, LampChecked], ...]:
        """Return every check of the lamp with its row, in order."""
        rows = ((row.number, row.entry) for row in self._reader.of_the_lamp())
        return tuple((number, entry) for number, entry in rows if isinstance(entry, LampChecked))

    def sheets(self, limit: int | None = None) -> tuple[SheetRecord, ...]:
        """Return the newest `limit` sheets that light has opened, or all, oldest first."""
        with self._lock:
            self._look()
            newest: list[SheetRecord] = []
            for _, record in self._newest_first():
                if limit is not None and len(newest) >= limit:
                    break
                newest.append(record)
        return tuple(reversed(newest))

    def page(
        self, *, below: int | None = None, above: int | None = None, least: int = LEAST, most: int = MOST
    ) -> SheetsPage:
        """Return the newest sheets in their sessions, or the next ones `below` or `above` a place.

        A page ends with a session once it has `least` sheets, and within one where it has `most`.
        """
        if self._lookups is None or not self._lookups.follow(*OF_THE_JOURNAL):
            with self._lock:
                self._look()
                newest = ((2 * row + 1, outline(record)) for row, record in self._newest_first(below))
                taken, more = cut(newest, least, most)
                return _page(taken, threads_among(taken), more=more)
        if above is not None:
            taken, more = cut(self._lookups.sheets(limit=most + 1, above=above), least, most, up=True)
            if more:
                return _page(taken[::-1], self._threads(taken), more=True, newer=taken[-1][0])
            below = None  # the newest page, which may show more than is above
        taken, more = cut(self._lookups.sheets(limit=most + 1, below=below), least, most)
        newer = taken[0][0] if below is not None and taken else None
        return _page(taken, self._threads(taken), more=more, newer=newer)

    def _threads(self, taken: Sequence[tuple[int, Outline]]) -> dict[str, Thread]:
        if self._threaded is None:
            return threads_among(taken)
        self._threaded.follow(*OF_THE_SHELF)  # what was carried over; where much is new, some of it
        return threads_of(self._threaded.rows, taken)

    def open_sheet(self) -> SheetRecord | None:
        """Return the sheet that is open, or None."""
        newest = self.sheets(1)
        return newest[0] if newest and newest[0].outcome == "open" else None

    def next_number(self) -> int:
        """Return the running number of the next sheet; numbers rise from sheet to sheet, so the newest tells."""
        newest = self.sheets(1)
        return newest[0].number + 1 if newest else 1

    def _look(self) -> None:
        if self._seen:
            touched, seen = self._reader.touched(self._seen)
        else:
            touched, seen = frozenset(), self._reader.last()
        for sheet in touched:
            self._folded.pop(sheet, None)
        self._seen = seen

    def _newest_first(self, below: int | None = None) -> Iterator[tuple[int, SheetRecord]]:
        """Give the rows that planned the sheets, with their records; only of those `below` a place."""
        before = self._seen + 1 if below is None else min(self._seen + 1, below // 2)
        while found := self._reader.planned(before=before, limit=_AT_A_TIME):
            for before, sheet in found:
                record = self._record(sheet)
                if record is not None:
                    yield before, record

    def _record(self, sheet: str) -> SheetRecord | None:
        if sheet not in self._folded:
            records = fold(self._reader.rows(sheet=sheet)) if sheet else ()
            self._folded[sheet] = records[0] if records else None
            if len(self._folded) > MOST_FOLDED:
                self._folded.popitem(last=False)
        self._folded.move_to_end(sheet)
        return self._folded[sheet]


def _page(
    newest_first: Sequence[tuple[int, Outline]], threads: Mapping[str, Thread], *, more: bool, newer: int | None = None
) -> SheetsPage:
    return SheetsPage(
        sessions=session_lines((one for _, one in newest_first), threads),
        older=newest_first[-1][0] if more else None,
        newer=newer,
    )
