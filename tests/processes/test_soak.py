"""A daemon that is used for a day and a night, with a year kept: memory, descriptors and threads stay as they were.

`SOAK_HOURS` shortens it; the figures are printed either way (`pytest -s`).
"""

from __future__ import annotations

import json
import os
import re
import threading
import time
from pathlib import Path
from typing import NamedTuple

import pytest
from benchmarks.many_years import build
from tools.daemon_bench import SHORT
from tools.daemon_process import Daemon, DaemonPhone

from hardware.practice.practice_darkroom import PracticeDarkroom

HOURS = float(os.environ.get("SOAK_HOURS", "24"))
STREAMS = 4
PAGES = ("/", "/choose", "/shelf", "/sheets", "/wall", "/lamp", "/settings")
WARM_HOURS = 0.5
"""Half of a shorter time: caches fill, and threads are begun."""
GROWS_MB_AN_HOUR = 0.5
"""What allocation leaves scattered; a leak of one record a sheet would be ten times as much."""


def sheet(version: int) -> str:
    return json.dumps(
        {
            "format": "treadle/recipe/1",
            "title": "Soak",
            "light": [{"filter": "soft", "seconds": 0.9}],
            "local": [{"area": "A", "act": "burn", "filter": "soft", "seconds": round(0.5 + version % 40 / 100, 2)}],
        }
    )


def pids_of(pid: int) -> list[int]:
    found = [pid]
    for task in (Path("/proc") / str(pid) / "task").iterdir():
        for child in (task / "children").read_text("ascii").split():
            found += pids_of(int(child))
    return found


class Figures(NamedTuple):
    """What a process holds."""

    mb: float
    """Proportional memory (PSS)."""
    own_mb: float
    """Of that, what is no file's: programs on the same machine that map the same files leave it as it is."""
    descriptors: int
    threads: int


def figures(pid: int) -> Figures:
    place = Path("/proc") / str(pid)
    told = dict(re.findall(r"^(Pss|Pss_File): +(\d+) kB$", (place / "smaps_rollup").read_text("ascii"), re.M))
    whole, files = int(told["Pss"]) / 1000, int(told["Pss_File"]) / 1000
    return Figures(whole, whole - files, len(list((place / "fd").iterdir())), len(list((place / "task").iterdir())))


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
@pytest.mark.usefixtures("by_real_time")
def test_nothing_grows_in_a_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets by foot, edits, pages and event streams without end: memory, descriptors and threads do not grow."""
    monkeypatch.setenv("MALLOC_ARENA_MAX", "2")  # as the service's unit has it
    (tmp_path / "data").mkdir()
    build("d2", tmp_path / "data")  # lists and what is looked up in them are as long as they get
    daemon = Daemon(tmp_path, web=True)
    daemon.ask(save=sheet(0))
    phone = DaemonPhone(daemon)
    feet = Feet(daemon, tmp_path)
    feet.start()
    begun = time.monotonic()
    told: list[tuple[float, dict[int, Figures]]] = []
    tried = edits = shown = 0
    try:
        while (hours := (time.monotonic() - begun) / 3600) < HOURS:
            phone.look(STREAMS)  # each ends by itself after a minute
            phone.look(1, "practice")
            for path in PAGES:
                status, _ = phone.get(path)
                assert status in (200, 409), path  # the second: a sheet is open, and the page is bright
                shown += status == 200
            tried += 1
            edits += daemon.ask(edit=sheet(tried)) is not None
            time.sleep(20)
            told.append((hours, {pid: figures(pid) for pid in pids_of(daemon.process.pid)}))
    finally:
        feet.ended.set()
        feet.join()
        phone.close()
        daemon.close()
    print(f"{feet.sheets} sheets, {edits} edits, {shown} pages, {phone.heard} words in {HOURS} hours")
    assert feet.sheets > 60 * HOURS
    assert edits > 20 * HOURS
    assert shown > 200 * HOURS
    later = [(at, seen) for at, seen in told if at > min(WARM_HOURS, HOURS / 2)]
    for pid in told[0][1]:
        for at, seen in told[:: max(1, len(told) // 12)]:
            print(f"process {pid} at {60 * at:.0f} min: {seen[pid]}")
        memory = slope([(at, seen[pid].own_mb) for at, seen in later])
        whole = slope([(at, seen[pid].mb) for at, seen in later])
        print(f"process {pid}: {memory:+.2f} MB of its own an hour, {whole:+.2f} with files")
        assert memory < GROWS_MB_AN_HOUR + 2 / HOURS  # a short soak is mostly its beginning
        for what in ("descriptors", "threads"):
            first = [getattr(seen[pid], what) for _, seen in later[: len(later) // 2]]
            last = [getattr(seen[pid], what) for _, seen in later[len(later) // 2 :]]
            assert max(last) <= max(first) + 2, f"{what} of process {pid} grow: {max(first)}, then {max(last)}"
