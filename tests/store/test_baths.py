"""Processes and baths in the stores: the latest counts; what a bath has had is counted from rows, and counted anew."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.history import FakeWall

from controller.backup.registered import DERIVED, THINGS
from controller.store import baths
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.tray_rows import BathMade, TrayEntered
from controller.trays.ledger import Bath, BathRules
from controller.trays.process import USUAL
from hardware.clock import ManualClock

RULES = BathRules()


@pytest.fixture
def shelf() -> Iterator[Shelf]:
    """An empty shelf."""
    with Shelf.in_memory() as made:
        yield made


@pytest.fixture
def journal() -> Iterator[Journal]:
    """An empty journal."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as made:
        yield made


def looked(shelf: Shelf, journal: Journal, path: Path | None = None) -> Lookups:
    """Return what follows both, all of it followed."""
    made = Lookups(path, shelf, journal, THINGS, DERIVED)
    while not made.follow():
        pass
    return made


def entered(sheet: int, tray: str, **more: object) -> TrayEntered:
    """Return the row of a print that comes into a tray."""
    return TrayEntered(sheet=f"s{sheet}", number=sheet, tray=tray, at_ns=sheet, **more)  # type: ignore[arg-type]


def test_the_usual_figures_hold_until_others_are_kept(shelf: Shelf) -> None:
    """Then the last kept; the other support's stay; each is one thing with versions."""
    assert baths.kept_processes(shelf) == USUAL
    longer = USUAL["RC"].model_copy(update={"developer_seconds": 100.0})
    baths.keep_process(shelf, USUAL["RC"])
    baths.keep_process(shelf, longer)
    baths.keep_process(shelf, USUAL["FB"])
    assert baths.kept_processes(shelf) == {"RC": longer, "FB": USUAL["FB"]}
    assert [kept.version for kept in shelf.latest("process")] == [1, 2]


def test_a_process_of_a_newer_version_is_passed_over(shelf: Shelf) -> None:
    """The usual figures hold, and the darkroom opens."""
    shelf.save("process", "RC", '{"format": "treadle/process/9"}')
    shelf.save("baths", "baths", '{"format": "treadle/baths/9"}', only=True)
    assert baths.kept_processes(shelf) == USUAL
    assert baths.kept_rules(shelf) == RULES
    kept = RULES.model_copy(update={"changes": 2})
    baths.keep_rules(shelf, kept)
    assert baths.kept_rules(shelf) == kept


def test_prints_are_counted_to_the_bath_that_stands_in_their_tray(shelf: Shelf, journal: Journal) -> None:
    """By name where a row names it, else by what stands there; RC and FB each; the size by its row."""
    journal.append(entered(1, "fix"), BathMade(tray="fix", bath="a", litres=2.0, use_by="2026-12-24"))
    journal.append(entered(2, "fix", support="RC"), entered(3, "fix", eights=4.0), entered(3, "drain"))
    lookups = looked(shelf, journal)
    (fix,) = baths.standing(lookups, RULES).values()
    assert (fix.id, fix.litres, fix.use_by, fix.prints, fix.rc, fix.fb) == ("a", 2.0, "2026-12-24", 2, 1.0, 4.0)
    journal.append(BathMade(tray="fix", bath="b", litres=1.0), entered(4, "fix", bath="a"), entered(5, "fix"))
    lookups.follow()
    assert baths.standing(lookups, RULES)["fix"].prints == 1
    assert lookups.rows("SELECT bath, prints FROM baths ORDER BY number") == [("", 1), ("a", 3), ("b", 1)]


def test_a_bath_without_a_word_counts_from_its_first_print(shelf: Shelf, journal: Journal) -> None:
    """Its litres are the usual ones."""
    journal.append(entered(1, "developer"), entered(2, "developer"), entered(2, "drain", appearance_ms=14_000))
    assert baths.standing(looked(shelf, journal), RULES) == {
        "developer": Bath("developer", "", 1.0, prints=2, fb=2.0, appearance_ms=14_000, appeared_on="FB")
    }


def test_counts_are_the_same_however_they_are_followed(shelf: Shelf, journal: Journal, tmp_path: Path) -> None:
    """Row by row, at once, by a file that was left and opened again, or thrown away and built anew."""
    followed = looked(shelf, journal, tmp_path / "lookups.db")
    for sheet in range(1, 400):
        journal.append(entered(sheet, "developer"), entered(sheet, "fix 1"), entered(sheet, "fix 2"))
        if sheet % 50 == 0:
            journal.append(BathMade(tray="fix 1", bath=f"x{sheet}", litres=1.0))
        if sheet % 7 == 0:
            followed.follow()
        if sheet == 200:
            followed.close()
            followed = Lookups(tmp_path / "lookups.db", shelf, journal, THINGS, DERIVED)
    while not followed.follow():
        pass
    once = baths.standing(followed, RULES)
    assert (once["developer"].prints, once["fix 1"].prints, once["fix 2"].prints) == (399, 49, 399)
    followed.rebuild()
    assert baths.standing(followed, RULES) == once == baths.standing(looked(shelf, journal), RULES)
    followed.close()


def test_a_damaged_row_is_passed_over(shelf: Shelf, journal: Journal) -> None:
    """Its own page says so; what else was filed is counted."""
    journal.append(*(entered(sheet, "fix") for sheet in range(1, 6)))
    for (name,) in journal._connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
        journal._connection.execute(f"DROP TRIGGER {name}")
    journal._connection.execute("UPDATE rows SET body = replace(body, 'fix', 'fox') WHERE number = 3")
    assert baths.standing(looked(shelf, journal), RULES)["fix"].prints == 4
