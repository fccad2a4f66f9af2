"""A darkroom with years of sheets is ready at a glance, and the foot answers while they are looked over."""

from __future__ import annotations

from pathlib import Path

import pytest
from tools.daemon_bench import bench, until

from controller.store import look_over as module
from controller.store.entries import FilterSaid, Trouble
from controller.store.journal import Journal, Stamp
from controller.store.said_of_sheets import Remark
from controller.store.shelf import Shelf
from hardware.clock import MonotonicClock

pytestmark = pytest.mark.usefixtures("by_real_time")


def years(folder: Path) -> Path:
    """Lay a large journal into a darkroom's data folder; return it."""
    data = folder / "data"
    data.mkdir()
    with Journal.open(data / "journal.db", MonotonicClock(), Stamp.here()) as journal:
        journal.append(*(Remark(sheet="s", text="x" * 800) for _ in range(1500)))
        journal.append(*(FilterSaid(filter="00") for _ in range(4100)))  # more than a start reads
    Shelf.open(data / "shelf.db").close()
    return data / "journal.db"


def test_damage_is_told_behind_a_ready_daemon_and_noted_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A damaged page among many: ready first, told on every page then, noted once, and known at the next start."""
    monkeypatch.setattr(module, "QUIET_SECONDS", 0.3)
    journal = years(tmp_path)
    with journal.open("r+b") as file:
        file.seek(journal.stat().st_size // 8 // 4096 * 4096)
        file.write(b"\xa5" * 4096)
    for start in (1, 2):
        with bench(tmp_path) as darkroom:
            told = [words for words in darkroom.desk.status().troubles if "damaged" in words]
            assert len(told) == start - 1
            until(lambda: [w for w in darkroom.desk.status().troubles if "damaged" in w] or None, 60)
            until(lambda: None if darkroom.darkroom._look_over._thread.is_alive() else True, 60)
            noted = [row for row in darkroom.rows(5600) if isinstance(row.entry, Trouble)]
            assert len([row for row in noted if "damaged" in row.entry.what]) == 1
            assert len([w for w in darkroom.desk.status().troubles if "damaged" in w]) == 1


def test_the_foot_answers_while_a_journal_is_looked_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A press while a check is under way that would last for ever brings its light, and the check is given up."""
    monkeypatch.setattr(module, "QUIET_SECONDS", 0.05)
    begun: list[int] = []
    given_up: list[int] = []

    def endless(_path: object, _schema: object, between: object) -> None:
        begun.append(1)
        assert callable(between)
        try:
            while True:
                between()
        except module.GivenUp:
            given_up.append(1)
            raise

    monkeypatch.setattr(module, "check_whole", endless)
    years(tmp_path)
    with bench(tmp_path) as darkroom:
        until(lambda: begun or None, 60)
        darkroom.load(0.1)
        darkroom.begin_light()
        until(lambda: given_up or None)
        darkroom.wait_for("finished")
        assert len(begun) == len(given_up)
