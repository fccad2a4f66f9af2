"""An export is carried away as one zip: it holds what the export of a folder holds, and gives way to a sheet."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet

from controller.backup.export import STEP_S, export, write_all
from controller.backup.packed import pack_export, packed_in
from controller.daemon.recipe_shelf import RecipeShelf
from controller.errors import StoreTrouble
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.settings import Settings, keep_settings
from controller.store.shelf import Shelf
from controller.store.whole import GivenUp
from hardware.clock import ManualClock

DAY = date(2026, 11, 30)


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    """A folder with the samples, settings in two versions, and a sheet."""
    data = DataFolder(tmp_path / "data")
    shelf = Shelf.open(data.shelf)
    RecipeShelf(shelf, lambda: 600_000).stock()
    keep_settings(shelf, Settings())
    keep_settings(shelf, Settings(safe_minutes=4))
    shelf.close()
    journal = Journal.open(data.journal, ManualClock(), FakeWall().stamp())
    journal.append(*whole_sheet("s1", 1))
    journal.close()
    return data


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_zip_holds_what_an_export_writes(data: DataFolder, tmp_path: Path) -> None:
    """File by file, byte by byte, below one folder named by the day; and nothing else lies beside the zip."""
    packed = pack_export(data, tmp_path / "out", DAY)
    with zipfile.ZipFile(packed) as whole:
        assert whole.testzip() is None
        whole.extractall(tmp_path / "unpacked")
    plain = files_in(export(data, tmp_path / "plain"))
    assert len(plain) > 8
    assert files_in(tmp_path / "unpacked" / "treadle-2026-11-30") == plain
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["treadle-2026-11-30.zip"]
    assert [path.name for path in (tmp_path / "unpacked").iterdir()] == ["treadle-2026-11-30"]


def test_it_takes_the_place_of_an_older_one(data: DataFolder, tmp_path: Path) -> None:
    """However often it is made, one lies on the card."""
    pack_export(data, tmp_path / "out", DAY)
    pack_export(data, tmp_path / "out", date(2026, 12, 1))
    assert packed_in(tmp_path / "out") == tmp_path / "out" / "treadle-2026-12-01.zip"
    assert len(list((tmp_path / "out").iterdir())) == 1


@pytest.mark.parametrize("rests", range(1, 12, 5))
def test_one_that_is_given_up_leaves_nothing(
    data: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rests: int
) -> None:
    """At whichever step a sheet is opened, neither files nor a half zip are left, and what is kept is untouched."""
    monkeypatch.setattr("controller.backup.export.STEP_S", 0.0)
    before = files_in(export(data, tmp_path / "before"))
    left = rests

    def between() -> None:
        nonlocal left
        left -= 1
        if not left:
            raise GivenUp

    with pytest.raises(GivenUp):
        pack_export(data, tmp_path / "out", DAY, between)
    assert not (tmp_path / "out").exists()
    assert files_in(export(data, tmp_path / "after")) == before


def test_it_rests_while_the_journal_is_read(data: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows, sheets and versions are each a place to rest at, and a rest comes once a step's time has gone by."""
    assert STEP_S <= 0.1
    rests: list[int] = []
    monkeypatch.setattr("controller.backup.export.STEP_S", 0.0)
    (tmp_path / "plain").mkdir()
    write_all(data, tmp_path / "plain", lambda: rests.append(len(list((tmp_path / "plain").rglob("*.json")))))
    assert rests.count(0) >= 3, "the journal and its sheets"
    assert len(set(rests)) > 5, "each version"


def test_without_room_it_is_refused(data: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A card with too little room gets a sentence, and nothing is begun."""
    monkeypatch.setattr(DataFolder, "free_bytes", lambda _: 16_000_000)
    with pytest.raises(StoreTrouble, match="no room"):
        pack_export(data, tmp_path / "out", DAY)
    assert not (tmp_path / "out").exists()


def test_what_cannot_be_written_is_told(data: DataFolder, tmp_path: Path) -> None:
    """Where the folder cannot be made, the sentence names it."""
    with pytest.raises(StoreTrouble, match="nowhere"):
        pack_export(data, tmp_path / "nowhere" / "out", DAY)
