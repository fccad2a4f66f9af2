"""What `treadle check` finds of power, clock, priority, and of the card and what lies on it."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from tools.checks_bench import one, put
from tools.history import whole_sheet
from tools.stick import stick_beside

from controller import wall
from controller.backup.dated import backup
from controller.backup.second_place import LEFT_BYTES, NAMED_BY, OLD_DAYS_THERE, SecondPlace
from controller.commands.check import look
from controller.commands.check.card import (
    look_at_disk,
    look_at_folder,
    look_at_second_place,
    look_at_stores,
    rebuild,
)
from controller.commands.check.keeper_start import look_at_priority
from controller.commands.check.look import check
from controller.commands.check.machine import Machine, run
from controller.commands.check.pi import look_at_power
from controller.errors import StoreTrouble
from controller.store.entries import Photographed
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.said_of_sheets import Remark
from controller.store.shelf import Shelf
from hardware.clock import MonotonicClock
from hardware.errors import KeeperAway

# ---- power, clock, priority


@pytest.mark.parametrize(
    ("said", "level"), [("throttled=0x0\n", "good"), ("throttled=0x50000\n", "advice"), ("throttled=0x50005\n", "must")]
)
def test_the_firmware_tells_of_low_voltage(machine: Machine, said: str, level: str) -> None:
    """Under-voltage now must be put right; one that has been is advice."""
    assert look_at_power(replace(machine, run=lambda _words: said)).level == level


@pytest.mark.parametrize(("alarm", "level"), [("0\n", "good"), ("1\n", "advice")])
def test_the_kernels_sensor_tells_of_low_voltage(machine: Machine, alarm: str, level: str) -> None:
    """Where the firmware cannot be asked, the kernel's own sensor is, by its name."""
    put(machine, "/sys/class/hwmon/hwmon0/name", "cpu_thermal\n")
    put(machine, "/sys/class/hwmon/hwmon3/name", "rpi_volt\n")
    put(machine, "/sys/class/hwmon/hwmon3/in0_lcrit_alarm", alarm)
    assert look_at_power(machine).level == level


def test_elsewhere_the_voltage_is_not_known(machine: Machine) -> None:
    """On a machine that is no Pi nothing is claimed."""
    assert (look_at_power(machine).level, "no Pi" in look_at_power(machine).words) == ("unknown", True)


def test_a_command_that_is_not_there_says_nothing() -> None:
    """A missing or failing command is no answer; another one's output is."""
    assert run(["/nowhere/vcgencmd"]) is None
    assert run(["false"]) is None
    assert run(["echo", "here"]) == "here\n"


def test_priority_that_is_not_allowed_is_advice(machine: Machine) -> None:
    """Without real-time priority there is light all the same, later: advice."""
    assert look_at_priority(machine).level == "good"
    assert look_at_priority(replace(machine, may_use_priority=lambda: False)).level == "advice"


# ---- the card and what lies on it


@pytest.mark.parametrize(("ms", "level"), [(20, "good"), (450, "advice"), (1500, "must")])
def test_a_slow_card_is_told(tmp_path: Path, ms: int, level: str) -> None:
    """A card on which an intent cannot be noted in time must be replaced; one that is slow is advice."""
    assert one(list(look_at_disk(tmp_path, write_ms=lambda _folder: ms)), "card").level == level


def test_a_folder_that_cannot_be_written_is_a_must(tmp_path: Path) -> None:
    """A read-only card is a must, and its speed is not spoken of."""

    def refuse(_folder: Path) -> int:
        raise OSError(30, "Read-only file system")

    (found,) = look_at_disk(tmp_path, write_ms=refuse)
    assert (found.name, found.level) == ("disk", "must")
    assert "Read-only" in found.words


def test_measuring_the_card_leaves_nothing_behind(tmp_path: Path) -> None:
    """What was written to try the card is gone again."""
    assert {f.level for f in look_at_disk(tmp_path)} <= {"good", "advice", "must"}
    assert list(tmp_path.iterdir()) == []


