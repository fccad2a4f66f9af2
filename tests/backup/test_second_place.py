"""A second place for backups: what goes there is whole, so many are kept, and what refuses is told in a sentence."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet
from tools.stick import stick_beside

from controller.backup import pieces
from controller.backup import second_place as module
from controller.backup.dated import KEEP, backup, backups, backups_in, restore
from controller.backup.second_place import MOST_WHOLE_COPIES, NAMED_BY, SecondPlace
from controller.errors import StoreTrouble
from controller.store.entries import FilterSaid
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.shelf import Shelf
from controller.store.whole import GivenUp
from hardware.clock import ManualClock

TODAY = date(2026, 3, 1)


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "treadle")


@pytest.fixture
def journal(data: DataFolder) -> Iterator[Journal]:
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as opened:
        yield opened


@pytest.fixture
def shelf(data: DataFolder) -> Iterator[Shelf]:
    with Shelf.open(data.shelf, FakeWall().now) as opened:
        yield opened


@pytest.fixture
def stick(tmp_path: Path) -> Iterator[Path]:
    with stick_beside(tmp_path) as folder:
        yield folder


@pytest.fixture
def second(data: DataFolder, stick: Path, journal: Journal, shelf: Shelf) -> SecondPlace:
    journal.append(FilterSaid(filter="00"))
    return SecondPlace(data, stick)


def no_second_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a file system that knows no second names, as FAT."""

    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)


def night(second: SecondPlace, data: DataFolder, journal: Journal, days: int) -> Path:
    journal.append(FilterSaid(filter=f"{days}"))
    backup(data, TODAY + timedelta(days=days))
    return second.copy()


def half(second: SecondPlace) -> list[Path]:
    return list(second.folder.glob(".unfinished-*"))


# ---- what goes there


def test_what_is_copied_restores_to_what_was_there(
    data: DataFolder, journal: Journal, shelf: Shelf, stick: Path, tmp_path: Path
) -> None:
    """A copy on another file system restores, elsewhere, to the same rows and versions, and leaves the wiring alone."""
    journal.append(*whole_sheet("s", 1))
    kept = shelf.save("recipe", "Crane", "{}")
    wiring = tmp_path / "wiring.toml"
    wiring.write_text("[lamp]\npin = 17\n")
    made = backup(data, TODAY)
    folder = SecondPlace(data, stick).copy(wiring=wiring)
    assert folder == stick / "treadle" / "2026-03-01"
    assert (folder / "journal.db").read_bytes() == (made / "journal.db").read_bytes()
    assert (folder / "wiring.toml").read_text() == wiring.read_text()
    rows = journal.rows()
    other = DataFolder(tmp_path / "other")
    restore(folder, other)
    with Journal.open(other.journal, ManualClock(), FakeWall().stamp()) as copied, Shelf.open(other.shelf) as shelved:
        assert copied.rows() == rows
        assert shelved.everything()[0] == (kept,)
    assert sorted(path.name for path in other.path.iterdir()) == ["journal.db", "lock", "shelf.db"]


