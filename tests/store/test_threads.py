"""Threads follow a recipe over every edit, from strip to print to print, and over the edge of a page."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import pytest
from tools.history import FakeWall, Pages, plan, strip, whole_sheet

from controller.backup.registered import DERIVED, THINGS
from controller.carry.wanted import Carry, CarryWanted, Link, write_carry
from controller.store import threads
from controller.store.archive import Archive
from controller.store.entries import Entry
from controller.store.folding import fold
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.said_of_sheets import Picked
from controller.store.sessions import Thread, outline
from controller.store.shelf import Shelf
from controller.store.threads import threads_among
from hardware.clock import ManualClock


def picked(sheet: str, recipe: str = "crane", version: int = 1) -> Picked:
    return Picked(sheet=sheet, band=2, filter="hard", seconds=6.0, recipe=recipe, recipe_version=version)


def among(*entries: Entry) -> dict[str, tuple[str, str]]:
    """Return each sheet's strip and the sheet before it."""
    pages = Pages()
    pages.write(*entries)
    found = threads_among(enumerate(map(outline, fold(pages.rows))))
    return {sheet: ends(thread) for sheet, thread in found.items()}


def ends(thread: Thread) -> tuple[str, str]:
    return thread.strip.id if thread.strip else "", thread.before.id if thread.before else ""


def sheets(*made: tuple[str, int]) -> Iterator[Entry]:
    """Give sheets of the recipe's versions, and of the strip where that is 0."""
    for number, (name, version) in enumerate(made, start=1):
        yield from whole_sheet(name, number, plan(version=version) if version else strip())
        if not version:
            yield Picked(sheet=name, band=1, filter="hard", seconds=3.0)  # noted alone: of no thread


@contextmanager
def looked_up(shelf: Shelf, *entries: Entry) -> Iterator[Archive]:
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal:
        for entry in entries:
            journal.append(entry)
        lookups = Lookups(None, shelf, journal, THINGS, DERIVED)
        while not lookups.follow():
            pass
        yield Archive(journal, lookups, threaded=True)
        lookups.close()


def found_by(archive: Archive) -> dict[str, tuple[str, str]]:
    return {line.id: ends(line.thread) for session in archive.page().sessions for line in session.sheets}


def test_a_thread_follows_the_recipe_over_its_edits() -> None:
    """Prints of the version that took a pick over, and of those edited after it, come from that strip; none before."""
    made = sheets(("old", 1), ("s", 0), ("p", 2), ("q", 2), ("edited", 5))
    assert among(*made, picked("s", version=2)) == {
        "old": ("", ""),
        "s": ("", "old"),
        "p": ("s", "s"),
        "q": ("s", "p"),
        "edited": ("s", "q"),
    }


def test_a_second_strip_takes_the_thread_over() -> None:
    """After another strip's pick prints come from that one; an old version printed again comes from the first."""
    made = sheets(("s", 0), ("p", 1), ("t", 0), ("q", 2), ("again", 1))
    assert among(*made, picked("s"), picked("t", version=2)) == {
        "s": ("", ""),
        "p": ("s", "s"),
        "t": ("", "p"),
        "q": ("t", "t"),
        "again": ("s", "p"),
    }


def test_the_first_print_of_a_pick_follows_its_strip() -> None:
    """A pick taken over after a print of the version before leads to its own first print; no old one parts them."""
    made = sheets(("s", 0), ("old", 1), ("first", 2), ("older", 1), ("second", 2))
    found = among(*made, picked("s", version=2))
    assert [found[each] for each in ("old", "first", "older", "second")] == [
        ("", ""),
        ("s", "s"),
        ("", "old"),
        ("s", "first"),
    ]


def test_a_hard_strip_follows_the_soft_one_of_the_same_recipe() -> None:
    """Two strips that went into one recipe hang on one thread, and its print on the second of them."""
    made = sheets(("soft", 0), ("hard", 0), ("p", 2))
    found = among(*made, picked("soft"), picked("hard", version=2))
    assert (found["hard"], found["p"]) == (("", "soft"), ("hard", "hard"))


def test_a_pick_made_after_a_print_is_not_where_it_came_from() -> None:
    """A print of version 1 does not come from a strip before it whose pick made version 2 later."""
    assert among(*sheets(("s", 0), ("p", 1)), picked("s", version=2))["p"] == ("", "")