def filled(data: DataFolder, rows: int) -> None:
    """Put rows into the journal, and make a shelf."""
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    for number in range(rows):
        journal.append(Remark(sheet="s", text=f"remark {number}"))
    journal.close()
    Shelf.open(data.shelf).close()


def test_a_prints_photograph_that_is_gone_is_advice(data: DataFolder) -> None:
    """A photograph that a sheet names and the store of pictures lacks is told with the sheet's number."""
    Shelf.open(data.shelf).close()
    with Journal.open(data.journal, MonotonicClock(), Stamp.here()) as journal:
        journal.append(*whole_sheet("print-1", 7))
        journal.append(Photographed(hash="0" * 64, of="sheet", thing="print-1"))
    found = one(list(look_at_stores(data, daemon=False)), "pictures")
    assert found.level == "advice"
    assert "sheet 7" in found.words


def test_a_journal_cut_to_nothing_is_told_from_a_new_one(data: DataFolder) -> None:
    """A journal of 0 bytes looks new: with backups, or a shelf, it is a must, and the file is left as it is."""
    assert [f.level for f in look_at_stores(data, daemon=False)] == ["good", "good"]
    assert not data.journal.exists()
    filled(data, 3)
    backup(data, date(2026, 3, 1))
    assert all(f.level == "good" for f in look_at_stores(data, daemon=False) if f.name != "backup")
    data.journal.write_bytes(b"")
    found = one(list(look_at_stores(data, daemon=False)), "journal")
    assert found.level == "must"
    assert "treadle restore" in found.words
    assert data.journal.stat().st_size == 0


def test_a_journal_that_was_begun_again_after_the_loss_is_told_too(data: DataFolder) -> None:
    """A journal with fewer rows than a backup has lost some, also once a daemon has written to it again."""
    filled(data, 5)
    backup(data, date(2026, 3, 1))
    data.journal.unlink()
    filled(data, 1)
    found = one(list(look_at_stores(data, daemon=False)), "backups")
    assert (found.level, "row 1" in found.words, "5 rows" in found.words) == ("must", True, True)


def test_a_shelf_that_is_gone_is_told(data: DataFolder) -> None:
    """A shelf that is not there, or was begun again, lacks what a backup has of it; one that was replaced does not."""
    filled(data, 1)
    with Shelf.open(data.shelf) as shelf:
        for title in "abc":
            shelf.save("recipe", title, "{}")
    backup(data, date(2026, 3, 1))
    data.shelf.unlink()
    found = one(list(look_at_stores(data, daemon=False)), "backups")
    assert (found.level, "entry 0" in found.words, "3 of them" in found.words) == ("must", True, True)
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "a", "{}")
    assert "entry 1" in one(list(look_at_stores(data, daemon=True)), "backups").words
    (data.path / "replaced-1").mkdir()
    assert one(list(look_at_stores(data, daemon=True)), "backups").level == "advice"


def test_a_journal_that_was_set_aside_on_purpose_is_advice(data: DataFolder) -> None:
    """Where the printer set the journal aside, fewer rows are no loss that must be mended."""
    filled(data, 5)
    backup(data, date(2026, 3, 1))
    Journal.start_fresh(data.journal)
    assert one(list(look_at_stores(data, daemon=False)), "backups").level == "advice"


def test_a_damaged_journal_is_a_must(data: DataFolder) -> None:
    """A journal that is no database, or whose pages are broken, must be mended; the file is left as it is."""
    filled(data, 2)
    broken = b"no database" * 500
    data.journal.write_bytes(broken)
    found = one(list(look_at_stores(data, daemon=False)), "journal")
    assert found.level == "must"
    assert data.journal.read_bytes() == broken


def test_what_cannot_be_read_on_the_shelf_is_advice(data: DataFolder) -> None:
    """A thing that this software cannot read is told by its title, and the shelf is whole all the same."""
    filled(data, 1)
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "Crane on the quay", "{}")
    told = [found for found in look_at_stores(data, daemon=False) if found.name == "shelf"]
    assert [found.level for found in told] == ["advice", "good"]
    assert "Crane on the quay" in told[0].words


