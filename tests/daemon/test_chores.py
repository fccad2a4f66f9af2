"""Chores wait for the paper: a backup by night, or as soon as it may be, and never while a sheet is open."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from tools.history import FakeWall
from tools.patience import PATIENCE_S
from tools.stick import stick_beside

from controller.backup.dated import STEP_BYTES, backup, backups
from controller.backup.second_place import OLD_DAYS_THERE, SecondPlace
from controller.daemon import chores as module
from controller.daemon.chores import AGAIN_MINUTES, COPY, LATER, LATER_MINUTES, NIGHTLY, Chores
from controller.store.entries import FilterSaid
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.said_of_sheets import Remark
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


def wait_for(so: Callable[[], bool]) -> None:
    """Wait until something is so."""
    end = time.monotonic() + PATIENCE_S
    while not so():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.002)


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


def test_a_clock_set_back_by_a_year_puts_no_backup_off(chores: Chores, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was due by the old time is due within a day, or within its minutes, by the new one; twice an hour is not."""
    year, ahead = timedelta(days=365), [0.0]
    monkeypatch.setattr(module, "CLOCK_SECONDS", 0.005)
    monkeypatch.setattr(module, "_ahead_seconds", lambda: ahead[0])
    chores.start()
    for name, due in chores.due().items():  # as those of a clock that then goes back
        chores._scheduler.modify_job(name, next_run_time=due + year)
    old = chores.due()
    assert set(old) == {NIGHTLY, LATER}
    for _ in range(2):
        ahead[0] -= module.SET_BACK_SECONDS
        time.sleep(0.05)
    assert chores.due() == old
    ahead[0] -= year.total_seconds()
    wait_for(lambda: max(chores.due().values()) < min(old.values()) - year / 2)
    due = chores.due()
    now = datetime.now(due[NIGHTLY].tzinfo)
    assert now < due[NIGHTLY] <= now + timedelta(days=1, hours=1)
    assert now < due[LATER] <= now + timedelta(minutes=LATER_MINUTES)


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


@pytest.mark.parametrize(("age", "told"), [(2, 0), (3, 1), (40, 1)])
@pytest.mark.parametrize("made", [True, False])
def test_a_backup_that_finds_no_quiet_is_told_after_days(
    data: DataFolder, chores: Chores, darkroom: Darkroom, age: int, told: int, made: bool
) -> None:
    """Put off again and again, it is told once a day how many days the newest backup is old, or the folder."""
    then = datetime.now().astimezone() - timedelta(days=age)
    data.key()
    if made:
        backup(data, then.date())
    else:
        os.utime(data.path / "secret.key", (then.timestamp(), then.timestamp()))
    chores.start()
    darkroom.open = True
    for _ in range(3):
        chores.back_up()
    assert len(darkroom.told) == told
    assert all(f"no backup for {age} days" in words for words in darkroom.told)


def test_a_machine_that_is_off_at_night_is_backed_up_by_day(data: DataFolder, chores: Chores) -> None:
    """Where today has no backup at the start, one is due soon; where it has, none is."""
    chores.start()
    assert LATER in chores.due()
    chores.back_up()
    chores.stop()
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
    wait_for(lambda: bool(backups(data)))
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


# ---- a backup gives way


@pytest.fixture
def journal(data: DataFolder) -> Iterator[Journal]:
    """A journal of many steps' length, open as the daemon has it."""
    with Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*(Remark(sheet="s", text="x" * 800) for _ in range(2500)))
        yield journal


def nothing_half_kept(data: DataFolder) -> bool:
    """Tell whether every folder among the backups is one."""
    return len(list(data.backups.iterdir())) == len(backups(data))


@pytest.mark.parametrize("steps", [2, 5, 9])
def test_a_sheet_opened_meanwhile_ends_a_backup_at_the_next_step(
    data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch, steps: int
) -> None:
    """Between two steps a row is filed as ever; once a sheet is open nothing is asked again, kept, or told."""
    asked: list[int] = []
    told: list[str] = []

    def busy() -> bool:
        for copied in data.backups.glob(".unfinished-*/journal.db"):
            assert copied.stat().st_size <= len(asked) * STEP_BYTES
        asked.append(1)
        journal.append(FilterSaid(filter="00"))
        return len(asked) > steps

    monkeypatch.setattr(module, "REST_SECONDS", 0.0)
    before = backup(data, datetime.now().astimezone().date())
    chores = Chores(data, busy, told.append)
    chores.start()
    chores.back_up()
    assert len(asked) == steps + 1
    assert [folder for folder, _ in backups(data)] == [before]
    assert nothing_half_kept(data)
    assert LATER in chores.due()
    assert told == []
    chores.stop()


