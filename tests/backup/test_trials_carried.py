"""Results of tests go out with everything, as rows and as a table for people, and come in again as they were."""

from __future__ import annotations

from pathlib import Path

from tools.history import FakeWall, whole_sheet

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import DERIVED, THINGS
from controller.store import last_trials
from controller.store.folder import DataFolder
from controller.store.folding import fold
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.trial_rows import GreyFound, TrialDone, TrialInterval, TrialTakenBack, Waited
from controller.trials.phone import phone_found
from controller.trials.results import Changed, TrialBody, TrialResult
from controller.trials.safelight import found
from hardware.clock import ManualClock

GREY = GreyFound(strip="g", paper="p1", box="12", filter="soft", ms=3800, density=0.41)


def result(id_: str, body: TrialBody, of: str) -> TrialResult:
    changed = (Changed(what="trials.changed-safe", was="0", now="3"),)
    return TrialResult(
        id=id_, body=body, at="2026-11-30T20:00:00+00:00", of=of, outcome="trials.outcome-c", changed=changed
    )


def kept(data: DataFolder) -> tuple[object, ...]:
    """Return what a data folder says of tests."""
    with (
        Shelf.open(data.shelf) as shelf,
        Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal,
    ):
        lookups = Lookups(None, shelf, journal, THINGS, DERIVED)
        while not lookups.follow():
            pass
        results = [last_trials.results(lookups, name) for name in ("safelight", "phone")]
        grey, intervals = last_trials.grey_of(lookups, "p1"), last_trials.intervals(lookups)
        lookups.close()
        (record,) = fold(journal.rows(sheet="s"))
        return results, grey, intervals, [step.waits for step in record.steps]


def test_results_go_out_and_come_in_as_they_were(tmp_path: Path) -> None:
    """What was taken back stays so; the waits of a sheet are in its record."""
    full, empty = DataFolder(tmp_path / "full"), DataFolder(tmp_path / "empty")
    Shelf.open(full.shelf).close()
    first, second = result("a", found(7, 3, 7, 0.41), "p1"), result("b", found(7, 7, 7, 0.41), "p1")
    phone = result("c", phone_found(3, 3, 7, 0.41, 2), "mark")
    with Journal.open(full.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*whole_sheet("s", 1), Waited(sheet="s", step=1, wait=1, until_ns=9, ms=240_000))
        journal.append(GREY, TrialDone(result=first), TrialDone(result=second), TrialDone(result=phone))
        journal.append(TrialTakenBack(trial="safelight", id="b"), TrialInterval(trial="phone", days=90))
    folder = export(full, tmp_path / "out")
    lines = (folder / last_trials.FILE).read_text("utf-8").splitlines()
    assert [line.split(",")[1] for line in lines] == ["test", "safelight", "safelight", "phone"]
    assert [line.endswith("yes") for line in lines[1:]] == [False, True, False]
    import_(folder, empty)
    assert kept(empty) == kept(full)
    results, grey, intervals, waits = kept(empty)
    assert results == [(first,), (phone,)]
    assert (grey, intervals) == (GREY, {"phone": 90})
    assert [len(each) for each in waits] == [1, *[0] * (len(waits) - 1)]  # type: ignore[attr-defined, misc, arg-type]