def test_a_journal_in_use_is_compared_all_the_same(data: DataFolder) -> None:
    """While a daemon has the journal it is only looked at, and still compared with the backups."""
    filled(data, 4)
    backup(data, date(2026, 3, 1))
    data.journal.unlink()
    owner = DataFolder(data.path)
    owner.lock()
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    try:
        journal.append(Remark(sheet="s", text="new"))
        assert DataFolder(data.path).is_owned()
        assert [f.name for f in look_at_stores(data, daemon=True)] == ["backups", "backup"]
    finally:
        journal.close()
        owner.unlock()
    assert not DataFolder(data.path).is_owned()
    with closing(sqlite3.connect(data.journal)) as connection:
        assert connection.execute("SELECT count(*) FROM rows").fetchone() == (1,)


@pytest.mark.parametrize(("age", "level"), [(0, "good"), (1, "good"), (2, "good"), (3, "advice"), (90, "advice")])
def test_the_backups_age_is_told(tmp_path: Path, age: int, level: str) -> None:
    """The newest backup's age is told, and is advice once it is days old."""
    data = DataFolder(tmp_path)
    Journal.open(data.journal, MonotonicClock(), Stamp.here()).close()
    Shelf.open(data.shelf).close()
    backup(data, wall.now().astimezone().date() - timedelta(days=age))
    said = one(list(look_at_stores(data, daemon=False)), "backup")
    assert (said.level, f"{age} days" in said.words or (age == 1 and "one day" in said.words)) == (level, True)


# ---- the second place for backups


def test_without_a_second_place_that_is_advice(data: DataFolder, machine: Machine) -> None:
    """Backups on one card alone are told, with the way to a second place; of practice nothing is said."""
    (found,) = look_at_second_place(data, machine, practice=False)
    assert (found.level, "--second-place" in found.words) == ("advice", True)
    assert list(look_at_second_place(data, machine, practice=True)) == []


@pytest.mark.parametrize(
    ("age", "level"), [(0, "good"), (1, "good"), (OLD_DAYS_THERE - 1, "good"), (OLD_DAYS_THERE, "advice")]
)
def test_the_copys_age_is_told(data: DataFolder, machine: Machine, age: int, level: str) -> None:
    """The newest copy's age is told, and is advice, with what to do, once it is a week old; away, the place is too."""
    filled(data, 1)
    backup(data, wall.now().astimezone().date() - timedelta(days=age))
    with stick_beside(data.path) as stick:
        second = SecondPlace(data, stick)
        named = replace(machine, environment={NAMED_BY: str(stick)})
        assert one(list(look_at_second_place(data, named, practice=False)), "copy").words.startswith("No backup")
        second.copy()
        said = one(list(look_at_second_place(data, named, practice=False)), "copy")
        assert (said.level, f"{age} days" in said.words or (age == 1 and "one day" in said.words)) == (level, True)
        assert level == "good" or "treadle backup" in said.words
    away, still = look_at_second_place(data, named, practice=False)
    assert (away.name, away.level, "is not there" in away.words) == ("second place", "advice", True)
    assert still == said


