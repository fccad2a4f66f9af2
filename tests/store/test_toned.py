"""Tonings in a sheet's record: as they were said last, those taken back left out, all on file."""

from __future__ import annotations

from tools.history import Pages, whole_sheet

from controller.store.columns import toned_words
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import Toned


def toned(*rows: Toned) -> SheetRecord:
    """Return the record of a sheet of which these tonings were said."""
    pages = Pages()
    pages.write(*whole_sheet("s", 7), *rows)
    (record,) = fold(pages.rows)
    return record


def test_each_toning_is_in_the_record_as_it_was_said_last() -> None:
    """One more is added, one said otherwise stands in its place, one taken back is left out; none is forgotten."""
    record = toned(
        Toned(sheet="s", toner="selenium", dilution="1 + 9", minutes=4, did="deeper"),
        Toned(sheet="s", toner="gold"),
        Toned(sheet="s", toner="selenium", dilution="1 + 19", minutes=8.5, instead=1),
        Toned(sheet="s", toner="", instead=2),
        Toned(sheet="s", toner="tea", instead=9),
    )
    assert [(each.number, toned_words(each)) for each in record.tonings] == [(1, "selenium, 1 + 19, 8.5 min")]
    assert [each.toner for each in record.toned] == ["selenium", ""]
    assert toned_words(toned(Toned(sheet="s", toner="gold", did="bluer")).tonings[0]) == "gold: bluer"


def test_a_record_without_tonings_is_written_as_before() -> None:
    """A key that says nothing is left out, so that what was exported before stays as it was."""
    assert "toned" not in toned().model_dump_json()
