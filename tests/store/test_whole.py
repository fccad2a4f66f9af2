"""A large file is checked in a process of its own, which ends at a word, and with whoever asked."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from tools.history import FakeWall
from tools.patience import PATIENCE_S

from controller.errors import StoreTrouble
from controller.store.database import SMALL_BYTES
from controller.store.entries import FilterSaid
from controller.store.journal import Journal
from controller.store.said_of_sheets import Remark
from controller.store.schemas import JOURNAL
from controller.store.whole import MODULE, GivenUp, check_whole
from hardware.clock import ManualClock

ROOT = Path(__file__).parents[2]


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A journal too large to be checked in passing."""
    with Journal.open(tmp_path / "journal.db", ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*(Remark(sheet="s", text="x" * 800) for _ in range(2500)))
        assert (tmp_path / "journal.db-wal").stat().st_size > SMALL_BYTES
        yield journal


def damage(path: Path) -> None:
    """Overwrite a page in the midst of a database."""
    with path.open("r+b") as file:
        file.seek(path.stat().st_size // 2 // 4096 * 4096)
        file.write(b"\xa5" * 4096)


def test_a_whole_file_passes_while_it_is_written(tmp_path: Path, journal: Journal) -> None:
    """A file in use is checked as it is, and its writer files rows meanwhile."""
    check_whole(tmp_path / "journal.db", JOURNAL, lambda: journal.append(FilterSaid(filter="00")) and None)
    assert journal.last() > 2501


@pytest.mark.parametrize("rows", [10, 2500])
def test_damage_is_told_with_the_remedy(tmp_path: Path, rows: int) -> None:
    """A damaged page is found in a small file as in a large one, and the sentence names file and remedy."""
    path = tmp_path / "journal.db"
    with Journal.open(path, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*(Remark(sheet="s", text="x" * 800) for _ in range(rows)))
    check_whole(path, JOURNAL, lambda: None)
    damage(path)
    with pytest.raises(StoreTrouble, match=r"The journal .*journal\.db.* is damaged: .*treadle restore"):
        check_whole(path, JOURNAL, lambda: None)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Where there is no file, that is said, and none is made."""
    with pytest.raises(StoreTrouble, match="cannot be opened"):
        check_whole(tmp_path / "journal.db", JOURNAL, lambda: None)
    assert list(tmp_path.iterdir()) == []


def test_a_check_is_given_up_at_a_word(tmp_path: Path) -> None:
    """A check that cannot come to its end is ended by what is raised between, at once, and its process with it."""
    path = tmp_path / "large.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as holder:
        fill(holder)
        asked: list[int] = []

        def between() -> None:
            asked.append(1)
            if len(asked) > 3:
                raise GivenUp

        holder.execute("BEGIN EXCLUSIVE")
        with pytest.raises(GivenUp):
            check_whole(path, JOURNAL, between)
    assert len(asked) == 4


def test_a_check_ends_with_whoever_asked(tmp_path: Path) -> None:
    """A process whose input has ended, as a killed daemon's does, ends too: it does not wait for the file."""
    path = tmp_path / "large.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as holder:
        fill(holder)
        holder.execute("BEGIN EXCLUSIVE")
        with subprocess.Popen(
            [sys.executable, "-P", "-m", MODULE, str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={"PYTHONPATH": str(ROOT)},
        ) as process:
            answer, _ = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, answer) == (1, b"")


def fill(connection: sqlite3.Connection) -> None:
    """Make a file too large to be checked in passing."""
    connection.execute("CREATE TABLE large (body BLOB)")
    connection.execute("INSERT INTO large VALUES (zeroblob(?))", (2 * SMALL_BYTES,))
