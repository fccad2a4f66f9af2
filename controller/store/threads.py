"""Threads: from the strip a recipe's time was picked from to its prints, and from print to print.

A thread follows the recipe by its id, over every edit: a print comes from the pick that went into its version or,
where that version was edited by hand, into the last one before it. A carried recipe goes on the thread of the one it
was carried from. All of it is looked up in tables by key: a page of sheets costs as much after ten years.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, Final

from controller.keeping import SHEET, Derived, Execute
from controller.store.records import SheetRecord
from controller.store.sessions import Outline, Thread, ThreadEnd, outline

Ask = Callable[..., list[tuple[Any, ...]]]
"""Carries out one question of SQL with its values: `Lookups.rows`."""

SHEET_TABLES: Final = """
    CREATE TABLE thread_sheets (sheet TEXT PRIMARY KEY, number INTEGER NOT NULL, place INTEGER NOT NULL,
        source TEXT NOT NULL, version INTEGER NOT NULL) STRICT, WITHOUT ROWID;
    CREATE INDEX thread_sheets_of ON thread_sheets (source, version, place);
    CREATE TABLE thread_picks (recipe TEXT NOT NULL, version INTEGER NOT NULL, place INTEGER NOT NULL,
        number INTEGER NOT NULL, sheet TEXT NOT NULL, PRIMARY KEY (recipe, version, place)) STRICT, WITHOUT ROWID;
    CREATE INDEX thread_picks_from ON thread_picks (sheet);
"""
"""Each sheet by what it was made by, and each pick by what it went into."""
CARRIED_TABLES: Final = """
    CREATE TABLE thread_carried (carried TEXT NOT NULL, source TEXT NOT NULL, version INTEGER NOT NULL,
        link TEXT NOT NULL, PRIMARY KEY (carried, link)) STRICT, WITHOUT ROWID;
    CREATE INDEX thread_carried_by ON thread_carried (link);
"""
"""Each carried recipe and check strip, with the recipe and version it was carried from; the carry room fills it."""
_MOST_CARRIES: Final = 8
"""A recipe carried from one that was carried, and so on: a thread is followed so far back."""


def note_sheet(execute: Execute, place: int, record: SheetRecord) -> None:
    """Note a sheet in `SHEET_TABLES`, in place of what was noted of it."""
    _note(execute, place, outline(record))


def note_carried(execute: Execute, link: str, carried: Iterable[str], source: str, version: int) -> None:
    """Note in `CARRIED_TABLES` what the link of that id carried from a version of a recipe."""
    execute("DELETE FROM thread_carried WHERE link = ?", (link,))
    for each in carried:
        execute("INSERT INTO thread_carried VALUES (?, ?, ?, ?)", (each, source, version, link))


DERIVED: Final = Derived(of=(SHEET,), tables=SHEET_TABLES, note=note_sheet)


def threads_of(ask: Ask, placed: Iterable[tuple[int, Outline]]) -> dict[str, Thread]:
    """Return the threads of these sheets by their ids; one that is on none has an empty one."""
    return {one.line.id: _thread(ask, place, one) for place, one in placed}


def threads_among(placed: Iterable[tuple[int, Outline]]) -> dict[str, Thread]:
    """Return the threads of these sheets as far as they alone tell, where nothing can be looked up."""
    sheets = list(placed)
    with _alone(sheets) as ask:
        return threads_of(ask, sheets)


@contextmanager
def _alone(sheets: list[tuple[int, Outline]]) -> Iterator[Ask]:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connection.executescript(SHEET_TABLES + CARRIED_TABLES)
        for place, one in sheets:
            _note(connection.execute, place, one)
        yield lambda sql, *values: connection.execute(sql, values).fetchall()
    finally:
        connection.close()


def _note(execute: Execute, place: int, one: Outline) -> None:
    line = one.line
    execute("DELETE FROM thread_sheets WHERE sheet = ?", (line.id,))
    execute("DELETE FROM thread_picks WHERE sheet = ?", (line.id,))
    execute("INSERT INTO thread_sheets VALUES (?, ?, ?, ?, ?)", (line.id, line.number, place, one.source, one.version))
    for pick in line.picks:
        if pick.recipe:
            execute(
                "INSERT OR REPLACE INTO thread_picks VALUES (?, ?, ?, ?, ?)",
                (pick.recipe, pick.recipe_version, place, line.number, line.id),
            )


def thread_of(ask: Ask, record: SheetRecord) -> Thread:
    """Return the thread of one sheet that was noted; an empty one where it was not yet."""
    placed = ask("SELECT place FROM thread_sheets WHERE sheet = ?", record.id)
    return _thread(ask, placed[0][0], outline(record)) if placed else Thread()


def _thread(ask: Ask, place: int, one: Outline) -> Thread:
    """Return a sheet's thread: for a print by its recipe; for a strip by the recipe that its first pick went into."""
    if one.line.kind == "recipe":
        return _back(ask, place, one.source, one.version)
    picks = [pick for pick in one.line.picks if pick.recipe]
    if picks:
        return Thread(before=_back(ask, place, picks[0].recipe, picks[0].recipe_version - 1).before)
    carried = ask(_CARRIED, one.source)
    return Thread(before=_back(ask, place, *carried[0]).before) if carried else Thread()


def _back(ask: Ask, place: int, recipe: str, version: int) -> Thread:
    """Return where a sheet at a place, made by this version of a recipe, comes from."""
    strip = before = None
    for _ in range(_MOST_CARRIES):
        picked, printed = (ask(sql, recipe, version, place) for sql in (_PICKED, _PRINTED))
        if picked and strip is None:
            strip = _end(picked[0])
        if before is None and (picked or printed):
            # a pick made a version of its own: what was printed by an earlier one is not what this sheet follows
            before = _end(max(*picked, *printed, key=_by_version) if picked and printed else (*picked, *printed)[0])
        carried = ask(_CARRIED, recipe) if strip is None or before is None else []
        if not carried:
            break
        recipe, version = carried[0]
    return Thread(strip=strip, before=before)


def _by_version(row: tuple[Any, ...]) -> tuple[int, int]:
    return row[2], row[3]


def _end(row: tuple[Any, ...]) -> ThreadEnd | None:
    """Return the sheet that a row names; None where it names none, since a damaged file may say anything."""
    id_, number, *_ = row
    return ThreadEnd(id=id_, number=number) if isinstance(id_, str) and isinstance(number, int) else None


_PICKED: Final = """SELECT sheet, number, version, place FROM thread_picks
    WHERE recipe = ? AND version <= ? AND place < ? ORDER BY version DESC, place DESC LIMIT 1"""
_PRINTED: Final = """SELECT sheet, number, version, place FROM thread_sheets
    WHERE source = ? AND version <= ? AND place < ? ORDER BY version DESC, place DESC LIMIT 1"""
_CARRIED: Final = "SELECT source, version FROM thread_carried WHERE carried = ? AND source <> carried LIMIT 1"
