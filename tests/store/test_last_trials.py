"""Results of tests in the stores: the last of each is found, taken back, counted anew, and written out for people."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from tools.history import FakeWall

from controller.backup.registered import DERIVED, THINGS
from controller.store import last_trials
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.trial_rows import TrialDone, TrialInterval, TrialTakenBack
from controller.trials.results import Changed, TrialResult, due
from controller.trials.safelight import found
from hardware.clock import ManualClock

CHANGED = Changed(what="trials.changed-safe-minutes", was="0", now="3")


@pytest.fixture
def journal() -> Iterator[Journal]:
    """An empty journal."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as made:
        yield made


def looked(journal: Journal, path: Path | None = None) -> Lookups:
    """Return what follows a journal, all of it followed."""
    made = Lookups(path, Shelf.in_memory(), journal, THINGS, DERIVED)
    while not made.follow():
        pass
    return made


def result(id_: str, day: str = "2026-11-30", of: str = "") -> TrialResult:
    """Return a result of the safelight test."""
    return TrialResult(
        id=id_,
        body=found(7, 3, 7, 0.35),
        at=f"{day}T20:00:00+00:00",
        of=of,
        outcome="trials.none",
        due_days=365,
        changed=(CHANGED,),
    )


def test_the_last_result_of_a_trial_is_found(journal: Journal) -> None:
    """The newest first; one that was taken back counts no more, and the one before it does."""
    journal.append(TrialDone(result=result("a")), TrialDone(result=result("b", of="paper")))
    lookups = looked(journal)
    assert [one.id for one in last_trials.results(lookups, "safelight")] == ["b", "a"]
    assert last_trials.results(lookups, "phone") == ()
    journal.append(TrialTakenBack(trial="safelight", id="b"), TrialInterval(trial="safelight", days=90))
    lookups.follow()
    assert [one.id for one in last_trials.results(lookups, "safelight")] == ["a"]
    assert last_trials.intervals(lookups) == {"safelight": 90}
    assert last_trials.results(lookups, "safelight")[0] == result("a")


def test_what_is_looked_up_is_bounded_and_the_same_built_anew(journal: Journal, tmp_path: Path) -> None:
    """Ten years of evenings leave the last of each, however they are followed."""
    lookups = looked(journal, tmp_path / "lookups.db")
    for number in range(150):
        journal.append(TrialDone(result=result(f"r{number}")))
        if number % 20 == 0:
            lookups.follow()
    lookups.follow()
    once = last_trials.results(lookups, "safelight")
    assert [one.id for one in once] == [f"r{number}" for number in range(149, 149 - last_trials.KEPT_OF_EACH, -1)]
    lookups.rebuild()
    assert last_trials.results(lookups, "safelight") == once
    lookups.close()


def test_an_export_has_a_table_of_them_for_people(journal: Journal, tmp_path: Path) -> None:
    """A line a test, those taken back too; without any test there is no table."""
    last_trials.write_out(journal, tmp_path)
    assert not (tmp_path / last_trials.FILE).exists()
    journal.append(TrialDone(result=result("a")), TrialDone(result=result("b")))
    journal.append(TrialTakenBack(trial="safelight", id="a"))
    last_trials.write_out(journal, tmp_path)
    with (tmp_path / last_trials.FILE).open(encoding="utf-8", newline="") as file:
        head, *lines = csv.reader(file)
    assert tuple(head) == last_trials.COLUMNS
    assert [(line[1], line[-1]) for line in lines] == [("safelight", "yes"), ("safelight", "")]


def test_a_trial_is_due_by_its_interval_or_by_what_changed() -> None:
    """A year goes by, a shorter one that was set counts instead, and a new paper counts at once."""
    last = result("a")
    assert due(None, date(2026, 12, 1)).state == "never"
    assert due(last, date(2026, 12, 1)).state == "fine"
    assert due(last, date(2027, 11, 10)).state == "soon"
    assert due(last, date(2027, 11, 30)).state == "due"
    assert due(last, date(2027, 3, 1), days=90).state == "due"
    changed = due(last, date(2026, 12, 1), why="trials.new-paper")
    assert (changed.state, changed.wanted) == ("due", True)
