"""Journal and shelf are looked over behind a running daemon's back, and what is wrong is told, once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from tools.history import FakeWall
from tools.patience import PATIENCE_S

from controller.errors import Damaged
from controller.store import look_over as module
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.look_over import LookOver, damage_on_file
from controller.store.said_of_sheets import Remark
from controller.store.shelf import Shelf
from hardware.clock import ManualClock


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "QUIET_SECONDS", 0.01)


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    data = DataFolder(tmp_path)
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*(Remark(sheet="s", text="x" * 800) for _ in range(2500)))
    Shelf.open(data.shelf).close()
    return data


def damage(path: Path) -> bytes:
    """Overwrite a page in the midst of a database, and return what was there before."""
    before = path.read_bytes()
    with path.open("r+b") as file:
        file.seek(len(before) // 2 // 4096 * 4096)
        file.write(b"\xa5" * 4096)
    return before


def wait_for(so: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not so():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.002)


def looked_over(data: DataFolder) -> list[Sequence[str]]:
    """Have both files looked over, and return what was told."""
    told: list[Sequence[str]] = []
    look = LookOver(data, lambda: False, told.append)
    look.start()
    wait_for(lambda: not look._thread.is_alive())
    look.stop()
    return told


def test_a_large_damaged_journal_is_opened_at_a_glance_and_told_afterwards(data: DataFolder) -> None:
    """A large journal with a damaged page is opened all the same; the look over tells it, once, and keeps it."""
    before = damage(data.journal)
    Journal.open(data.journal, ManualClock(), FakeWall().stamp(), whole=False).close()
    with pytest.raises(Damaged):
        Journal.open(data.journal, ManualClock(), FakeWall().stamp())
    ((sentence,),) = looked_over(data)
    assert "The journal" in sentence
    assert "is damaged" in sentence
    assert "treadle restore" in sentence
    assert damage_on_file(data) == (sentence,)
    assert LookOver(data, lambda: False, lambda _: None).sentences() == (sentence,)
    assert looked_over(data) == []
    data.journal.write_bytes(before)
    assert looked_over(data) == [()]
    assert damage_on_file(data) == ()


def test_a_look_over_that_finds_nothing_writes_nothing(data: DataFolder) -> None:
    """Where both are whole nothing is told, and no file of the folder is made, touched or dropped."""
    before = {path.name: path.stat().st_mtime_ns for path in data.path.iterdir()}
    assert looked_over(data) == []
    after = {path.name: path.stat().st_mtime_ns for path in data.path.iterdir()}
    assert {name: at for name, at in after.items() if not name.endswith(("-wal", "-shm"))} == before
    assert all(data.path.joinpath(name).stat().st_size == 0 for name in after if name.endswith("-wal"))


def endless(path: object, schema: object, between: Callable[[], None]) -> None:
    """Stand for a check of a file that takes for ever."""
    while True:
        between()
        time.sleep(0.001)


def test_a_look_over_gives_way_to_a_sheet(data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """A look over under way is given up when a sheet is opened, not begun while it is open, and begun again after."""
    begun: list[int] = []
    opened = threading.Event()

    def counted(path: object, schema: object, between: Callable[[], None]) -> None:
        begun.append(1)
        endless(path, schema, between)

    monkeypatch.setattr(module, "check_whole", counted)
    look = LookOver(data, opened.is_set, lambda _: None)
    look.start()
    wait_for(lambda: len(begun) == 1)
    opened.set()
    time.sleep(0.1)
    assert len(begun) == 1
    opened.clear()
    wait_for(lambda: len(begun) == 2)
    look.stop()
    assert not look._thread.is_alive()


def test_a_journal_that_was_cut_short_is_not_opened(data: DataFolder) -> None:
    """A large journal that has lost its end is refused at a glance, and left as it is."""
    whole = data.journal.read_bytes()
    data.journal.write_bytes(whole[: len(whole) - 3 * 4096])
    with pytest.raises(Damaged):
        Journal.open(data.journal, ManualClock(), FakeWall().stamp(), whole=False)
    assert data.journal.stat().st_size == len(whole) - 3 * 4096