def test_a_full_stick_is_told(data: DataFolder, machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the next copy would find no room, older ones given up, that is told with what would do."""
    filled(data, 1)
    backup(data, wall.now().astimezone().date())
    with stick_beside(data.path) as stick:
        SecondPlace(data, stick).copy()
        named = replace(machine, environment={NAMED_BY: str(stick)})
        assert [found.name for found in look_at_second_place(data, named, practice=False)] == ["copy"]
        filled(data, 3)
        backup(data, wall.now().astimezone().date())
        monkeypatch.setattr(SecondPlace, "_free", lambda _: LEFT_BYTES + 1000)
        full = one(list(look_at_second_place(data, named, practice=False)), "second place")
        assert (full.level, "no room for a backup of 1 MB" in full.words) == ("advice", True)
        old = stick / data.path.name / "old"
        shutil.copytree(SecondPlace(data, stick).copies()[0][0], old)
        assert len(SecondPlace(data, stick).copies()) == 2, "one of them would give way"
        assert [found.name for found in look_at_second_place(data, named, practice=False)] == ["copy"]


def test_a_share_that_does_not_answer_ends_no_list(
    data: DataFolder, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second place that keeps whoever looks at it waiting is told to be silent, and is left behind."""
    ending = threading.Event()
    monkeypatch.setattr(SecondPlace, "look", lambda _: ending.wait() and None)
    named = replace(machine, environment={NAMED_BY: "/media/share"})
    silent, _ = look_at_second_place(data, named, practice=False, patience_s=0.01)
    ending.set()
    assert (silent.level, "does not answer" in silent.words) == ("advice", True)


# ---- what outlives a power cut

CARD = "20 1 179:2 / / rw,noatime shared:1 - ext4 /dev/root rw\n"
LAYER = "20 1 0:23 / / rw - overlay overlayroot rw,lowerdir=/media/ro,upperdir=/media/rw/over,workdir=/media/rw/work\n"


@pytest.mark.parametrize(
    ("mounts", "kind"),
    [
        (CARD, ""),
        (CARD + "31 20 0:30 / {place} rw - tmpfs tmpfs rw\n", "tmpfs"),
        (LAYER + "32 20 0:31 / /media/rw rw - tmpfs tmpfs rw\n", "overlay"),
        (LAYER, "overlay"),
        (LAYER + "32 20 179:3 / /media/rw rw - ext4 /dev/sda1 rw\n", ""),
        (LAYER + "33 20 179:3 / {place} rw - ext4 /dev/mmcblk0p3 rw\n", ""),
        (CARD + "31 20 0:30 / {place} rw - tmpfs tmpfs rw\n33 31 179:3 / {place} rw - ext4 /dev/sda1 rw\n", ""),
    ],
    ids=["card", "memory", "layer in memory", "layer unseen", "layer on a stick", "own partition", "covered"],
)
def test_a_folder_in_memory_must_be_mended(data: DataFolder, machine: Machine, mounts: str, kind: str) -> None:
    """Data on a file system in memory, or on a layer that lies there, are gone with the power; of practice, advice."""
    put(machine, "/proc/self/mountinfo", mounts.format(place=data.path.resolve()))
    for practice in (False, True):
        found = list(look_at_folder(data, machine, practice=practice))
        assert [each.level for each in found] == ([("must", "advice")[practice]] if kind else [])
        assert all(f"({kind})" in each.words and "partition" in each.words for each in found)


@pytest.mark.usefixtures("by_real_time")
def test_a_folder_that_cannot_be_made_does_not_end_the_list(tmp_path: Path, machine: Machine) -> None:
    """Where the data folder can be neither made nor read, everything else is looked at all the same."""
    (tmp_path / "file").touch()
    report = check(DataFolder(tmp_path / "file" / "data", make=False), simulate=True, port=0, machine=machine)
    levels = {finding.name: finding.level for finding in report.findings}
    assert levels["disk"] == levels["lines"] == "must"
    assert {"python", "clock", "power", "keeper", "port", "name", "network"} <= set(levels)
    assert not report.good


@pytest.mark.usefixtures("by_real_time")
@pytest.mark.parametrize(
    "problem", [StoreTrouble("The card broke."), KeeperAway("The card broke."), OSError(5, "The card broke.")]
)
def test_whatever_breaks_a_look_the_list_goes_on(
    data: DataFolder, machine: Machine, monkeypatch: pytest.MonkeyPatch, problem: Exception
) -> None:
    """A look that breaks is a finding that must be mended, and what comes after it is looked at all the same."""

    def broken(*_: object, **__: object) -> None:
        raise problem

    monkeypatch.setattr(look, "look_at_stores", broken)
    findings = {finding.name: finding for finding in look.check(data, simulate=True, port=0, machine=machine).findings}
    assert findings["stores"].level == "must"
    assert "The card broke." in findings["stores"].words
    assert {"clock", "port", "network"} <= set(findings)


def test_building_anew_in_no_folder_does_not_end_the_list(tmp_path: Path) -> None:
    """Where there is no data folder, what is derived cannot be built anew, and a sentence says so."""
    (tmp_path / "file").touch()
    found = rebuild(DataFolder(tmp_path / "file" / "data", make=False))
    assert (found.name, found.level) == ("lookups", "must")
    assert "cannot be used" in found.words
