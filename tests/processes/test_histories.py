"""Random histories against real keeper processes: what the lamp gave is what is on record, and the laws hold."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from tools.daemon_bench import Evening, bench
from tools.feet import MS
from tools.hands import Hand, work_together
from tools.laws import History, broken

from controller.store.entries import Intent, LightCame

pytestmark = pytest.mark.usefixtures("by_real_time")

ROOMS = 5
LATE_MS = 30
"""How late a keeper may be heard to hear, light and darken on a machine that is busy with other tests."""


class Player(Hand):
    """Plays evenings in one darkroom of its own and keeps what was wrong with them."""

    def __init__(self, folder: Path, first: int, evenings: int, lag_s: float) -> None:
        super().__init__(f"player {first}")
        self.folder, self.first, self.evenings, self.lag_s = folder, first, evenings, lag_s
        self.seen: Counter[str] = Counter()

    def work(self) -> None:
        settings = {"start_from_phone": True, "lamp_lag_seconds": self.lag_s, "warm_up_seconds": 0.15}
        with bench(self.folder, **settings) as darkroom:
            late_ns = (LATE_MS if darkroom.desk.status().realtime else 3 * LATE_MS) * MS
            for seed in range(self.first, self.first + self.evenings):
                evening = Evening(darkroom, seed, late_ns)
                history = evening.play(10)
                self.wrong += [*evening.problems, *broken(history)]
                count(history, self.seen)


def count(history: History, seen: Counter[str]) -> None:
    assert history.journal is not None
    seen["evenings"] += 1
    seen["edges"] += len(history.raw)
    seen["holds"] += sum(down.hold is not None for down in history.downs)
    kinds = {entry.light: entry.light_kind for entry in history.journal.of(Intent)}
    for came in history.journal.of(LightCame):
        seen[f"{kinds[came.light]} {came.why}"] += 1
    seen["held"] += sum(len(step.parts) > 1 for sheet in history.sheets for step in sheet.steps)


def play_evenings(folder: Path, evenings: int, first: int) -> Counter[str]:
    each = -(-evenings // ROOMS)
    players = [
        Player(folder / str(room), first + 1000 * room, each, (0.0, 0.0, 0.05)[room % 3]) for room in range(ROOMS)
    ]
    work_together(players)
    seen: Counter[str] = Counter()
    for player in players:
        seen += player.seen
    for what in ("step complete", "step foot", "step page", "focus foot", "holds", "held", "check complete"):
        assert seen[what], f"{what} never happened in {seen}"
    return seen


def test_sixty_random_histories(tmp_path: Path) -> None:
    """In sixty random histories light received is light recorded within 1 ms, and no law is broken."""
    assert play_evenings(tmp_path, 60, first=1)["evenings"] >= 60


@pytest.mark.long
def test_two_hundred_random_histories(tmp_path: Path) -> None:
    """The same in two hundred histories."""
    seen = play_evenings(tmp_path, 200, first=50_001)
    assert seen["evenings"] >= 200
    print(dict(seen))
