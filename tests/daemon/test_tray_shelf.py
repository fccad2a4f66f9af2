"""Baths as the darkroom has them: a print's row is stamped with its bath, which print of it, and its size."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall, plan

from controller.backup.registered import DERIVED, THINGS
from controller.daemon.in_force import InForce
from controller.daemon.performer import Performer
from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.tray_shelf import TrayShelf
from controller.foot.effects import File
from controller.foot.places import Ready
from controller.recipe.fields import LONGEST_MS
from controller.store.baths import keep_process
from controller.store.entries import SheetPlanned
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.tray_rows import BathMade, TrayEntered
from controller.trays.process import USUAL
from hardware.clock import ManualClock
from hardware.fitting import read_fitting

RECIPE = {
    "format": "treadle/recipe/1",
    "title": "quay",
    "light": [{"filter": "soft", "seconds": 10}],
    "local": [],
    "paper": {"support": "FB", "size": "16x20 in"},
}


class NoPipe:
    """There is no keeper, and none is asked."""

    def send(self, message: object) -> None: ...

    def know(self, keeper: int) -> None: ...

    def stop(self, why: str = "page") -> None: ...


@dataclass
class Wet:
    """The stores, the trays before them, and what carries effects out."""

    shelf: Shelf
    journal: Journal
    lookups: Lookups
    trays: TrayShelf
    performer: Performer

    def into(self, sheet: str, *trays: str, support: str = "FB") -> None:
        """Have a print come into these trays, one after the other, as the grammar files it."""
        rows = (TrayEntered(sheet=sheet, number=1, tray=tray, at_ns=1, support=support) for tray in trays)  # type: ignore[arg-type]
        for row in rows:
            self.performer.perform((File(row),), Ready(), 1)

    def rows(self) -> list[TrayEntered]:
        """Return the rows of prints that were filed."""
        return [row.entry for row in self.journal.rows(kinds=("tray",)) if isinstance(row.entry, TrayEntered)]


@pytest.fixture
def wet() -> Iterator[Wet]:
    """A darkroom's stores with a recipe on 16×20."""
    with Shelf.in_memory() as shelf, Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal:
        lookups = Lookups(None, shelf, journal, THINGS, DERIVED)
        recipes = RecipeShelf(shelf, lambda: LONGEST_MS, lambda _source, _plan: None, lambda _source: None)
        trays = TrayShelf(shelf, lookups, journal, recipes, lambda: date(2026, 11, 30))
        yield Wet(shelf, journal, lookups, trays, Performer(NoPipe(), journal, trays.stamped))
        lookups.close()


def planned(wet: Wet, sheet: str) -> SheetPlanned:
    """Return the row of a sheet by a kept recipe."""
    kept = wet.shelf.save("recipe", "quay", json.dumps(RECIPE))
    return SheetPlanned(sheet=sheet, number=1, plan=plan(source=kept.id, version=kept.version))


def test_a_prints_row_names_its_bath_and_its_size(wet: Wet) -> None:
    """A sheet of 16×20 is four of 8×10; each next print of a bath is one more."""
    wet.journal.append(planned(wet, "s1"))
    wet.performer.note(*wet.trays.made_fresh("developer"), *wet.trays.made_fresh("fix 1"), lit=False)
    wet.into("s1", "on its way", "developer", "drain", "stop", "fix 1", "fix 2", "wash", "")
    wet.into("s2", "on its way", "developer", "fix 1")
    one, two = ([row for row in wet.rows() if row.sheet == sheet] for sheet in ("s1", "s2"))
    standing = wet.trays.standing()
    assert [(row.tray, row.prints, row.eights) for row in one if row.bath] == [
        ("developer", 1, 4.0),
        ("fix 1", 1, 4.0),
        ("fix 2", 1, 4.0),
    ]
    assert [(row.tray, row.prints, row.eights) for row in two] == [
        ("on its way", 0, 0),
        ("developer", 2, 0),
        ("fix 1", 2, 0),
    ]
    assert {row.bath for row in one if row.bath} == {standing[name].id for name in ("developer", "fix 1", "fix 2")}
    assert (standing["developer"].prints, standing["developer"].fb) == (2, 5.0)
    assert standing["stop"].prints == 1


def test_prints_that_overlap_are_counted_in_turn(wet: Wet) -> None:
    """Two prints in one tray are its first and its second, and a bath made while one is on its way begins anew."""
    wet.performer.note(*wet.trays.made_fresh("fix"), lit=False)
    wet.into("s1", "developer", support="RC")
    wet.into("s2", "developer", support="RC")
    wet.into("s1", "fix", support="RC")
    wet.into("s2", "fix", support="RC")
    wet.into("s3", "developer", support="RC")
    wet.performer.note(*wet.trays.made_fresh("fix"), lit=False)
    wet.into("s3", "fix", support="RC")
    assert [row.prints for row in wet.rows() if row.tray == "fix"] == [1, 2, 1]


