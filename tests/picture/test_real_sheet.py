"""A whole evening by foot through real processes: daemon, keeper, practice lines and log; then developed.

Its seven sheets are worked at the same time, each in a darkroom of its own with real lengths of light: the contact
strip, the same by thirds of a stop, the proof; the strips of soft light, of hard over soft and of a burnt sky, and
the split-grade sheet. Source of the tables: the project's acceptance scenarios (invented demo data, reckoned there by
the demo paper's formula).
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from picture.test_scenarios import BY_THIRDS_S, GIVEN, HARD_OVER_SOFT, NEAR, PROOF, PROOF_LIGHT, SKY, SOFT, by_formula
from tools.daemon_process import Daemon
from tools.picture_darkroom import EXAMPLES

from controller.picture.develop import Developed, develop_sheet
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.recipe.files import read_recipe
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.rows import Reader
from hardware.practice.room import PracticeRoom

SAMPLES = Path(__file__).parents[2] / "controller" / "samples"
SPANS_MS = {"hold_ms": 350, "lead_in_ms": 450, "lease_ms": 2000, "stuck_ms": 5000, "wait_after_stop_ms": 100}
"""Longer than those of other benches, so that a machine that stands still for a moment makes no press a hold."""
PATIENCE_SECONDS = 180
PIXELS = 150_000
OFF = -1


@dataclass(frozen=True)
class Sheet:
    """A sheet, and what its printer's hands do before the light of a step: by the number of the step."""

    text: Path
    negative: str = "crane"
    filters: Mapping[int, str] = field(default_factory=dict)
    way: str = "cover"
    card: Mapping[int, int] = field(default_factory=dict)
    tools: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    """(area, act); its tool is taken away again before the next step."""
    stopped_after: float | None = None
    """A foot comes down so many seconds into the first light; another one lets it go on."""

    def move(self, room: PracticeRoom, number: int) -> None:
        if before := self.tools.get(number - 1):
            room.log_dodger(before[0], False, before[1])
        if name := self.filters.get(number):
            room.log_filter(name)
        if (place := self.card.get(number)) is not None:
            room.log_card(self.way, place)
        if now := self.tools.get(number):
            room.log_dodger(now[0], True, now[1])


EVENING = {
    "proof strip": Sheet(EXAMPLES / "proof.strip.json", "proof", {1: "2"}, card={n: 8 - n for n in range(1, 8)}),
    "thirds": Sheet(EXAMPLES / "thirds.strip.json", "proof", {1: "2"}, "uncover", {n: n for n in range(1, 8)}),
    "proof": Sheet(EXAMPLES / "proof.recipe.json", "proof", {1: "2"}, stopped_after=7.4),
    "soft": Sheet(SAMPLES / "2-soft.strip.json", filters={1: "soft"}, card={n: 8 - n for n in range(1, 8)}),
    "hard": Sheet(
        EXAMPLES / "hard.strip.json",
        filters={1: "soft", 2: "hard"},
        card={1: OFF} | {n: 9 - n for n in range(2, 9)},
    ),
    "sky": Sheet(
        EXAMPLES / "sky.strip.json", filters={1: "soft", 6: "hard"}, card={1: OFF, 2: 4, 3: 3, 4: 2, 5: 1, 6: OFF}
    ),
    "crane": Sheet(
        EXAMPLES / "crane.recipe.json",
        filters={1: "soft", 3: "hard"},
        tools={2: ("A", "burn"), 3: ("C", "dodge"), 5: ("B", "burn")},
    ),
}


def _work(folder: Path, sheet: Sheet) -> tuple[SheetRecord, PracticeRoom]:
    """Work one sheet to its end by foot, as a printer would, and return its record and the room."""
    daemon = Daemon(folder, timing=SPANS_MS)
    room = PracticeRoom(folder / "run")
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
        assert record.outcome == "complete"
        assert sheet.stopped_after is None or len(record.steps[0].parts) > 1, "no foot stopped the light"
        model = read_recipe(sheet.text.read_bytes(), sheet.text.name)
        scene = scene_for(model, negatives_named(sheet.negative), pixels=PIXELS)
        return develop_sheet(record, room.log(), scene, practice_paper("one"), edges=room.edges())


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Developed]:
    """Every sheet of the evening, out of the tray."""
    with ThreadPoolExecutor(len(EVENING)) as printers:
        work = {
            name: printers.submit(_developed, tmp_path_factory.mktemp("room"), sheet) for name, sheet in EVENING.items()
        }
        return {name: each.result() for name, each in work.items()}


@pytest.mark.parametrize(
    ("name", "tables"),
    [("proof strip", PROOF), ("soft", SOFT), ("hard", HARD_OVER_SOFT), ("sky", SKY)],
    ids=["proof strip", "soft", "hard", "sky"],
)
def test_the_strips_by_foot(evening: dict[str, Developed], name: str, tables: dict[str, tuple[float, ...]]) -> None:
    """Worked by foot and card through daemon and keeper, a strip has the scenario's densities, band by band."""
    for tone, wanted in tables.items():
        seen = [evening[name].density(tone, band) for band in range(1, len(wanted) + 1)]
        assert seen == pytest.approx(wanted, abs=NEAR), tone


def test_the_strip_by_thirds_by_foot(evening: dict[str, Developed]) -> None:
    """Uncovered by thirds of a stop, each band has what the demo paper's formula gives for its total."""
    for tone in PROOF:
        wanted = [by_formula(tone, contact_s=seconds) for seconds in BY_THIRDS_S]
        assert [evening["thirds"].density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)


def test_the_proof_by_foot(evening: dict[str, Developed]) -> None:
    """A proof whose light a foot stopped, and another let go on, has the density of the band that it was picked by."""
    for tone, wanted in PROOF_LIGHT.items():
        assert evening["proof"].density(tone) == pytest.approx(wanted, abs=NEAR), tone


def test_the_split_grade_sheet_by_foot(evening: dict[str, Developed]) -> None:
    """Worked by foot, filter, dodger and cards, the split-grade sheet has its densities at every named tone."""
    for tone, (soft, hard) in GIVEN.items():
        wanted = by_formula(tone, soft_s=soft, hard_s=hard)
        assert evening["crane"].density(tone) == pytest.approx(wanted, abs=NEAR), tone
    assert evening["crane"].density("sky") == pytest.approx(SKY["sky"][3], abs=NEAR)