def test_a_backup_is_of_the_moment_it_began(
    data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows filed between its steps begin no backup anew: it has those of its beginning, whole, and takes every step."""
    rows = journal.rows()
    asked: list[int] = []

    def busy() -> bool:
        asked.append(1)
        if len(asked) > 1:  # at first it is asked whether to begin at all
            journal.append(FilterSaid(filter="00"))
        return len(asked) > 500  # one that is begun anew at each row would never end

    monkeypatch.setattr(module, "REST_SECONDS", 0.0)
    Chores(data, busy, lambda _: None).back_up()
    ((folder, _),) = backups(data)
    assert len(asked) > 2 * data.journal.stat().st_size / STEP_BYTES  # while it is copied, and while it is sealed
    with Journal.open(folder / "journal.db", ManualClock(), FakeWall().stamp()) as copy:
        assert copy.rows() == rows
    assert len(journal.rows()) == len(rows) + len(asked) - 1


def test_a_stop_does_not_wait_for_a_backup(data: DataFolder, journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """A backup that has long to go is given up when the chores end, and nothing of it is kept."""
    monkeypatch.setattr(module, "REST_SECONDS", 1000.0)
    chores = Chores(data, lambda: False, lambda _: None)
    chores.start()
    monkeypatch.setattr(module.Chores, "give_way", after_the_first(module.Chores.give_way))
    chores._scheduler.get_job(LATER).modify(next_run_time=datetime.now().astimezone())
    wait_for(lambda: any(data.backups.glob(".unfinished-*/journal.db")))
    stopping = threading.Thread(target=chores.stop, daemon=True)
    stopping.start()
    stopping.join(PATIENCE_S)
    assert not stopping.is_alive()
    assert backups(data) == []
    assert nothing_half_kept(data)


def after_the_first(give_way: Callable[[Chores], None]) -> Callable[[Chores], None]:
    """Return the same rest, but for the first one, which is none: the backup begins at once."""
    turns: list[int] = []

    def rest(self: Chores) -> None:
        turns.append(1)
        if len(turns) > 1:
            give_way(self)

    return rest


# ---- the second place


@pytest.fixture
def stick(tmp_path: Path) -> Iterator[Path]:
    with stick_beside(tmp_path) as folder:
        yield folder


class TwoPlaces(Darkroom):
    """Chores with a second place, and what is said to be wrong with it, sentence after sentence."""

    def __init__(self, data: DataFolder, root: Path) -> None:
        super().__init__()
        self.stood: list[str] = []
        self.second = SecondPlace(data, root)
        self.wiring = data.path / "wiring.toml"
        self.wiring.write_text("[lamp]\npin = 17\n")
        self.chores = Chores(
            data, lambda: self.open, self.told.append, self.second, self.stood.append, wiring=self.wiring
        )


@pytest.fixture
def two(data: DataFolder, stick: Path) -> Iterator[TwoPlaces]:
    two = TwoPlaces(data, stick)
    yield two
    two.chores.stop()


def test_a_backup_goes_to_the_second_place_as_well(data: DataFolder, two: TwoPlaces) -> None:
    """After each backup its copy lies in the second place, with the wiring file, and nothing is wrong with it."""
    two.chores.start()
    two.chores.back_up()
    ((folder, made),) = two.second.copies()
    assert made.files() == backups(data)[-1][1].files()
    assert (folder / "wiring.toml").read_bytes() == two.wiring.read_bytes()
    assert (two.told, two.stood) == ([], [""])
    assert COPY not in two.chores.due()


def test_a_stick_that_is_away_stops_no_backup(
    data: DataFolder, two: TwoPlaces, stick: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """With the stick away the backup here is made; what is wrong is logged once, and stands until the stick is back."""
    stick.rmdir()
    two.chores.start()
    two.chores.back_up()
    assert len(backups(data)) == 1
    assert two.told == []
    assert len(two.stood) == 1
    assert "is not there" in two.stood[0]
    due = two.chores.due()[COPY]
    assert timedelta(minutes=LATER_MINUTES) < due - datetime.now(due.tzinfo) < timedelta(minutes=AGAIN_MINUTES)
    two.chores.copy()
    assert [record.message for record in caplog.records if "no copy" in record.message] == [
        f"no copy of the backup: {two.stood[0]}"
    ]
    stick.mkdir()
    two.chores.copy()
    assert two.stood[2:] == [""]
    assert len(two.second.copies()) == len(backups(data)) == 1


@pytest.mark.parametrize("steps", [0, 1, 3])
def test_a_sheet_opened_meanwhile_ends_a_copy_at_the_next_step(
    data: DataFolder, two: TwoPlaces, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As soon as a sheet is open the copy is given up, nothing half is left there, and it is begun again later."""
    monkeypatch.setattr(module, "REST_SECONDS", 0.0)
    two.chores.start()
    backup(data, datetime.now().astimezone().date())
    asked: list[int] = []

    def busy() -> bool:
        asked.append(1)
        return len(asked) > steps

    two.chores._busy = busy
    two.chores.copy()
    assert len(asked) == steps + 1
    assert two.second.copies() == []
    assert not two.second.folder.exists() or list(two.second.folder.iterdir()) == []
    due = two.chores.due()[COPY]
    assert due - datetime.now(due.tzinfo) < timedelta(minutes=LATER_MINUTES)
    assert two.stood == []
    assert len(backups(data)) == 1


@pytest.mark.parametrize(("age", "stood"), [(OLD_DAYS_THERE - 1, 0), (OLD_DAYS_THERE, 1)])
def test_a_copy_that_finds_no_quiet_is_told_after_days(data: DataFolder, two: TwoPlaces, age: int, stood: int) -> None:
    """Put off again and again, the newest copy's age stands once it is a week old."""
    backup(data, datetime.now().astimezone().date() - timedelta(days=age))
    two.second.copy()
    two.chores.start()
    two.open = True
    two.chores.copy()
    assert len(two.stood) == stood
    assert all(f"is {age} days old" in words for words in two.stood)


def test_what_was_not_copied_today_is_soon_after_the_start(data: DataFolder, two: TwoPlaces, stick: Path) -> None:
    """Where today's backup is made, but its copy is not, one is due soon after the start; where it is, none is."""
    backup(data, datetime.now().astimezone().date())
    two.chores.start()
    assert set(two.chores.due()) == {NIGHTLY, COPY}
    two.second.copy()
    later = TwoPlaces(data, stick)
    later.chores.start()
    assert set(later.chores.due()) == {NIGHTLY}
    later.chores.stop()
