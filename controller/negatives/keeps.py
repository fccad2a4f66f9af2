"""What is declared of sets and their photographs, and the tables that their lists and searches look in."""

from __future__ import annotations

from typing import Any, Final

from controller.errors import Unreadable
from controller.keeping import SHEET, Derived, Execute, Keeps, ThingKind
from controller.negatives.sets import KIND, NEGATIVES, Frame, read_negatives
from controller.recipe import versioned
from controller.store.entries import NEGATIVE_ROWS
from controller.store.records import SheetRecord
from controller.store.versions import Kept

_SPOKEN: Final = frozenset({"film", "frame_format", "development", "notes", "title"})
"""Keys whose words a search looks through."""
_PLACES: Final = 128
"""Numbers that a set's frames have in the table of words: more than frames."""
_SETS: Final = """
    CREATE TABLE negative_sets (id TEXT PRIMARY KEY, day TEXT NOT NULL, place INTEGER NOT NULL, title TEXT NOT NULL,
        film TEXT NOT NULL, frame_format TEXT NOT NULL, frames INTEGER NOT NULL, prints INTEGER NOT NULL,
        maybes INTEGER NOT NULL, photograph TEXT NOT NULL) STRICT;
    CREATE INDEX negative_sets_by_day ON negative_sets (day, place);
    CREATE TABLE negative_frames (number INTEGER PRIMARY KEY, set_id TEXT NOT NULL, of TEXT NOT NULL,
        frame TEXT NOT NULL, title TEXT NOT NULL, mark TEXT NOT NULL, look TEXT NOT NULL) STRICT;
    CREATE INDEX negative_frames_of_a_set ON negative_frames (set_id);
    CREATE VIRTUAL TABLE negative_words
        USING fts5(own, around, tokenize = "unicode61 remove_diacritics 2", prefix = '1 2 3');
"""
_SHEETS: Final = """
    CREATE TABLE negative_sheets (sheet TEXT PRIMARY KEY, negative TEXT NOT NULL, place INTEGER NOT NULL) STRICT;
    CREATE INDEX negative_sheets_of_one ON negative_sheets (negative, place);
"""


def _note_set(execute: Execute, place: int, kept: Any) -> None:
    """Note a set's latest version: a line for its list, and a line for each frame that has words of its own."""
    assert isinstance(kept, Kept)
    _forget(execute, kept.id)
    try:
        one = read_negatives(kept.body, kept.title)
    except Unreadable:  # of a newer version: it is in the list by its title alone
        day = kept.made[:10]
        execute("INSERT INTO negative_sets VALUES (?, ?, ?, ?, '', '', 0, 0, 0, '')", (kept.id, day, place, kept.title))
        return
    marks = [frame.mark for frame in one.frames]
    execute(
        "INSERT INTO negative_sets VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *(kept.id, one.date.isoformat(), place, one.set, one.film or "", one.frame_format or ""),
            *(len(one.frames), marks.count("print"), marks.count("maybe")),
            one.proof.photograph if one.proof else "",
        ),
    )
    around = " ".join(filter(None, (one.set, one.film)))
    for number, frame in enumerate(one.frames):
        if own := _own_words(frame):
            # above its neighbours, so that of one set the first frame is found first
            at = place * _PLACES + _PLACES - 1 - number
            execute(
                "INSERT INTO negative_frames VALUES (?, ?, ?, ?, ?, ?, ?)",
                (at, kept.id, one.set, frame.frame, frame.title or "", frame.mark or "", frame.look or ""),
            )
            execute("INSERT INTO negative_words (rowid, own, around) VALUES (?, ?, ?)", (at, own, around))


def _forget(execute: Execute, set_id: str) -> None:
    execute(
        "DELETE FROM negative_words WHERE rowid IN (SELECT number FROM negative_frames WHERE set_id = ?)", (set_id,)
    )
    execute("DELETE FROM negative_frames WHERE set_id = ?", (set_id,))
    execute("DELETE FROM negative_sets WHERE id = ?", (set_id,))


def _own_words(frame: Frame) -> str:
    return " ".join(filter(None, (frame.title, frame.notes)))


def _note_sheet(execute: Execute, place: int, record: Any) -> None:
    """Note which negative a sheet was made from, where it says so."""
    assert isinstance(record, SheetRecord)
    execute("DELETE FROM negative_sheets WHERE sheet = ?", (record.id,))
    if negative := negative_of(record):
        execute("INSERT INTO negative_sheets VALUES (?, ?, ?)", (record.id, negative, place))


def negative_of(record: SheetRecord) -> str:
    """Return the reference of the negative that stood in the carrier for a sheet; empty where none is known."""
    return getattr(getattr(record.plan, "bench", None), "negative", "")


def _title(text: str, name: str) -> str:
    return read_negatives(text, name).set


def _words(body: str) -> str:
    return " ".join(versioned.words_under(_SPOKEN, body))


def _photographs(body: str) -> tuple[str, ...]:
    return tuple(versioned.words_under(frozenset({"photograph"}), body))


KEEPS: Final = Keeps(
    room="negatives",
    things=(ThingKind(KIND, KIND, NEGATIVES, _title, _words, pictures=_photographs),),
    rows=NEGATIVE_ROWS,
    derived=(Derived((KIND,), _SETS, _note_set), Derived((SHEET,), _SHEETS, _note_sheet)),
)
