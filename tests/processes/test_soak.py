"""A daemon that is used for a day and a night: memory, descriptors and threads are as they were after the first hour.

`SOAK_HOURS` shortens it; the figures are printed either way (`pytest -s`).
"""

from __future__ import annotations

import json
import os
import threading
import time
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT
from tools.daemon_process import Daemon, DaemonPhone

from hardware.practice.practice_darkroom import PracticeDarkroom

HOURS = float(os.environ.get("SOAK_HOURS", "24"))
STREAMS = 4
SHEET = json.dumps(
    {
        "format": "treadle/recipe/1",
        "title": "Soak",
        "light": [{"filter": "soft", "seconds": 0.9}],
        "local": [{"area": "A", "act": "burn", "filter": "soft", "seconds": 0.7}],
    }
)
PAGES = ("/", "/sheets", "/wall", "/lamp", "/settings")
WARM = 0.25
"""Of the time: caches fill, and threads are begun."""
GROWS_MB_AN_HOUR = 0.5
"""What allocation leaves scattered; a leak of one record a sheet would be ten times as much."""


def pids_of(pid: int) -> list[int]:
    found = [pid]
    for task in (Path("/proc") / str(pid) / "task").iterdir():
        for child in (task / "children").read_text("ascii").split():
            found += pids_of(int(child))
    return found


def figures(pid: int) -> tuple[float, int, int]:
    """Return proportional memory in MB, descriptors and threads of a process."""
    place = Path("/proc") / str(pid)
    told = (place / "smaps_rollup").read_text("ascii").split("Pss:")[1].split()[0]
    return int(told) / 1000, len(list((place / "fd").iterdir())), len(list((place / "task").iterdir()))


def slope(points: list[tuple[float, float]]) -> float:
    """Return the rise of the straight line of least squares through (hours, value)."""
    n = len(points)
    mean_x, mean_y = sum(x for x, _ in points) / n, sum(y for _, y in points) / n
    return sum((x - mean_x) * (y - mean_y) for x, y in points) / sum((x - mean_x) ** 2 for x, _ in points)


class Feet(threading.Thread):
    """Prints sheet after sheet, and says how many."""

    def __init__(self, daemon: Daemon, folder: Path) -> None:
        super().__init__(name="feet")
        self.daemon, self.folder = daemon, folder
        self.ended = threading.Event()
        self.sheets = 0

    def run(self) -> None:
        with PracticeDarkroom(self.folder / "run") as room:
            while not self.ended.wait((SHORT.wait_after_stop_ms + 200) / 1000):
                status = self.daemon.ask()
                assert status is not None, "the daemon is gone"
                match status.place:
                    case "ready" | "held" | "change filter" | "open after a restart":
                        room.press(40)
                    case "finished":
                        self.sheets += self.daemon.ask(act={"verb": "close"}) is not None
                    case "close this sheet?" | "call it given?" | "white light?":
                        room.press(40)


@pytest.mark.long
def test_nothing_grows_in_a_day(tmp_path: Path) -> None:
    """Sheets by foot, pages and event streams without end: memory, descriptors and threads do not grow."""
    daemon = Daemon(tmp_path, web=True)
    daemon.ask(save=SHEET)
    phone = DaemonPhone(daemon)
    feet = Feet(daemon, tmp_path)
    feet.start()
    begun = time.monotonic()
    told: list[tuple[float, dict[int, tuple[float, int, int]]]] = []
    try:
        while (hours := (time.monotonic() - begun) / 3600) < HOURS:
            phone.look(STREAMS)  # each ends by itself after a minute
            for path in PAGES:
                assert phone.get(path)[0] == 200
            time.sleep(20)
            told.append((hours, {pid: figures(pid) for pid in pids_of(daemon.process.pid)}))
    finally:
        feet.ended.set()
        feet.join()
        phone.close()
        daemon.close()
    assert feet.sheets > 60 * HOURS
    later = [(at, seen) for at, seen in told if at > WARM * HOURS]
    for pid in told[0][1]:
        memory = slope([(at, seen[pid][0]) for at, seen in later])
        print(f"process {pid}: {later[0][1][pid]} to {later[-1][1][pid]}, {memory:+.2f} MB an hour")
        assert memory < GROWS_MB_AN_HOUR + 2 / HOURS  # a short soak is mostly its beginning
        for which, what in ((1, "descriptors"), (2, "threads")):
            first = [seen[pid][which] for _, seen in later[: len(later) // 2]]
            last = [seen[pid][which] for _, seen in later[len(later) // 2 :]]
            assert max(last) <= max(first) + 2, f"{what} of process {pid} grow: {max(first)}, then {max(last)}"