def test_a_carried_recipe_goes_on_the_thread_of_its_origin() -> None:
    """Its check strip and prints come from the last print of the version it was carried from, and from its strip."""
    link = Carry(
        source=Link(id="crane", version=1),
        recipe=Link(id="larger", version=1),
        strips=(Link(id="check", version=1),),
        apart=False,
        wanted=CarryWanted(),
    )
    entries = [*sheets(("s", 0), ("p", 1), ("later", 2)), picked("s")]
    entries += whole_sheet("c", 4, strip("check"))
    entries += [*whole_sheet("large", 5, plan(source="larger")), *whole_sheet("next", 6, plan(source="larger"))]
    with Shelf.in_memory() as shelf:
        kept = shelf.save("carry", "Larger", write_carry(link))
        with looked_up(shelf, *entries) as archive:
            found = found_by(archive)
            assert (found["c"], found["large"], found["next"]) == (("", "p"), ("s", "p"), ("s", "large"))
            assert ends(archive.thread(archive.record("large"))) == ("s", "p")
            shelf.save("carry", "Larger", '{"format": "treadle/carry/99"}', kept.id)
            assert found_by(archive)["large"] == ("", "")


def test_a_thread_leads_over_the_edge_of_a_page() -> None:
    """A page of the newest sheets names strips and prints that lie on older pages."""
    made = sheets(("s", 0), *((f"p{n}", 1 + n // 50) for n in range(120)))
    with Shelf.in_memory() as shelf, looked_up(shelf, *made, picked("s")) as archive:
        page = archive.page(most=30)
        lines = [line for session in page.sessions for line in session.sheets]
        assert len(lines) == 30
        assert {line.thread.strip.number if line.thread.strip else 0 for line in lines} == {1}
        assert [ends(line.thread)[1] for line in lines] == [f"p{n}" for n in range(89, 119)]
        assert ends(archive.thread(archive.record("p0"))) == ("s", "s")


@pytest.mark.parametrize("damaged", ["sheet = x'ff'", "number = 'four'", "number = 1.5"])
def test_a_damaged_row_is_no_end_of_a_thread(damaged: str) -> None:
    """What was looked up holds no truth: a row of it that names no sheet counts as none, and nothing breaks."""
    pages = Pages()
    pages.write(*sheets(("p", 1), ("q", 1)))
    placed = list(enumerate(map(outline, fold(pages.rows))))
    with threads._alone(placed) as ask:
        for table in ("thread_picks", "thread_sheets"):
            sound = "PRAGMA writable_schema = 1"
            ask(sound)
            ask(f"UPDATE sqlite_schema SET sql = replace(sql, 'STRICT,', '') WHERE name = '{table}'")
        ask("PRAGMA writable_schema = RESET")
        ask(f"UPDATE thread_sheets SET {damaged} WHERE sheet = 'p'")
        assert threads.threads_of(ask, placed[1:]) == {"q": Thread()}


@pytest.mark.parametrize("sql", [threads._PICKED, threads._PRINTED, threads._CARRIED])
def test_a_thread_is_looked_up_by_key(sql: str) -> None:
    """None of its questions reads a whole table or sorts: ten years of sheets cost as one evening's."""
    with threads._alone([]) as ask:
        values: Iterable[object] = ("crane", 1, 1)[: sql.count("?")]
        told = [row[3] for row in ask(f"EXPLAIN QUERY PLAN {sql}", *values)]
    assert told
    assert all(words.startswith("SEARCH") for words in told), told


def test_ten_thousand_sheets_cost_a_page_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """The threads of a page of a hundred sheets take the database as many steps among 10,000 as among 1,000."""
    few, many = _steps_of_a_page(1_000, monkeypatch), _steps_of_a_page(10_000, monkeypatch)
    assert 0 < many <= 1.1 * few


def _steps_of_a_page(kept: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """Return how many steps of its machine SQLite goes for the newest hundred of so many sheets."""
    one = outline(fold(_rows())[0])
    lines = [
        (
            2 * n + 1,
            one.model_copy(
                update={
                    "source": f"r{n % 500}",
                    "version": 1 + n // 500,
                    "line": one.line.model_copy(update={"id": f"s{n}", "number": n}),
                }
            ),
        )
        for n in range(kept)
    ]
    steps: list[None] = []
    made: list[sqlite3.Connection] = []
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *args, **named: made.append(connect(*args, **named)) or made[-1])
    with threads._alone(lines) as ask:
        monkeypatch.undo()
        made[0].set_progress_handler(lambda: steps.append(None), 1)
        found = threads.threads_of(ask, lines[-100:])
    assert len(found) == 100
    assert all(thread.before for thread in found.values())
    return len(steps)


def _rows() -> list:
    pages = Pages()
    pages.write(*whole_sheet("one", 1))
    return pages.rows
