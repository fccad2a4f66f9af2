"""Chores wait for the paper: a backup by night, or as soon as it may be, and never while a sheet is open."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall

from controller.backup.dated import backup, backups
from controller.daemon.chores import LATER, LATER_MINUTES, NIGHTLY, Chores
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.shelf import Shelf
from hardware.clock import ManualClock


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    data = DataFolder(tmp_path)
    Journal.open(data.journal, ManualClock(), FakeWall().stamp()).close()
    Shelf.open(data.shelf).close()
    return data


class Darkroom:
    """Says whether a sheet is open, and hears what went wrong."""

    def __init__(self) -> None:
        self.open = False
        self.told: list[str] = []


@pytest.fixture
def darkroom() -> Darkroom:
    return Darkroom()


@pytest.fixture
def chores(data: DataFolder, darkroom: Darkroom) -> Iterator[Chores]:
    chores = Chores(data, lambda: darkroom.open, darkroom.told.append)
    yield chores
    chores.stop()


def test_the_nightly_backup_is_due_by_night(data: DataFolder, chores: Chores) -> None:
    """Once started, the backup is due within a day, at half past three of the wall's clock."""
    chores.start()
    due = chores.due()[NIGHTLY]
    now = datetime.now(due.tzinfo)
    assert (due.hour, due.minute) == (3, 30)
    assert now < due <= now + timedelta(days=1, hours=1)


def test_a_backup_waits_while_a_sheet_is_open(data: DataFolder, chores: Chores, darkroom: Darkroom) -> None:
    """With a sheet open nothing is copied, and it is tried again later; with none open it is made."""
    backup(data, datetime.now().astimezone().date())
    chores.start()
    assert LATER not in chores.due()
    darkroom.open = True
    chores.back_up()
    assert len(backups(data)) == 1
    due = chores.due()[LATER]
    assert due - datetime.now(due.tzinfo) < timedelta(minutes=LATER_MINUTES)
    darkroom.open = False
    chores.back_up()
    assert len(backups(data)) == 2
    assert darkroom.told == []


def test_a_machine_that_is_off_at_night_is_backed_up_by_day(data: DataFolder, chores: Chores) -> None:
    """Where today has no backup at the start, one is due soon; where it has, none is."""
    chores.start()
    assert LATER in chores.due()
    chores.stop()
    chores.back_up()
    later = Chores(data, lambda: False, lambda _: None)
    later.start()
    assert LATER not in later.due()
    later.stop()


def test_a_backup_that_fails_is_told(data: DataFolder, chores: Chores, darkroom: Darkroom) -> None:
    """A failed backup is told in a sentence, and the chores go on."""
    data.journal.unlink()
    chores.start()
    chores.back_up()
    assert len(darkroom.told) == 1
    assert "cannot be opened" in darkroom.told[0]
    assert NIGHTLY in chores.due()


def test_a_due_chore_runs_by_itself_however_late(data: DataFolder) -> None:
    """A chore put off runs in the chores' own thread even when the wall's clock leapt far past its time."""
    names: list[str] = []
    asked = threading.Event()

    def busy() -> bool:
        names.append(threading.current_thread().name)
        asked.set()
        return False

    chores = Chores(data, busy, names.append)
    chores.start()
    job = chores._scheduler.get_job(LATER)
    job.modify(next_run_time=job.next_run_time - timedelta(days=400))
    assert asked.wait(10)
    chores.stop()
    chores.stop()
    assert names[0] != threading.main_thread().name
    assert len(backups(data)) == 1


def test_a_chore_that_puts_itself_off_ends_with_the_rest(data: DataFolder) -> None:
    """Stopped while a chore finds a sheet open, the chores end: neither waits for the other."""
    asked, answer = threading.Event(), threading.Event()

    def busy() -> bool:
        asked.set()
        return answer.wait(10)

    chores = Chores(data, busy, lambda _: None)
    chores.start()
    chores._scheduler.get_job(LATER).modify(next_run_time=datetime.now().astimezone())
    assert asked.wait(10)
    stopping = threading.Thread(target=chores.stop, daemon=True)
    stopping.start()
    time.sleep(0.2)
    answer.set()
    stopping.join(10)
    assert not stopping.is_alive()
    assert backups(data) == []
