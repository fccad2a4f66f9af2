"""What is declared of editions, and the tables in which an edition of a print, and the sheets of a box, are found."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from controller.editions.cost import box_of, takes_a_sheet
from controller.editions.ledger import (
    EDITION,
    KIND,
    Edition,
    given_of,
    ledger_of,
    read_edition,
    title_of,
    write_edition,
)
from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.keeping import LOOKED_AT, SHEET, Derived, Execute, Keeps, ThingKind
from controller.recipe import versioned
from controller.store.edition_rows import EDITION_ROWS, Numbered
from controller.store.records import SheetRecord
from controller.store.rows import Reader
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from controller.words import say

LEDGERS: Final = "ledgers"
"""The folder of an export in which each edition stands with its numbers."""
_TERMS: Final = """
    CREATE TABLE edition_terms (id TEXT PRIMARY KEY, recipe TEXT NOT NULL, version INTEGER NOT NULL,
        place INTEGER NOT NULL) STRICT, WITHOUT ROWID;
    CREATE INDEX edition_terms_of ON edition_terms (recipe, version, place);
"""
_SHEETS: Final = """
    CREATE TABLE box_sheets (sheet TEXT PRIMARY KEY, paper TEXT NOT NULL, box TEXT NOT NULL, closed INTEGER NOT NULL)
        STRICT, WITHOUT ROWID;
    CREATE INDEX box_sheets_of ON box_sheets (paper, box, closed);
"""


def _note_terms(execute: Execute, place: int, kept: Any) -> None:
    """Note which recipe's version an edition is of."""
    assert isinstance(kept, Kept)
    execute("DELETE FROM edition_terms WHERE id = ?", (kept.id,))
    edition = read_edition(kept.body, kept.title)
    execute("INSERT INTO edition_terms VALUES (?, ?, ?, ?)", (kept.id, edition.recipe, edition.version, place))


def _note_sheet(execute: Execute, _place: int, record: Any) -> None:
    """Note out of which box a closed sheet was, and the row that closed it."""
    assert isinstance(record, SheetRecord)
    execute("DELETE FROM box_sheets WHERE sheet = ?", (record.id,))
    box = box_of(record.plan.bench)
    if box is not None and record.closed is not None and takes_a_sheet(record.plan):
        execute("INSERT INTO box_sheets VALUES (?, ?, ?, ?)", (record.id, box.paper, box.box, record.closed.row))


def _title(text: str, name: str) -> str:
    return title_of(read_edition(text, name))


def _words(body: str) -> str:
    return " ".join(versioned.words_under(frozenset({"title"}), body))


def write_ledgers(reader: Reader, folder: Path) -> None:
    """Write each edition with its numbers, as the journal has them, into a file of an export; never taken back."""
    of: dict[str, list[Numbered]] = {}
    for row in reader.of_editions():
        if isinstance(row.entry, Numbered):
            of.setdefault(row.entry.edition, []).append(row.entry)
    for number, (edition, rows) in enumerate(of.items(), 1):
        last = rows[-1]
        given = ledger_of(
            Edition(recipe=last.recipe, version=last.version, size=last.size, proofs=last.proofs),
            map(given_of, rows),
        )
        place = folder / LEDGERS / f"{number:03}-{edition}.json"
        place.parent.mkdir(exist_ok=True)
        # as it stands, also where two darkrooms gave the same number: a file that is refused says so to its reader
        whole = given.edition.model_copy(update={"sheets": given.given})
        place.write_bytes(write_edition(whole).encode())


def _check(shelf: Any) -> Any:
    """Give a sentence for each edition that its file makes another size, and for each second one of one print."""
    assert isinstance(shelf, Shelf)
    of: dict[tuple[str, int], str] = {}
    for kept in shelf.latest(KIND, limit=LOOKED_AT):
        with suppress(Unreadable):
            edition = read_edition(kept.body, kept.title)
            print_ = edition.recipe, edition.version
            if print_ in of:
                yield say("editions.check-two", title=shown(kept.title), other=shown(of[print_]))
            of.setdefault(print_, kept.title)
        if kept.version == 1:
            continue
        try:
            now, first = (read_edition(one.body, one.title) for one in (kept, shelf.get(kept.id, 1)))
        except Unreadable:  # told of by the check of all things
            continue
        terms = [(one.recipe, one.version, one.size, one.proofs) for one in (now, first)]
        if terms[0] != terms[1] and (now.sheets or first.sheets):
            yield say("editions.check-terms", title=shown(kept.title), size=first.size, now=now.size)


KEEPS: Final = Keeps(
    room="editions",
    things=(ThingKind(KIND, "editions", EDITION, _title, _words),),
    rows=EDITION_ROWS,
    write_out=write_ledgers,
    derived=(Derived((KIND,), _TERMS, _note_terms), Derived((SHEET,), _SHEETS, _note_sheet)),
    check=_check,
)