def test_pieces_go_with_what_they_are_laid_upon(
    second: SecondPlace, data: DataFolder, journal: Journal, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A journal in pieces is copied with all of them, its base under a second name of the file of the copy before."""
    monkeypatch.setattr(pieces, "SHARED_FROM", 1)
    backup(data, TODAY)
    first = second.copy()
    journal.append(FilterSaid(filter="00"))
    made = backups(data)[-1][0]
    backup(data, TODAY + timedelta(days=1))
    assert backups(data)[-1][1].pieces
    later = second.copy()
    assert (later / "journal.db").samefile(first / "journal.db")
    assert not (later / "journal.db").samefile(made / "journal.db")
    other = DataFolder(stick / "other")
    restore(later, other)
    with Journal.open(other.journal, ManualClock(), FakeWall().stamp()) as copied:
        assert copied.last() == journal.last()


def test_the_same_backup_is_copied_once(second: SecondPlace, data: DataFolder) -> None:
    """What lies there already is not written again."""
    backup(data, TODAY)
    assert second.copy() == second.copy()
    assert len(second.copies()) == 1


def test_its_age_is_known_while_it_is_away(second: SecondPlace, data: DataFolder, stick: Path) -> None:
    """How old the newest copy is stands in the data folder."""
    assert second.days_without(TODAY) is None
    backup(data, TODAY)
    second.copy()
    shutil.rmtree(stick / "treadle")
    assert second.days_without(TODAY + timedelta(days=9)) == 9
    assert second.days_without(TODAY - timedelta(days=9)) == 0


def test_a_file_that_went_bad_there_is_made_anew(second: SecondPlace, data: DataFolder, journal: Journal) -> None:
    """A file of an older copy that is no longer what it was is not shared with the new one."""
    backup(data, TODAY)
    first = second.copy()
    backup(data, TODAY + timedelta(days=1))
    spoiled = bytearray((first / "shelf.db").read_bytes())
    spoiled[100] ^= 1
    (first / "shelf.db").write_bytes(spoiled)
    later = second.copy()
    assert (later / "shelf.db").read_bytes() == (backups(data)[-1][0] / "shelf.db").read_bytes()
    assert (first / "shelf.db").read_bytes() == bytes(spoiled)


def test_what_does_not_read_back_is_told(
    second: SecondPlace, data: DataFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick that keeps something else than was written gives a sentence, and no copy."""
    backup(data, TODAY)
    spoiled: list[Path] = []

    def spoil() -> None:
        for draft in second.folder.glob(".unfinished-*/journal.db"):
            if not spoiled:
                with draft.open("r+b") as file:
                    file.write(b"?")
                spoiled.append(draft)

    with pytest.raises(StoreTrouble, match="cannot be read back as it was written"):
        second.copy(spoil)
    assert spoiled
    assert second.copies() == half(second) == []


def test_a_backup_gone_bad_here_does_not_go_there(second: SecondPlace, data: DataFolder) -> None:
    """What is copied is held to its seal: a spoiled backup is told, and not copied."""
    made = backup(data, TODAY)
    (made / "journal.db").write_bytes(b"?" + (made / "journal.db").read_bytes()[1:])
    with pytest.raises(StoreTrouble, match="is not as it was made"):
        second.copy()
    (made / "journal.db").unlink()
    with pytest.raises(StoreTrouble, match="is not as it was made"):
        second.copy()
    assert second.copies() == half(second) == []


def test_one_that_is_given_up_leaves_nothing(second: SecondPlace, data: DataFolder, journal: Journal) -> None:
    """Given up between any two steps, no half copy is left, and the older ones are untouched."""
    before = night(second, data, journal, 0)
    journal.append(FilterSaid(filter="5"))
    backup(data, TODAY + timedelta(days=1))
    steps = 0
    for last in range(100):
        asked: list[int] = []

        def between(asked: list[int] = asked, last: int = last) -> None:
            asked.append(1)
            if len(asked) > last:
                raise GivenUp

        try:
            second.copy(between)
        except GivenUp:
            steps += 1
            assert [path for path, _ in second.copies()] == [before]
            assert half(second) == []
        else:
            break
    assert steps > 2
    assert len(second.copies()) == 2


# ---- how many are kept


@pytest.mark.parametrize(("names", "most"), [(True, KEEP), (False, MOST_WHOLE_COPIES)])
def test_so_many_are_kept(
    second: SecondPlace,
    data: DataFolder,
    journal: Journal,
    monkeypatch: pytest.MonkeyPatch,
    names: bool,
    most: int,
) -> None:
    """The newest 14 are kept where files can share, and 3 where they cannot; a folder of one's own stays."""
    if not names:
        no_second_names(monkeypatch)
    (second.folder / "my own").mkdir(parents=True)
    made = [night(second, data, journal, days) for days in range(most + 2)]
    assert [path for path, _ in second.copies()] == made[2:]
    assert (second.folder / "my own").is_dir()
    assert [path.name for path in made[-1].glob("name")] == []


def test_a_new_card_counts_on(second: SecondPlace, data: DataFolder, journal: Journal, tmp_path: Path) -> None:
    """Copies from a card that began to count anew are newer than all that lie there."""
    old = [night(second, data, journal, days) for days in range(3)]
    fresh = DataFolder(tmp_path / "new card" / "treadle")
    restore(old[-1], fresh)
    backup(fresh, TODAY + timedelta(days=5))
    assert backups(fresh)[0][1].serial == 1
    folder = SecondPlace(fresh, second.root).copy()
    assert [path for path, _ in second.copies()] == [*old, folder]


def test_copies_take_half_of_the_room_at_most(
    second: SecondPlace, data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a small stick older copies go before they fill it; the newest two stay."""
    no_second_names(monkeypatch)
    made = [night(second, data, journal, days) for days in range(2)]
    size = second._takes(second.copies()[-1:])
    monkeypatch.setattr(SecondPlace, "_free", lambda self: size * 4 + module.LEFT_BYTES - self._takes(self.copies()))
    monkeypatch.setattr(module, "LEFT_BYTES", 0)
    made.append(night(second, data, journal, 2))
    assert [path for path, _ in second.copies()] == made[1:]


def test_the_newest_two_stay_on_the_smallest_stick(
    second: SecondPlace, data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However little room is left, the newest two copies stay."""
    no_second_names(monkeypatch)
    made = [night(second, data, journal, days) for days in range(3)]
    monkeypatch.setattr(SecondPlace, "_free", lambda _: 1)
    second._drop_old(MOST_WHOLE_COPIES)
    assert [path for path, _ in second.copies()] == made[1:]


def test_where_there_is_no_room_the_newest_stays(
    second: SecondPlace, data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Older copies give way to a new one; where it still has no room that is told, and the newest one stays."""
    no_second_names(monkeypatch)
    made = [night(second, data, journal, days) for days in range(3)]
    monkeypatch.setattr(SecondPlace, "_free", lambda _: 100)
    with pytest.raises(StoreTrouble, match="no room for a backup of 1 MB"):
        night(second, data, journal, 3)
    assert [path for path, _ in second.copies()] == made[-1:]
    assert half(second) == []


def test_room_is_reckoned_for_what_is_new(
    second: SecondPlace, data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where files can share, only what the copy before has not is in need of room; a changed file is, as a whole."""
    night(second, data, journal, 0)
    monkeypatch.setattr(module, "LEFT_BYTES", 0)
    monkeypatch.setattr(SecondPlace, "_free", lambda _: 100)
    backup(data, TODAY + timedelta(days=1))
    second.copy()  # the same files
    with pytest.raises(StoreTrouble, match="no room"):
        night(second, data, journal, 2)


# ---- what refuses


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (errno.ENOSPC, "no room for a backup of 1 MB"),
        (errno.EROFS, "is read-only"),
        (errno.EACCES, "cannot be written by the user"),
        (errno.EIO, "cannot be used: Input/output error"),
    ],
)
def test_what_the_place_refuses_is_told(
    second: SecondPlace, data: DataFolder, monkeypatch: pytest.MonkeyPatch, code: int, said: str
) -> None:
    """A place that is full, read-only, another's or broken is told in a sentence that names it; no half is left."""
    backup(data, TODAY)

    def refuse(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fdatasync", refuse)
        with pytest.raises(StoreTrouble, match=said) as told:
            second.copy()
    assert str(second.root) in str(told.value)
    assert half(second) == []


def test_a_place_that_is_away_is_told(second: SecondPlace, data: DataFolder, stick: Path) -> None:
    """A place that is not there is told with the command that mounts it, and nothing is made in its stead."""
    backup(data, TODAY)
    away = SecondPlace(data, stick / "away")
    with pytest.raises(StoreTrouble, match=f"is not there.*sudo mount {stick / 'away'}"):
        away.copy()
    assert not away.root.exists()


def test_a_place_on_the_same_card_is_told(data: DataFolder, journal: Journal, shelf: Shelf, tmp_path: Path) -> None:
    """A folder on the file system of the data, as an empty place to mount at is, gets no backup, and is told."""
    backup(data, TODAY)
    here = SecondPlace(data, tmp_path / "stick")
    here.root.mkdir()
    with pytest.raises(StoreTrouble, match="is on this memory card itself"):
        here.copy()
    assert list(here.root.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="second place: root may write everywhere")
def test_a_place_of_another_s_is_told(second: SecondPlace, data: DataFolder, stick: Path) -> None:
    """A place that this user may not write is told before anything is tried."""
    stick.chmod(0o500)
    with pytest.raises(StoreTrouble, match="cannot be written by the user"):
        second.look()


def test_without_a_backup_there_is_nothing_to_copy(second: SecondPlace) -> None:
    """Before the first backup there is a sentence, and nothing is made there."""
    with pytest.raises(StoreTrouble, match="There is no backup"):
        second.copy()
    assert not second.folder.exists()


def test_the_place_is_named_by_the_environment(data: DataFolder) -> None:
    """The service's environment names it by a whole path; nothing else does."""
    named = SecondPlace.named(data, {NAMED_BY: "/media/stick"})
    assert named is not None
    assert named.folder == Path("/media/stick/treadle")
    assert SecondPlace.named(data, {}) is SecondPlace.named(data, {NAMED_BY: "stick"}) is None
    assert backups_in(named.folder) == []
