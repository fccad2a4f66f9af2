"""What is looked up often says what journal and shelf say, whatever happened to its own file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from tools.history import FakeWall, plan, whole_sheet

from controller.backup.registered import THINGS
from controller.errors import Damaged
from controller.store.archive import MOST_FOLDED, Archive
from controller.store.folding import fold
from controller.store.journal import Journal
from controller.store.lookups import SHEET, Lookups
from controller.store.said_of_sheets import Remark
from controller.store.sessions import outline
from controller.store.shelf import Shelf
from hardware.clock import ManualClock


def recipe(title: str, notes: str = "") -> str:
    """Return a recipe's text."""
    return f'{{"format": "treadle/recipe/1", "title": "{title}", "notes": "{notes}"}}'


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    """A shelf of twelve recipes."""
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as made:
        for number in range(12):
            made.save("recipe", f"Pier {number}", recipe(f"Pier {number}", "fog at dawn" if number % 3 else "noon"))
        yield made


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A journal of three sheets."""
    with Journal.open(tmp_path / "journal.db", ManualClock(), FakeWall().stamp()) as made:
        for number, name in enumerate("abc", 1):
            made.append(*whole_sheet(name, number, plan().model_copy(update={"title": f"Lighthouse {name}"})))
        yield made


@pytest.fixture
def lookups(tmp_path: Path, shelf: Shelf, journal: Journal) -> Iterator[Lookups]:
    """What follows both."""
    made = Lookups(tmp_path / "lookups.db", shelf, journal, THINGS)
    assert made.follow()
    yield made
    made.close()


def titles(lookups: Lookups, words: str, kind: str = "recipe", **more: object) -> list[str]:
    """Return the titles that are found."""
    return [one.title for one in lookups.find(words, kind, **more)]  # type: ignore[arg-type]


def test_words_are_found_in_titles_and_notes(lookups: Lookups) -> None:
    """A search finds beginnings of words in title or notes, newest first, and none of a file's keys."""
    assert titles(lookups, "fog") == [f"Pier {n}" for n in (11, 10, 8, 7, 5, 4, 2, 1)]
    assert titles(lookups, "PIE 11 daw") == ["Pier 11"]
    assert titles(lookups, "noo pier 3") == ["Pier 3"]
    assert titles(lookups, "format") == []
    assert titles(lookups, "lighth", SHEET) == ["Lighthouse c", "Lighthouse b", "Lighthouse a"]


@pytest.mark.parametrize("words", ['"', "a OR b", "NEAR(", "*", "-fog", "title:pier", "of : hererecipe", "é ' ; --"])
def test_no_word_is_taken_for_a_command(lookups: Lookups, words: str) -> None:
    """What somebody types is words to be found, never a search's own language."""
    assert titles(lookups, words) in ([], titles(lookups, words.replace('"', "").replace("*", "").replace("-", "")))


@pytest.mark.parametrize("line", ["{", "", "{}", "null"])
def test_a_line_that_says_nothing_is_begun_anew(lookups: Lookups, line: str) -> None:
    """Where the outline of a sheet cannot be read, all of it is thrown away and followed again; nobody is told."""
    whole = lookups.sheets(limit=9)
    assert len(whole) == 3
    lookups._connection.execute("UPDATE found SET line = ?", (line,))
    lookups.sheets(limit=9)
    while not lookups.follow():
        pass
    assert lookups.sheets(limit=9) == whole


def test_pages_follow_one_another(lookups: Lookups, shelf: Shelf) -> None:
    """Page by page gives just what all at once gives, with and without words, from the lookups."""
    for words in ("", "pier"):
        seen: list[str] = []
        after = None
        while page := lookups.find(words, "recipe", after, 5):
            assert len(page) <= 5
            seen += [one.title for one in page]
            after = page[-1].place
        assert seen == [kept.title for kept in shelf.latest("recipe")]


def test_what_is_new_is_followed(lookups: Lookups, shelf: Shelf, journal: Journal) -> None:
    """A new version, a thing put away and taken out, a remark on an old sheet: each counts at the next look."""
    kept = shelf.latest("recipe")[0]
    shelf.save("recipe", "Mole", recipe("Mole", "storm"), kept.id)
    journal.append(Remark(sheet="a", text="too dark at the top"))
    assert lookups.follow()
    assert titles(lookups, "storm") == ["Mole"]
    assert "Pier 11" not in titles(lookups, "")
    assert titles(lookups, "dark", SHEET) == ["Lighthouse a"]
    assert titles(lookups, "", SHEET) == ["Lighthouse c", "Lighthouse b", "Lighthouse a"]
    shelf.put_away(kept.id)
    assert lookups.follow()
    assert (titles(lookups, "storm"), titles(lookups, "storm", away=True)) == ([], ["Mole"])
    shelf.take_out(kept.id)
    assert lookups.follow()
    assert titles(lookups, "storm") == ["Mole"]


