"""`treadle restore`: the remedy that the sentences about damaged files name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import treadle
from controller.backup.dated import backup
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.shelf import Shelf
from hardware.clock import MonotonicClock


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    made = DataFolder(tmp_path / "data")
    Journal.open(made.journal, MonotonicClock(), Stamp.here()).close()
    return made


def _titles(data: DataFolder) -> list[str]:
    with Shelf.open(data.shelf) as shelf:
        return [kept.title for kept in shelf.latest("recipe")]


def test_a_backup_is_listed_and_brought_back(data: DataFolder, capsys: pytest.CaptureFixture[str]) -> None:
    """What was kept when the backup was made is there again, and what was there since is kept aside."""
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "Before", "{}")
    folder = backup(data, date(2026, 3, 1))
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "After", "{}")
    assert treadle.main(["restore", "--data", str(data.path)]) == 0
    assert capsys.readouterr().out.split() == [folder.name]
    assert treadle.main(["restore", folder.name, "--data", str(data.path)]) == 0
    assert "kept in" in capsys.readouterr().out
    assert _titles(data) == ["Before"]


def test_what_is_no_backup_is_refused(data: DataFolder, capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong name, or a running daemon, is a sentence and status 2; nothing changes."""
    assert treadle.main(["restore", "2020-01-01", "--data", str(data.path)]) == 2
    assert "2020-01-01" in capsys.readouterr().err
    data.lock()
    assert treadle.main(["restore", "--fresh-journal", "--data", str(data.path)]) == 2
    data.unlock()


@pytest.mark.usefixtures("by_real_time")
def test_a_damaged_journal_is_set_aside(data: DataFolder, capsys: pytest.CaptureFixture[str]) -> None:
    """The damaged file is kept under another name, and the next start has an empty journal."""
    data.journal.write_bytes(b"no journal at all")
    assert treadle.main(["check", "--simulate", "--data", str(data.path)]) == 1
    assert treadle.main(["restore", "--fresh-journal", "--data", str(data.path)]) == 0
    assert "set-aside" in capsys.readouterr().out
    assert [path.read_bytes() for path in data.path.glob("journal.set-aside-*")] == [b"no journal at all"]
    assert treadle.main(["check", "--simulate", "--data", str(data.path)]) == 0
