"""What grows with what is kept: `tests/benchmarks/bench_growth.py FOLDER [d1] [d2] [d3] [shelf]`; a table a size.

The data are those of `many_years.py`, built in FOLDER where they are not there yet; each is measured on a copy. Nothing
is judged. A part is left out with its reason where it cannot be measured: cold starts without leave to drop the
kernel's caches, search where the shelf's page has none.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from growing import Phone, drop_caches, kill_in_light, peak_mb, print_one_light, pss_mb
from machine import ROOT, share, table
from many_years import SIZES, build
from serving import Served

from controller.store.entries import FilterSaid
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from hardware.clock import MonotonicClock
from hardware.practice.practice_darkroom import PracticeDarkroom

PAGES: Final = (
    "/",
    "/now",
    "/choose",
    "/shelf",
    "/shelf?away=1",
    "/sheets",
    "/sheets?q=harbour",
    "/wall",
    "/papers",
    "/lamp",
    "/contrast",
    "/settings",
    "/practice",
)
KILLS: Final = 3
APPENDS: Final = 300
SEARCHES: Final = ("harbour", "crane", "print 0001", "quay stones", "roll 0042", "left bank", "station v2", "nowhere")
_COPIES: Final = """
import sys, time
from datetime import date
from pathlib import Path
from controller.backup.dated import backup
from controller.store.folder import DataFolder
while True:
    backup(DataFolder(Path(sys.argv[1])), date(2026, 1, 1), lambda: time.sleep(0.01))
"""
_LOOKS: Final = """
import sys
from pathlib import Path
from controller.store.folder import DataFolder
from controller.store.schemas import JOURNAL
from controller.store.whole import check_whole
while True:
    check_whole(DataFolder(Path(sys.argv[1])).journal, JOURNAL, lambda: None)
"""
Rows = list[tuple[object, ...]]


def starts(folder: Path) -> Iterator[tuple[object, ...]]:
    """Give how soon it is ready: files in memory, and cold."""
    took = []
    for _ in range(3):
        with Served(folder) as served:
            took.append(served.ready_s)
    yield "start to ready, files in memory, s", f"{min(took):.2f} to {max(took):.2f}"
    if drop_caches():
        with Served(folder) as served:
            yield "start to ready, files cold, s", f"{served.ready_s:.2f}"
    else:
        yield "start to ready, files cold, s", "left out: needs root to drop the caches"


def pages(folder: Path) -> Iterator[tuple[object, ...]]:
    """Give memory at rest, each page's time and bytes, search, and memory after all that."""
    with Served(folder) as served:
        time.sleep(3)
        at_rest = pss_mb(served)
        yield "PSS at rest, MB", f"{sum(at_rest):.1f}", " + ".join(f"{each:.1f}" for each in at_rest)
        phone = Phone(served)
        phone.act("no-paper-in-the-trays")  # the last sheet of ten years counts as undeveloped
        phone.act("paper-away")
        asked = list(PAGES)
        _, shelf = phone.get("/shelf")
        asked += [f"/shelf/{found}" for found in re.findall(r'href="/shelf/([0-9a-z]{8})"', shelf.decode())[:1]]
        _, sheets = phone.get("/sheets")
        asked += [f"/sheets/{found}" for found in re.findall(r'href="/sheets/([^"?#]+)"', sheets.decode())[:1]]
        for path in asked:
            yield page(phone, path)
        if box := re.search(r'<input[^>]*type="search"[^>]*name="([^"]+)"', shelf.decode()):
            yield searches(phone, box.group(1))
        else:
            yield "search p95, ms", "left out: the shelf's page has no search"
        after = pss_mb(served)
        yield "PSS after all pages, MB", f"{sum(after):.1f}", " + ".join(f"{each:.1f}" for each in after)