@pytest.mark.parametrize("how", ["gone", "garbage", "no text", "another's", "older"])
def test_whatever_happened_to_the_file_it_is_built_anew(
    tmp_path: Path, shelf: Shelf, journal: Journal, lookups: Lookups, how: str
) -> None:
    """A file that is gone, damaged, of other stores or of other tables gives way to one that says what these say."""
    before = lookups.find("", "recipe"), lookups.find("", SHEET)
    lookups.close()
    place = tmp_path / "lookups.db"
    match how:
        case "gone":
            place.unlink()
        case "garbage":
            place.write_bytes(b"no database" * 1000)
        case "no text":  # the database's own message quotes what is damaged
            whole = place.read_bytes()
            place.write_bytes(whole.replace(b"CREATE TABLE found", b"CREATE \xdf\xc9\xff\xdfE found"))
            assert place.read_bytes() != whole
        case "another's":
            with Journal.in_memory(ManualClock(7), FakeWall().stamp("other")) as other:
                other.append(*whole_sheet("z", 1))
                place.unlink()
                strange = Lookups(place, shelf, other, THINGS)
                assert strange.follow()
                strange.close()
        case "older":
            with closing(sqlite3.connect(place)) as connection:
                connection.execute("PRAGMA user_version = 99")
    again = Lookups(place, shelf, journal, THINGS)
    assert again.follow()
    assert (again.find("", "recipe"), again.find("", SHEET)) == before
    assert again.rebuild() == 15
    assert (again.find("", "recipe"), again.find("", SHEET)) == before
    again.close()


def test_a_last_row_that_is_no_text_keeps_nothing_else_from_being_found(tmp_path: Path, journal: Journal) -> None:
    """The daemon starts and finds what is whole; who asks for the damaged thing itself is told that it is damaged."""
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf:
        for title in ("Pier", "Mole"):
            shelf.save("recipe", title, recipe(title, "fog"))
    with closing(sqlite3.connect(tmp_path / "shelf.db", isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER kept_stay")
        connection.execute("UPDATE kept SET made = CAST(x'dfc9ff' AS TEXT) WHERE title = 'Mole'")
    with Shelf.look(tmp_path / "shelf.db") as shelf:
        made = Lookups(tmp_path / "lookups.db", shelf, journal, THINGS)
        assert made.follow()
        assert made.follow()
        assert titles(made, "fog") == ["Pier"]
        made.close()
        with pytest.raises(Damaged, match="its text cannot be read any more"):
            shelf.latest("recipe")


def test_who_asks_once_it_is_closed_opens_nothing(tmp_path: Path, lookups: Lookups) -> None:
    """Closed is not damaged: the file is not begun anew, nor left open."""
    lookups.close()
    before = (tmp_path / "lookups.db").read_bytes()
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        lookups.follow()
    assert (tmp_path / "lookups.db").read_bytes() == before


def test_outlines_are_those_of_the_records(lookups: Lookups, journal: Journal) -> None:
    """A sheet's outline is its record's; those below a place are the older ones, those above it the newer."""
    records = fold(journal.rows())
    found = lookups.sheets(limit=9)
    assert [one for _, one in found] == [outline(record) for record in reversed(records)]
    assert [one.line.number for _, one in lookups.sheets(limit=9, below=found[0][0])] == [2, 1]
    assert [one.line.number for _, one in lookups.sheets(limit=1, above=found[2][0])] == [2]


def test_records_in_memory_have_a_limit(journal: Journal) -> None:
    """However many records are looked at, a bounded number of them stays in memory, and each is given when asked."""
    for number in range(4, MOST_FOLDED + 20):
        journal.append(*whole_sheet(f"s{number}", number))
    archive = Archive(journal)
    assert len(archive.sheets()) == MOST_FOLDED + 19
    assert len(archive._folded) == MOST_FOLDED
    assert archive.record("a").number == 1
