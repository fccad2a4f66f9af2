"""A whole evening by foot, worked and then developed: sheet by sheet in virtual time, and through real processes.

By real time that is daemon, keeper, practice lines and log, with real lengths of light: the strip of soft light in each
short run, all seven sheets in the long one.
"""

from __future__ import annotations

import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_process import Daemon
from tools.evening_sheets import EVENING, Sheet, developed_by, differences, worked_in_virtual_time

from controller.picture.develop import Developed
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.rows import Reader
from hardware.practice.practice_darkroom import PracticeDarkroom

SPANS_MS = {"hold_ms": 350, "lead_in_ms": 450, "lease_ms": 2000, "stuck_ms": 5000, "wait_after_stop_ms": 100}
"""Longer than those of other benches, so that a machine that stands still for a moment makes no press a hold."""
PATIENCE_SECONDS = 180
STOPPED = replace(EVENING["soft"], stopped_after=1.5)
"""The strip of soft light, filter, card and seven lights, the first stopped by a foot, and let go on by another."""


def _work(folder: Path, sheet: Sheet) -> tuple[SheetRecord, PracticeDarkroom]:
    """Work one sheet to its end by foot, as a printer would, and return its record and the room."""
    daemon = Daemon(folder, timing=SPANS_MS)
    room = PracticeDarkroom(folder / "run")
    try:
        status = daemon.ask(save=sheet.text.read_text(encoding="utf-8"))
        assert status is not None
        moved, opened, until, stop_after = 0, False, time.monotonic() + PATIENCE_SECONDS, sheet.stopped_after
        while not (opened and not status.open):
            assert time.monotonic() < until, status.place
            opened = opened or status.open
            match status.place:
                case "change filter" | "ready" | "finished" | "held":
                    time.sleep(SPANS_MS["wait_after_stop_ms"] / 1000 + 0.12)
                    if status.place == "ready" and status.next and status.next.number != moved:
                        moved = status.next.number
                        sheet.move(room, moved)
                    room.press(SPANS_MS["hold_ms"] + 40 if status.place == "finished" else 35)
                    time.sleep(0.15)
                case "light" if stop_after is not None:
                    time.sleep(stop_after)
                    stop_after = None
                    room.press(35)
            time.sleep(0.02)
            status = daemon.ask()
            assert status is not None
    finally:
        daemon.close()
    return _record(folder / "data"), room


def _record(data: Path) -> SheetRecord:
    (path,) = (
        each for each in data.iterdir() if each.name.startswith("journal") and each.suffix not in (".db-wal", ".db-shm")
    )
    connection = sqlite3.connect(path)
    with Reader(connection, path, None) as reader:
        (record,) = fold(reader.rows())
    return record


def _developed(folder: Path, sheet: Sheet) -> Developed:
    record, room = _work(folder, sheet)
    with room:
        return developed_by(sheet, record, list(room.log()), room.edges())


@pytest.mark.parametrize("name", EVENING)
def test_each_sheet_of_the_evening(name: str) -> None:
    """Worked by foot and hands through the keeper's core, a sheet has the densities that the scenarios give it."""
    assert differences(name, worked_in_virtual_time(EVENING[name])) == []


@pytest.mark.usefixtures("by_real_time")
def test_a_strip_by_real_time(tmp_path: Path) -> None:
    """Through daemon, keeper and practice lines a strip that a foot stopped has its densities, band by band."""
    assert differences("soft", _developed(tmp_path, STOPPED)) == []


@pytest.mark.long
def test_the_evening_by_real_time(tmp_path: Path) -> None:
    """All seven sheets, worked at the same time through processes of their own, have their densities."""
    folders = {name: tmp_path / name.replace(" ", "-") for name in EVENING}
    for folder in folders.values():
        folder.mkdir()
    with ThreadPoolExecutor(len(EVENING)) as printers:
        work = {name: printers.submit(_developed, folders[name], sheet) for name, sheet in EVENING.items()}
        assert {name: differences(name, each.result()) for name, each in work.items()} == {name: [] for name in EVENING}
