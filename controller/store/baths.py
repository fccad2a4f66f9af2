"""Processes and baths in the stores: the latest of each on the shelf, and what each bath has had, counted from rows."""

from __future__ import annotations

from typing import Any, Final, Protocol, get_args

from controller.errors import NotThere, Unreadable
from controller.keeping import Derived, Execute, Keeps, ThingKind
from controller.recipe import versioned
from controller.store.entries import BATH_ROWS
from controller.store.rows import Row
from controller.store.shelf import Shelf
from controller.store.tray_rows import BathMade, TrayEntered
from controller.store.versions import Kept
from controller.trays.ledger import BATHS, Bath, BathRules, read_rules, write_rules
from controller.trays.process import PROCESS, USUAL, BathName, Process, Support, read_process, write_process
from controller.words import say

PROCESS_KIND: Final = "process"
BATHS_KIND: Final = "baths"
"""Of things on the shelf: one process for each support, and one set of rules for baths."""
_LOOKED_AT: Final = 20
"""Processes that are looked through: an import may bring another darkroom's."""
_NAMES: Final[tuple[BathName, ...]] = get_args(BathName)


def kept_processes(shelf: Shelf) -> dict[Support, Process]:
    """Return the process for each support, the last that was kept; the usual figures where none can be read."""
    found: dict[Support, Process] = {}
    for _, process in _processes(shelf):
        found.setdefault(process.support, process)
    return USUAL | found


def keep_process(shelf: Shelf, process: Process) -> Kept:
    """Keep a process as the next version of the one for its support. Raises `StoreTrouble`."""
    before = next((kept.id for kept, one in _processes(shelf) if one.support == process.support), None)
    return shelf.save(PROCESS_KIND, process.support, write_process(process), before)


def _processes(shelf: Shelf) -> list[tuple[Kept, Process]]:
    read: list[tuple[Kept, Process]] = []
    for kept in shelf.latest(PROCESS_KIND, limit=_LOOKED_AT):
        try:
            read.append((kept, read_process(kept.body, kept.title)))
        except Unreadable:  # of a newer version: the check says so
            continue
    return read


def kept_rules(shelf: Shelf) -> BathRules:
    """Return how long baths last; the usual figures where none were kept, or cannot be read."""
    try:
        kept = shelf.get(BATHS_KIND)
        return read_rules(kept.body, say("trays.baths-file"))
    except (NotThere, Unreadable):  # likewise
        return BathRules()


def keep_rules(shelf: Shelf, rules: BathRules) -> Kept:
    """Keep how long baths last. Raises `StoreTrouble`."""
    return shelf.save(BATHS_KIND, BATHS_KIND, write_rules(rules), only=True)


# ---- what each bath has had

_TABLES: Final = """
    CREATE TABLE baths (tray TEXT NOT NULL, bath TEXT NOT NULL, number INTEGER NOT NULL, made TEXT NOT NULL,
        litres REAL NOT NULL, use_by TEXT NOT NULL, moved_up INTEGER NOT NULL, changes INTEGER NOT NULL,
        prints INTEGER NOT NULL, rc REAL NOT NULL, fb REAL NOT NULL, appearance_ms INTEGER,
        appeared_on TEXT NOT NULL,
        PRIMARY KEY (tray, bath)) STRICT;
    CREATE INDEX baths_of_a_tray ON baths (tray, number);
"""
_COLUMNS: Final = "tray, bath, litres, made, use_by, moved_up, changes, prints, rc, fb, appearance_ms, appeared_on"
_IN_TRAY: Final = "SELECT bath FROM baths WHERE tray = ? ORDER BY number DESC LIMIT 1"


def _note(execute: Execute, number: int, row: Any) -> None:
    assert isinstance(row, Row)
    match row.entry:
        case BathMade() as made:
            execute(
                "INSERT INTO baths VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, 0, 0, NULL, '')"
                " ON CONFLICT (tray, bath) DO UPDATE"
                " SET number = excluded.number, litres = excluded.litres, use_by = excluded.use_by",
                (
                    *(made.tray, made.bath, number, row.wall, made.litres, made.use_by),
                    *(int(made.moved_up), made.changes),
                ),
            )
        case TrayEntered() as print_:
            if print_.appearance_ms is not None:
                bath = f"bath = ({_IN_TRAY})"
                execute(
                    f"UPDATE baths SET appearance_ms = ?, appeared_on = ? WHERE tray = ? AND {bath}",  # noqa: S608
                    (print_.appearance_ms, print_.support, "developer", "developer"),
                )
            if print_.tray in _NAMES:
                _count(execute, print_)


def _count(execute: Execute, print_: TrayEntered) -> None:
    """Count a print to the bath that it names, or to the one that stands in its tray: none: to one without name."""
    tray, column = print_.tray, "rc" if print_.support == "RC" else "fb"
    which, named = ("?", (print_.bath,)) if print_.bath else (f"({_IN_TRAY})", (tray,))
    count = f"UPDATE baths SET prints = prints + 1, {column} = {column} + ? WHERE tray = ? AND bath = {which}"  # noqa: S608
    values = (print_.eights or 1.0, tray, *named)
    counted: Any = execute(count, values)
    if not counted.rowcount:
        execute("INSERT INTO baths VALUES (?, ?, 0, '', 0, '', 0, 0, 0, 0, 0, NULL, '')", (tray, print_.bath))
        execute(count, values)


class Rows(Protocol):
    """What looks up in a room's own tables."""

    def rows(self, sql: str, *values: str | int) -> list[tuple[Any, ...]]:
        """Return what a question in SQL finds."""


def standing(lookups: Rows, rules: BathRules) -> dict[BathName, Bath]:
    """Return the bath that stands in each tray, as far as rows have told of it, with what it has had."""
    found: dict[BathName, Bath] = {}
    for name in _NAMES:
        for row in lookups.rows(f"SELECT {_COLUMNS} FROM baths WHERE tray = ? ORDER BY number DESC LIMIT 1", name):  # noqa: S608
            tray, bath, litres, made, use_by, moved_up, changes, prints, rc, fb, appearance_ms, appeared_on = row
            found[name] = Bath(
                tray=tray,
                id=bath,
                litres=litres or rules.of(name).litres,
                made=made,
                use_by=use_by,
                moved_up=bool(moved_up),
                changes=changes,
                prints=prints,
                rc=rc,
                fb=fb,
                appearance_ms=appearance_ms,
                appeared_on=appeared_on,
            )
    return found


def row_of(bath: Bath) -> BathMade:
    """Return the row that says that a bath stands in its tray from here on."""
    return BathMade(
        tray=bath.tray,
        bath=bath.id,
        litres=bath.litres,
        use_by=bath.use_by,
        moved_up=bath.moved_up,
        changes=bath.changes,
    )


# ---- what is declared of them


def _title(text: str, name: str) -> str:
    return read_process(text, name).support


def _rules_title(text: str, name: str) -> str:
    read_rules(text, name)
    return BATHS_KIND


def _words(body: str) -> str:
    return " ".join(versioned.words_under(frozenset({"notes"}), body))


KEEPS: Final = Keeps(
    room="trays",
    things=(
        ThingKind(PROCESS_KIND, "processes", PROCESS, _title, _words),
        ThingKind(BATHS_KIND, "baths", BATHS, _rules_title, only=True),
    ),
    rows=BATH_ROWS,
    derived=(Derived((), _TABLES, _note, rows=("bath", "tray")),),
)
