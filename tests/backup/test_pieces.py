"""Backups of a large journal share its rows, and each comes back whole by itself."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet

from controller.backup import dated, pieces
from controller.backup.dated import KEEP, Manifest, backup, backups, restore
from controller.commands.check.card import look_at_stores
from controller.errors import StoreTrouble, Unreadable
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.rows import Row
from controller.store.shelf import Shelf
from hardware.clock import ManualClock

NIGHT = date(2025, 3, 1)


@pytest.fixture(autouse=True)
def _every_journal_is_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pieces, "SHARED_FROM", 0)
    monkeypatch.setattr(pieces, "SHARE_OF_BASE", 0.001)


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    """A data folder with a shelf."""
    folder = DataFolder(tmp_path / "data")
    with Shelf.open(folder.shelf, FakeWall().now) as shelf:
        shelf.save("recipe", "Crane", "{}")
    return folder


@pytest.fixture
def journal(data: DataFolder) -> Iterator[Journal]:
    """Its journal, with an evening in it."""
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as made:
        made.append(*whole_sheet("s0", 1))
        yield made


def _nights(data: DataFolder, journal: Journal, count: int) -> list[tuple[Path, tuple[Row, ...]]]:
    made = []
    for night in range(count):
        made.append((backup(data, NIGHT + timedelta(days=night)), journal.rows()))
        journal.append(*whole_sheet(f"s{night + 1}", night + 2))
    return made


def _rows(data: DataFolder) -> tuple[Row, ...]:
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal:
        assert journal.changed() is None
        return journal.rows()


def test_each_night_adds_its_rows_only_and_comes_back_whole(data: DataFolder, journal: Journal, tmp_path: Path) -> None:
    """Every backup restores to just the rows of its night, though they share all files but their last one."""
    made = _nights(data, journal, 5)
    assert [len(manifest.pieces) for _, manifest in backups(data)] == [0, 1, 2, 3, 4]
    assert len({(folder / "journal.db").stat().st_ino for folder, _ in made}) == 1
    for number, (folder, rows) in enumerate(made):
        other = DataFolder(tmp_path / f"other-{number}")
        restore(folder, other)
        assert _rows(other) == rows
        assert sorted(path.name for path in other.path.iterdir()) == ["journal.db", "lock", "shelf.db"]


def test_a_backup_outlives_the_ones_it_shares_with(data: DataFolder, journal: Journal, tmp_path: Path) -> None:
    """With all older ones gone, as they go after fourteen, or carried elsewhere as a plain copy, it is whole."""
    made = _nights(data, journal, KEEP + 3)
    assert [folder for folder, _ in backups(data)] == [folder for folder, _ in made[3:]]
    newest, rows = made[-1]
    carried = tmp_path / "stick" / newest.name
    shutil.copytree(newest, carried)
    shutil.rmtree(data.backups)
    other = DataFolder(tmp_path / "other")
    restore(carried, other)
    assert _rows(other) == rows


def test_a_night_without_rows_adds_no_piece(data: DataFolder, journal: Journal) -> None:
    """Where nothing was filed, the next backup has the very files of the one before."""
    _nights(data, journal, 2)
    first = backup(data, NIGHT)
    again = backup(data, NIGHT)
    assert {path.name: path.stat().st_ino for path in first.glob("journal*")} == {
        path.name: path.stat().st_ino for path in again.glob("journal*")
    }


@pytest.mark.parametrize("how", ["another journal", "a changed base", "a lost piece", "many pieces", "no second names"])
def test_where_sharing_does_not_do_all_of_it_is_copied(
    data: DataFolder, journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    """A journal that is no continuation, an older backup that is damaged, too many pieces: a whole copy is made."""
    made = _nights(data, journal, 3)
    last = made[-1][0]
    match how:
        case "another journal":
            other = DataFolder(tmp_path / "another")
            with Journal.open(other.journal, ManualClock(), FakeWall().stamp("boot-9")) as strange:
                for number in range(9):
                    strange.append(*whole_sheet(f"z{number}", number + 1))
                shutil.copyfile(data.shelf, other.shelf)
                shutil.copytree(data.backups, other.backups)
                folder = backup(other, NIGHT + timedelta(days=9))
            data = other
        case "a changed base":
            whole = bytearray((last / "journal.db").read_bytes())
            whole[len(whole) // 2] ^= 1
            (last / "journal.db").write_bytes(whole)
            folder = backup(data, NIGHT + timedelta(days=9))
        case "a lost piece":
            next(iter(last.glob("journal-*"))).unlink()
            folder = backup(data, NIGHT + timedelta(days=9))
        case "many pieces":
            monkeypatch.setattr(pieces, "MOST_PIECES", 2)
            folder = backup(data, NIGHT + timedelta(days=9))
        case _:

            def refuse(*_: object) -> None:
                raise OSError("no links here")

            monkeypatch.setattr(pieces.os, "link", refuse)
            folder = backup(data, NIGHT + timedelta(days=9))
    manifest = Manifest.model_validate_json((folder / "manifest.json").read_bytes())
    assert (manifest.format, manifest.pieces) == ("treadle/backup/1", ())
    there = DataFolder(tmp_path / "there")
    restore(folder, there)
    assert _rows(there) == _rows_of(data)


def _rows_of(data: DataFolder) -> tuple[Row, ...]:
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal:
        return journal.rows()


def test_a_changed_piece_is_refused(data: DataFolder, journal: Journal, tmp_path: Path) -> None:
    """One changed byte in a piece, or a piece that is missing, and nothing is restored."""
    folder = _nights(data, journal, 3)[-1][0]
    piece = sorted(folder.glob("journal-*"))[0]
    whole = bytearray(piece.read_bytes())
    whole[len(whole) // 2] ^= 1
    piece.write_bytes(whole)
    with pytest.raises(Unreadable, match=f"{piece.name} has changed"):
        restore(folder, DataFolder(tmp_path / "other"))
    piece.unlink()
    with pytest.raises(Unreadable, match="not a whole one"):
        restore(folder, DataFolder(tmp_path / "other"))


def test_pieces_out_of_order_are_refused(data: DataFolder, journal: Journal, tmp_path: Path) -> None:
    """A manifest whose pieces do not follow one another restores nothing."""
    folder = _nights(data, journal, 3)[-1][0]
    manifest = Manifest.model_validate_json((folder / "manifest.json").read_bytes())
    (folder / dated.MANIFEST).write_text(manifest.model_copy(update={"pieces": manifest.pieces[1:]}).model_dump_json())
    other = DataFolder(tmp_path / "other")
    with pytest.raises(StoreTrouble, match="is missing"):
        restore(folder, other)
    assert sorted(path.name for path in other.path.iterdir()) == ["lock"]


def test_a_journal_cut_short_is_told_by_the_pieces(data: DataFolder, journal: Journal) -> None:
    """The check counts the rows of a backup's last piece: a journal of fewer is cut short."""
    _nights(data, journal, 3)
    journal.close()
    shutil.copyfile(backups(data)[0][0] / "journal.db", data.journal)
    assert [one.name for one in look_at_stores(data, daemon=False) if one.level == "must"] == ["backups"]