def page(phone: Phone, path: str) -> tuple[object, ...]:
    """Return how long a page takes, first and later, and its bytes over the wire and unpacked."""
    took, status, packed = [], 0, b""
    for _ in range(4):
        begun = time.perf_counter()
        status, packed = phone.get(path, **{"Accept-Encoding": "gzip"})
        took.append((time.perf_counter() - begun) * 1000)
    plain = len(phone.get(path)[1])
    said = "" if status == 200 else f"  status {status}"
    shown = re.sub(r"/[^/]{8,}$", "/…", path)
    return f"page {shown}", f"{took[0]:.0f} ms first, {min(took):.0f} later, {len(packed)} of {plain} B{said}"


def searches(phone: Phone, name: str) -> tuple[object, ...]:
    """Return how long a search takes."""
    took = []
    for _ in range(5):
        for words in SEARCHES:
            begun = time.perf_counter()
            phone.get(f"/shelf?{name}={words.replace(' ', '+')}", **{"Accept-Encoding": "gzip"})
            took.append((time.perf_counter() - begun) * 1000)
    return "search, ms", f"median {statistics.median(took):.0f}, p95 {share(took, 95):.0f}"


def filing(folder: Path, empty: Path) -> Iterator[tuple[object, ...]]:
    """Give how long a row takes to be filed: against an empty journal, turn about, and beside other work."""
    with _journal(folder) as mine, _journal(empty) as none:
        for each in (mine, none):
            _appends(each, 20)
        pairs = [(_appends(mine, 10), _appends(none, 10)) for _ in range(APPENDS // 10)]
        here, there = ([ms for pair in pairs for ms in pair[which]] for which in (0, 1))
        ratio = statistics.median(here) / statistics.median(there)
        yield "file a row, ms", _told(here), f"{ratio:.2f} of an empty journal's"
        for what, code in (("a backup", _COPIES), ("the look over", _LOOKS)):
            with _beside(code, folder):
                time.sleep(1.5)
                yield f"file a row during {what}, ms", _told(_appends(mine, APPENDS, 0.01))
    shutil.rmtree(folder / "backups", ignore_errors=True)


def _told(ms: list[float]) -> str:
    return f"median {statistics.median(ms):.2f}, p95 {share(ms, 95):.2f}, worst {max(ms):.1f}"


@contextmanager
def _journal(folder: Path) -> Iterator[Journal]:
    journal = Journal.open(DataFolder(folder).journal, MonotonicClock(), Stamp.here(), whole=False)
    try:
        yield journal
    finally:
        journal.close()


def _appends(journal: Journal, count: int, rest_s: float = 0.0) -> list[float]:
    took = []
    for _ in range(count):
        begun = time.perf_counter()
        journal.append(FilterSaid(filter="00"))
        took.append((time.perf_counter() - begun) * 1000)
        time.sleep(rest_s)
    return took


@contextmanager
def _beside(code: str, folder: Path) -> Iterator[None]:
    worker = subprocess.Popen([sys.executable, "-c", code, str(folder)], cwd=ROOT)
    try:
        yield
        assert worker.poll() is None, "what was to go on beside has ended"
    finally:
        worker.kill()
        worker.wait()


def deaths(folder: Path) -> Iterator[tuple[object, ...]]:
    """Give how soon it is dark after kill -9, as it starts and grown fat, and ready again; and a close's next panel."""
    for what in ("just started", "all pages seen"):
        dark, again, fat = [], [], 0.0
        for _ in range(KILLS):
            served = Served(folder)
            with PracticeDarkroom(folder / "run") as room:
                phone = Phone(served)
                if what != "just started":
                    for path in PAGES:
                        phone.get(path)
                print_one_light(phone, room)
                fat = pss_mb(served)[0]
                dark.append(kill_in_light(served, phone, room))
            assert served.process.stdout is not None
            served.process.stdout.close()
            with Served(folder) as after, PracticeDarkroom(folder / "run") as room:
                again.append(after.ready_s)
                _close_what_is_open(Phone(after), room)
        yield f"kill -9 to dark, {what}, ms", _told(dark), f"daemon of {fat:.0f} MB"
        yield "ready again after kill -9, s", f"{min(again):.2f} to {max(again):.2f}"
    with Served(folder) as served, PracticeDarkroom(folder / "run") as room:
        phone = Phone(served)
        print_one_light(phone, room)
        room.press(120)
        phone.wait_for("light", seconds=10)
        time.sleep(0.3)
        room.press(120)
        phone.wait_for("held")
        word, panel = _close_what_is_open(phone, room)
        yield "close to the next panel, ms", f"{word:.0f} to the word, {panel:.0f} more for the panel"


def _close_what_is_open(phone: Phone, room: PracticeDarkroom) -> tuple[float, float]:
    """Hold the foot switch until the sheet is closed; return the ms from that to the word, and to the panel."""
    for _ in range(8):
        word = phone.status()
        if word["white"]:  # no sheet is open
            return 0.0, 0.0
        if word["place"] == "close this sheet?":
            break
        time.sleep(1.3)
        room.press(900)
        time.sleep(0.5)
    time.sleep(1.3)
    pressing = threading.Thread(target=room.press, args=(1200,))
    begun = time.monotonic_ns()
    pressing.start()
    at_ns = phone.wait_for("ready", "change filter", "nothing chosen", "finished")
    phone.get("/now")
    panel_ns = time.monotonic_ns()
    pressing.join()
    hold_ns = 800_000_000  # how long the foot is held until it counts
    return (at_ns - begun - hold_ns) / 1e6, (panel_ns - at_ns) / 1e6


def commands(folder: Path, out: Path) -> Iterator[tuple[object, ...]]:
    """Give time and peak memory of export and backup, each a process of its own."""
    backing = _COPIES.replace("while True:", "for _ in range(1):").replace("lambda: time.sleep(0.01)", "lambda: None")
    yield _peak("backup", [sys.executable, "-c", backing, str(folder)])
    shutil.rmtree(folder / "backups", ignore_errors=True)
    where = out / "exported"
    export = [sys.executable, "treadle.py", "export", str(where), "--simulate", "--data", str(folder)]
    yield _peak("export", export)
    shutil.rmtree(where, ignore_errors=True)


def _peak(what: str, command: list[str], longest_s: float = 300.0) -> tuple[object, ...]:
    begun, most = time.perf_counter(), 0.0
    worker = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    while worker.poll() is None:
        most = max(most, peak_mb(worker.pid))
        if time.perf_counter() - begun > longest_s or most > 4000:
            worker.kill()
            worker.wait()
            return what, f"broken off after {time.perf_counter() - begun:.0f} s at {most:.0f} MB"
        time.sleep(0.05)
    return what, f"{time.perf_counter() - begun:.1f} s, peak {most:.0f} MB, exit {worker.returncode}"


def measure(name: str, folder: Path) -> Rows:
    """Return the figures of one size."""
    data = build(name, folder / name)
    work, empty = folder / f"work-{name}", folder / "work-empty"
    rows: Rows = []
    parts: tuple[Callable[[], Iterator[tuple[object, ...]]], ...] = (
        lambda: starts(work),
        lambda: filing(work, empty),
        lambda: pages(work),
        lambda: deaths(work),
        lambda: commands(work, folder),
    )
    for old in (work, empty):
        shutil.rmtree(old, ignore_errors=True)
    shutil.copytree(data.path, work)
    DataFolder(empty)
    try:
        for part in parts:
            for row in part():
                print(f"  {name}: {row[0]}: {'  '.join(map(str, row[1:]))}", file=sys.stderr, flush=True)
                rows.append(row)
    finally:
        for old in (work, empty):
            shutil.rmtree(old, ignore_errors=True)
    return rows


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("names", nargs="*", choices=[*SIZES, []], default=[])
    asked = parser.parse_args()
    os.environ.setdefault("MALLOC_ARENA_MAX", "2")  # as the service's unit has it
    for name in asked.names or ("d1", "d2", "d3"):
        size = SIZES[name]
        table(f"{name}: {size.sheets} sheets, {size.recipes} recipes and strips", measure(name, asked.folder.resolve()))


if __name__ == "__main__":
    main()
