"""Backups are whole, dated, kept so many, and come back exactly."""

from __future__ import annotations

import json
import os
import shutil
import threading
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet

from controller.backup import dated as module
from controller.backup.dated import KEEP, backup, backups, days_without, restore
from controller.backup.pieces import seal
from controller.errors import StoreTrouble, Unreadable
from controller.store.entries import FilterSaid
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.rows import Row
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from hardware.clock import ManualClock

TODAY = date(2025, 3, 1)


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "data")


@pytest.fixture
def journal(data: DataFolder) -> Iterator[Journal]:
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as opened:
        yield opened


@pytest.fixture
def shelf(data: DataFolder) -> Iterator[Shelf]:
    with Shelf.open(data.shelf, FakeWall().now) as opened:
        yield opened


def contents(data: DataFolder) -> tuple[tuple[Row, ...], tuple[Kept, ...]]:
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal, Shelf.open(data.shelf) as shelf:
        return journal.rows(), shelf.everything()[0]


def test_a_backup_restored_is_what_was_there(data: DataFolder, journal: Journal, shelf: Shelf, tmp_path: Path) -> None:
    """A backup taken while both files are open restores, elsewhere, to the same rows and versions."""
    journal.append(*whole_sheet("s", 1))
    kept = shelf.save("recipe", "Crane", "{}")
    folder = backup(data, TODAY)
    assert folder == data.backups / "2025-03-01"
    assert sorted(path.name for path in folder.iterdir()) == ["journal.db", "manifest.json", "shelf.db"]
    rows = journal.rows()
    journal.append(*whole_sheet("t", 2))
    shelf.save("recipe", "Crane", "darker", kept.id)
    other = DataFolder(tmp_path / "other")
    assert restore(folder, other) is None
    assert contents(other) == (rows, (kept,))
    assert sorted(path.name for path in other.path.iterdir()) == ["journal.db", "lock", "shelf.db"]


def test_a_backup_beside_a_busy_writer_has_whole_appends(data: DataFolder, journal: Journal, shelf: Shelf) -> None:
    """Whatever moment a backup falls on, it has every append as a whole or not at all, and stops no writer."""
    shelf.save("recipe", "Crane", "{}")
    folders: list[Path] = []
    thread = threading.Thread(target=lambda: folders.extend(backup(data, TODAY) for _ in range(5)))
    thread.start()
    appended = 0
    while thread.is_alive():
        journal.append(FilterSaid(filter="a"), FilterSaid(filter="b"), FilterSaid(filter="c"))
        appended += 1
    thread.join()
    assert appended
    counts = []
    for folder in folders:
        with Journal.open(folder / "journal.db", ManualClock(), FakeWall().stamp()) as copy:
            counts.append(copy.last())
    assert len(counts) == 5
    assert all(count % 3 == 0 for count in counts)
    assert counts == sorted(counts)


def test_what_a_restore_replaces_is_kept(data: DataFolder) -> None:
    """The files that a restore takes the place of lie in a folder beside, whole, every time."""
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal, Shelf.open(data.shelf) as shelf:
        journal.append(FilterSaid(filter="00"))
        shelf.save("recipe", "Crane", "{}")
        folder = backup(data, TODAY)
        journal.append(FilterSaid(filter="5"))
    before = contents(data)
    aside = restore(folder, data)
    assert aside == data.path / "replaced-1"
    assert len(contents(data)[0]) == 1
    shutil.move(aside / "journal.db", data.journal)
    assert contents(data) == before
    assert restore(folder, data) == data.path / "replaced-2"


def test_no_restore_takes_the_place_of_a_pipe(data: DataFolder, journal: Journal, shelf: Shelf, tmp_path: Path) -> None:
    """What is no file cannot be kept beside: it is named, and left alone, and nothing else is replaced."""
    folder, other = backup(data, TODAY), DataFolder(tmp_path / "other")
    os.mkfifo(other.shelf)
    with pytest.raises(StoreTrouble, match=r"shelf\.db is no plain file"):
        restore(folder, other)
    assert sorted(path.name for path in other.path.iterdir()) == ["lock", "shelf.db"]


def test_a_restore_after_a_crash_keeps_the_write_ahead_file_too(data: DataFolder, tmp_path: Path) -> None:
    """What a killed daemon left in its write-ahead file is kept aside, and does not leak into what is restored."""
    live = DataFolder(tmp_path / "live")
    with (
        Journal.open(live.journal, ManualClock(), FakeWall().stamp()) as journal,
        Shelf.open(live.shelf, FakeWall().now) as shelf,
    ):
        journal.append(FilterSaid(filter="00"))
        shelf.save("recipe", "Crane", "{}")
        folder = backup(live, TODAY)
        journal.append(FilterSaid(filter="5"))
        for name in ("journal.db", "journal.db-wal", "shelf.db", "shelf.db-wal"):
            shutil.copyfile(live.path / name, data.path / name)
    assert (data.path / "journal.db-wal").stat().st_size > 0
    aside = restore(folder, data)
    assert aside is not None
    assert len(contents(data)[0]) == 1
    with Journal.open(aside / "journal.db", ManualClock(), FakeWall().stamp()) as replaced:
        assert replaced.last() == 2


