"""Whole sheets by foot through real processes: daemon, keeper, practice lines and log; then developed."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from daemon_bench import SHORT
from daemon_process import Daemon
from picture.darkroom import EXAMPLES, example
from picture.test_scenarios import NEAR, PROOF, SKY

from controller.paper.emulsions import densities
from controller.picture.develop import Developed, develop_sheet
from controller.picture.papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.records import SheetRecord, fold
from controller.rows import Reader
from hardware.practice.room import PracticeRoom

Hands = Callable[[PracticeRoom, int], None]
"""What the hands do before the light of a step, whose place in the order is given."""


def _work(folder: Path, name: str, hands: Hands) -> tuple[SheetRecord, PracticeRoom]:
    """Work one sheet to its end by foot, as a printer would, and return its record and the room."""
    daemon = Daemon(folder)
    room = PracticeRoom(folder / "run")
    try:
        status = daemon.ask(save=(EXAMPLES / name).read_text(encoding="utf-8"))
        assert status is not None
        given, opened, until = 0, False, time.monotonic() + 90
        while not (opened and not status.open):
            assert time.monotonic() < until, status.place
            opened = opened or status.open
            if status.place in ("change filter", "ready", "finished", "held"):
                time.sleep((SHORT.wait_after_stop_ms + 120) / 1000)
                if status.place == "finished":
                    room.press(SHORT.hold_ms + 40)
                else:
                    if status.place == "ready":
                        hands(room, given)
                        given += 1
                    room.press(35)
                time.sleep(0.15)
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


def _developed(folder: Path, name: str, negative: str, hands: Hands) -> Developed:
    record, room = _work(folder, name, hands)
    with room:
        assert record.outcome == "complete"
        scene = scene_for(example(name), negatives_named(negative))
        return develop_sheet(record, room.log(), scene, practice_paper("one"), edges=room.edges())


def _cover(room: PracticeRoom, light: int) -> None:
    room.log_card("cover", 7 - light)


def _crane(room: PracticeRoom, light: int) -> None:
    """Filter, card with a hole for A, dodger for C, card with a hole for B: as the recipe has them, by hand."""
    tools = {1: ("A", "burn"), 2: ("C", "dodge"), 4: ("B", "burn")}
    if before := tools.get(light - 1):
        room.log_dodger(before[0], False, before[1])
    if light in (0, 2):
        room.log_filter("soft" if light == 0 else "hard")
    if now := tools.get(light):
        room.log_dodger(now[0], True, now[1])


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> tuple[Developed, Developed]:
    """The proof strip and the split-grade sheet, worked at the same time in two darkrooms."""
    with ThreadPoolExecutor(2) as printers:
        strip = printers.submit(_developed, tmp_path_factory.mktemp("a"), "proof.strip.json", "proof", _cover)
        crane = printers.submit(_developed, tmp_path_factory.mktemp("b"), "crane.recipe.json", "crane", _crane)
        return strip.result(), crane.result()


def test_the_contact_strip_by_foot(sheets: tuple[Developed, Developed]) -> None:
    """Worked by foot and card through daemon and keeper, the proof strip has the scenario's densities.

    Source: the project's acceptance scenarios (invented demo data).
    """
    for tone, wanted in PROOF.items():
        assert [sheets[0].density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)


def test_the_split_grade_sheet_by_foot(sheets: tuple[Developed, Developed]) -> None:
    """Worked by foot, filter, dodger and cards, the split-grade sheet has its densities at every named tone.

    Source: the project's acceptance scenarios (invented demo data) and the demo paper's formula.
    """
    given = {
        "sky": (20.2, 8.0, 1.45),
        "cloud": (20.2, 8.0, 1.25),
        "steel": (10.1, 8.0, 0.70),
        "under_cab": (10.1, 6.3, 0.22),
        "quay": (10.1, 8.0, 0.95),
        "stones": (10.1, 12.7, 0.55),
    }
    mix = practice_paper("one").mixture()
    for tone, (soft, hard, negative) in given.items():
        light = 1.054 * soft + 0.000322 * hard, 0.012648 * soft + 0.161 * hard
        assert sheets[1].density(tone) == pytest.approx(float(densities(mix, *light, negative)), abs=NEAR), tone
    assert sheets[1].density("sky") == pytest.approx(SKY["sky"][3], abs=NEAR)