def test_a_developer_is_slow_by_the_usual_time_of_what_showed_in_it(wet: Wet) -> None:
    """At a factor of 15, RC shows after 6 s and FB after 10: 10 s are half as late again on RC alone; 15 on FB too."""
    for process in USUAL.values():
        wet.trays.keep_process(process.model_copy(update={"factor": 15.0}))
    told = {}
    for support, ms in (("RC", 8_900), ("RC", 9_000), ("FB", 9_000), ("FB", 15_000)):
        out = {"sheet": "s1", "number": 1, "tray": "drain", "at_ns": 1, "support": support, "appearance_ms": ms}
        wet.into("s1", "developer", support=support)
        wet.performer.perform((File(TrayEntered.model_validate(out)),), Ready(), 1)
        told[support, ms] = next(each.why for each in wet.trays.in_trays() if each.tray == "developer")
    assert told == {("RC", 8_900): (), ("RC", 9_000): ("slow",), ("FB", 9_000): (), ("FB", 15_000): ("slow",)}


def test_both_fixes_are_noted_together(wet: Wet) -> None:
    """All or none: one filing of both rows, the second that moved up first."""
    for times in range(5):
        wet.performer.note(*wet.trays.made_fresh("fix 1"), lit=False)
        first, second = (wet.trays.standing()[name] for name in ("fix 1", "fix 2"))
        assert (first.moved_up, first.changes, second.changes) == (times > 0, times, times)
    wet.performer.note(*wet.trays.made_fresh("fix 1"), lit=False)
    assert not wet.trays.standing()["fix 1"].moved_up


def test_a_row_is_filed_whatever_becomes_of_its_stamp(wet: Wet, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet of another darkroom has no size; a store that cannot be read stamps nothing."""
    wet.journal.append(SheetPlanned(sheet="s9", number=9, plan=plan(source="nowhere")))
    wet.into("s9", "developer")
    wet.performer.note(BathMade(tray="stop", bath="a", litres=1.0), lit=False)
    wet.into("s9", "stop")
    assert [(row.tray, row.eights) for row in wet.rows()] == [("developer", 0.0), ("stop", 0.0)]


def test_the_page_has_the_trays_of_both_processes(wet: Wet) -> None:
    """In their order; a single fix of FB without wash aid may have ten a litre."""
    assert [each.tray for each in wet.trays.in_trays()] == ["developer", "stop", "fix", "fix 1", "fix 2", "aid"]
    wet.trays.keep_process(USUAL["FB"].model_copy(update={"fix_2_seconds": 0.0, "aid_seconds": 0.0}))
    (fix,) = [each for each in wet.trays.in_trays() if each.tray == "fix"]
    assert dict(fix.left) == {"RC": 80, "FB": 10}
    assert [each.tray for each in wet.trays.in_trays()] == ["developer", "stop", "fix"]


def test_a_slow_developer_is_told_by_the_last_appearance(wet: Wet) -> None:
    """With a factor of 15 and 135 s, 9 s are usual: 14 s are slow, 13 s are not."""
    wet.trays.keep_process(USUAL["FB"].model_copy(update={"factor": 15.0, "developer_seconds": 135.0}))
    for appearance_ms, why in ((13_000, ()), (14_000, ("slow",))):
        wet.into("s1", "developer")
        row = TrayEntered(sheet="s1", number=1, tray="drain", at_ns=2, appearance_ms=appearance_ms)
        wet.performer.perform((File(row),), Ready(), 1)
        assert wet.trays.in_trays()[0].why == why


def test_a_process_that_is_kept_is_in_force_at_once(wet: Wet) -> None:
    """The next habits have it, and whoever asks again meanwhile reads nothing anew."""
    in_force = InForce(read_fitting(Path("nowhere"), {}, practice=True), wet.shelf)
    assert in_force.habits(sounder=True).processes == USUAL
    longer = USUAL["FB"].model_copy(update={"fix_seconds": 90.0})
    keep_process(wet.shelf, longer)
    assert in_force.habits(sounder=True).processes == {"RC": USUAL["RC"], "FB": longer}
    assert in_force.processes() is in_force.processes()


def test_two_fixes_take_turns_over_a_year_of_evenings_as_they_are_filed(wet: Wet) -> None:
    """Prints come row by row, the page is looked at after each evening, and its advice is followed by one tap.

    As in the reckoning by itself: after each 50 a litre the second moves up, four times, and then both are fresh
    (common practice). A print that is one too many for the first fix goes into it only within its own evening.
    """
    dice, done, day = random.Random(7), list[str](), date(2026, 1, 1)
    wet.trays._today = lambda: day
    wet.performer.note(*wet.trays.made_fresh("fix 1"), lit=False)
    sheets = 0
    for evening in range(365):
        day = date(2026, 1, 1) + timedelta(days=evening)
        for _ in range(dice.choice((0, 0, 2, 5, 9))):
            sheets += 1
            wet.into(f"e{sheets}", "on its way", "fix 1", "fix 2")
        fix = next(each for each in wet.trays.in_trays() if each.tray == "fix 1")
        assert fix.bath is not None
        assert fix.bath.prints < 50 + 9
        if fix.why:
            done.append("up" if fix.moves_up else "both")
            wet.performer.note(*wet.trays.made_fresh("fix 1"), lit=False)
    assert len(done) > 15
    assert done == (["up", "up", "up", "up", "both"] * 20)[: len(done)]
    counted = wet.lookups.rows("SELECT sum(prints) FROM baths WHERE tray = 'fix 1'")
    assert counted == [(sheets,)]
    named = {row.bath for row in wet.rows() if row.bath}
    assert len(named) == len(wet.lookups.rows("SELECT DISTINCT bath FROM baths WHERE prints > 0"))