def test_no_restore_while_a_daemon_owns_the_folder(
    data: DataFolder, journal: Journal, shelf: Shelf, tmp_path: Path
) -> None:
    """A restore into a folder that is in use is refused and changes nothing."""
    journal.append(FilterSaid(filter="00"))
    folder = backup(data, TODAY)
    owner, late = DataFolder(data.path), DataFolder(data.path)
    with owner.locked(), pytest.raises(StoreTrouble, match="in use by another"):
        restore(folder, late)
    assert not (data.path / "replaced-1").exists()


@pytest.mark.parametrize("name", ["journal.db", "shelf.db"])
def test_a_changed_backup_is_refused(data: DataFolder, journal: Journal, shelf: Shelf, name: str) -> None:
    """One changed byte in a backup's file and nothing is restored."""
    journal.append(FilterSaid(filter="00"))
    folder = backup(data, TODAY)
    content = bytearray((folder / name).read_bytes())
    content[len(content) // 2] ^= 1
    (folder / name).write_bytes(content)
    other = DataFolder(data.path.parent / "other")
    with pytest.raises(Unreadable, match=f"{name} has changed"):
        restore(folder, other)
    assert [path.name for path in other.path.iterdir()] == ["lock"]


def test_a_backup_that_is_sealed_but_damaged_is_refused(data: DataFolder, journal: Journal, shelf: Shelf) -> None:
    """A file that fits its seal and is no journal (made from a damaged one) is refused, and what is there stays."""
    journal.append(FilterSaid(filter="00"))
    folder = backup(data, TODAY)
    (folder / "journal.db").write_bytes(b"no journal" * 500)
    manifest = json.loads((folder / "manifest.json").read_text())
    manifest["journal"] = seal(folder / "journal.db").model_dump()
    (folder / "manifest.json").write_text(json.dumps(manifest))
    other = DataFolder(data.path.parent / "other")
    with pytest.raises(StoreTrouble, match="damaged"):
        restore(folder, other)
    assert [path.name for path in other.path.iterdir()] == ["lock"]


def test_a_folder_that_is_no_backup_is_said(data: DataFolder, tmp_path: Path) -> None:
    """Restoring from some other folder, or from none, is refused with what to name instead."""
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(Unreadable, match="is not a backup"):
            restore(folder, data)


def test_the_newest_fourteen_are_kept_whatever_the_date_says(data: DataFolder, journal: Journal, shelf: Shelf) -> None:
    """After many nights the newest 14 are there; a clock that fell back to 1970 does not cost the newest one."""
    journal.append(FilterSaid(filter="00"))
    (data.backups / "my own folder").mkdir(parents=True)
    for night in range(KEEP + 2):
        backup(data, TODAY + timedelta(days=night))
    stray = [backup(data, date(1970, 1, 1)) for _ in range(2)]
    assert [path.name for path in stray] == ["1970-01-01", "1970-01-01.2"]
    found = backups(data)
    assert [made.serial for _, made in found] == list(range(5, KEEP + 5))
    assert [path for path, _ in found[-2:]] == stray
    assert (data.backups / "my own folder").is_dir()
    assert len(list(data.backups.iterdir())) == KEEP + 1


def test_the_age_is_the_newest_ones_and_never_less_than_none(data: DataFolder, journal: Journal, shelf: Shelf) -> None:
    """Of several backups the newest one's age counts; a clock that fell back makes none younger than today."""
    for days in (0, 5):
        backup(data, TODAY + timedelta(days=days))
    assert days_without(data, TODAY + timedelta(days=9)) == 4
    assert days_without(data, date(1970, 1, 1)) == 0


def test_a_backup_that_fails_leaves_the_older_ones_and_no_half(
    data: DataFolder, journal: Journal, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the card gives out in the middle, no folder that looks like a backup is left, and the next one cleans up."""
    journal.append(FilterSaid(filter="00"))
    first = backup(data, TODAY)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(module, "write_whole", full)
        with pytest.raises(StoreTrouble, match="No space left on device"):
            backup(data, TODAY)
    assert [path for path, _ in backups(data)] == [first]
    second = backup(data, TODAY)
    assert sorted(data.backups.iterdir()) == [first, second]


def test_no_backup_without_room(
    data: DataFolder, journal: Journal, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A backup that would fill the card is refused before it begins."""
    monkeypatch.setattr(DataFolder, "free_bytes", lambda _: 16_000_000)
    with pytest.raises(StoreTrouble, match="no room for a backup"):
        backup(data, TODAY)
    assert not data.backups.exists()


def test_there_is_no_backup_of_a_folder_without_a_journal(data: DataFolder) -> None:
    """A data folder that no daemon ever used gives a sentence, not an empty backup."""
    with pytest.raises(StoreTrouble, match=r"The journal .* cannot be opened"):
        backup(data, TODAY)
    assert backups(data) == []
