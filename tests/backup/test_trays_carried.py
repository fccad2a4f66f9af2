"""Processes, rules for baths, baths and tonings go out with everything, and come in again as they were."""

from __future__ import annotations

import json
from pathlib import Path

from tools.history import FakeWall, whole_sheet

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import DERIVED, THINGS
from controller.store import baths
from controller.store.folder import DataFolder
from controller.store.folding import fold
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.said_of_sheets import Toned
from controller.store.shelf import Shelf
from controller.store.tray_rows import BathMade, TrayEntered
from controller.trays.ledger import Bath, BathRules
from controller.trays.process import USUAL, read_process
from hardware.clock import ManualClock

LONGER = USUAL["FB"].model_copy(update={"developer_seconds": 200.0, "notes": "1 + 14"})
RULES = BathRules(changes=2)


def kept(data: DataFolder) -> tuple[object, ...]:
    """Return what a data folder says of the wet side."""
    with (
        Shelf.open(data.shelf) as shelf,
        Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal,
    ):
        lookups = Lookups(None, shelf, journal, THINGS, DERIVED)
        while not lookups.follow():
            pass
        standing = baths.standing(lookups, RULES)
        lookups.close()
        (record,) = fold(journal.rows(sheet="s"))
        toned = [each.toner for each in record.toned]
        return baths.kept_processes(shelf), baths.kept_rules(shelf), standing, toned


def test_the_wet_side_goes_out_and_comes_in_as_it_was(tmp_path: Path) -> None:
    """In files that people can read; a count is counted anew, and comes to the same."""
    full, empty = DataFolder(tmp_path / "full"), DataFolder(tmp_path / "empty")
    with Shelf.open(full.shelf) as shelf:
        baths.keep_process(shelf, USUAL["FB"])
        baths.keep_process(shelf, LONGER)
        baths.keep_rules(shelf, RULES)
    with Journal.open(full.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(BathMade(tray="fix 1", bath="a", litres=2.0, changes=1, moved_up=True, use_by="2026-12-24"))
        journal.append(*whole_sheet("s", 1), Toned(sheet="s", toner="selenium"))
        journal.append(TrayEntered(sheet="s", number=1, tray="fix 1", at_ns=1, bath="a", prints=1, eights=4.0))
    folder = export(full, tmp_path / "out")
    assert json.loads((folder / "baths.json").read_text())["changes"] == 2
    newest = max((folder / "processes").iterdir())
    assert read_process(newest.read_text(), newest.name) == LONGER
    assert "selenium" in (folder / "sheets.csv").read_text()
    import_(folder, empty)
    assert kept(empty) == kept(full)
    processes, rules, standing, toned = kept(empty)
    assert (processes, rules, toned) == ({"RC": USUAL["RC"], "FB": LONGER}, RULES, ["selenium"])
    assert standing == {
        "fix 1": Bath(
            tray="fix 1",
            id="a",
            litres=2.0,
            made=standing["fix 1"].made,  # type: ignore[index]
            use_by="2026-12-24",
            moved_up=True,
            changes=1,
            prints=1,
            fb=4.0,
        )
    }


def test_a_process_is_brought_by_itself_and_is_in_force(tmp_path: Path) -> None:
    """The last that was kept of its support, wherever it is from."""
    data = DataFolder(tmp_path / "data")
    with Shelf.open(data.shelf) as shelf:
        baths.keep_process(shelf, USUAL["FB"])
    file = tmp_path / "fibre.json"
    file.write_text(json.dumps({"format": "treadle/process/1", **LONGER.model_dump(mode="json", exclude_none=True)}))
    import_(file, data)
    with Shelf.open(data.shelf) as shelf:
        assert baths.kept_processes(shelf)["FB"] == LONGER
        assert len(shelf.latest("process")) == 2
        baths.keep_process(shelf, USUAL["FB"])
        assert baths.kept_processes(shelf)["FB"] == USUAL["FB"]
