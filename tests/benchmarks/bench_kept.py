"""What years of evenings cost: `bench_kept.py FOLDER [SHEETS [RECIPES]]` fills a folder, and measures.

By the product's own code: sheets of eight lights filed as rows, recipes saved in five versions. A folder that is there
already is measured as it is, each thing in a process of its own. Prints a table; nothing is judged.
"""

from __future__ import annotations

import resource
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path

from tools.history import FakeWall, came, intent, plan, step

from controller.backup.dated import backup
from controller.backup.export import export
from controller.backup.registered import THINGS
from controller.store.archive import Archive
from controller.store.database import read_store
from controller.store.entries import Closed, Entry, FootRow, SheetPlanned
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL
from controller.store.shelf import Shelf
from hardware.clock import ManualClock

LIGHTS = 8
AT_ONCE = 30
"""An evening's sheets."""
WORDS = ("pier", "crane", "mill", "heron", "barn", "ferry", "harbour", "dunes", "lighthouse", "orchard")


def _sheet(number: int) -> list[Entry]:
    name = f"s{number}"
    planned = plan(*(step(n, filter_="soft" if n % 2 else "hard") for n in range(1, LIGHTS + 1)))
    title = f"{WORDS[number % 10]} {WORDS[number // 10 % 10]} {number}"
    entries: list[Entry] = [SheetPlanned(sheet=name, number=number, plan=planned.model_copy(update={"title": title}))]
    for n in range(1, LIGHTS + 1):
        light = f"{name}.{n}"
        entries += [intent(light, name, n), came(light), FootRow(sheet=name, gesture="press", at_ns=n)]
    return [*entries, Closed(sheet=name, outcome="complete")]


def fill(data: DataFolder, sheets: int, recipes: int) -> None:
    """Fill a folder."""
    clock = ManualClock()
    with Journal.open(data.journal, clock, FakeWall().stamp()) as journal:
        journal._connection.execute("PRAGMA synchronous = OFF")
        for first in range(1, sheets + 1, AT_ONCE):
            some = range(first, min(first + AT_ONCE, sheets + 1))
            journal.append(*(entry for number in some for entry in _sheet(number)))
            clock.set(clock.now_ns() + 5 * 3600 * 10**9)
    with Shelf.open(data.shelf, FakeWall().now) as shelf:
        shelf._connection.execute("PRAGMA synchronous = OFF")
        for first in range(0, recipes, AT_ONCE):
            with shelf.together():
                for number in range(first, min(first + AT_ONCE, recipes)):
                    title = f"{WORDS[number % 10]} {WORDS[number // 10 % 10]} {number}"
                    text = f'{{"format": "treadle/recipe/1", "title": "{title}", "notes": "%s", "light": []}}'
                    kept = shelf.save("recipe", title, text % ("x" * 300))
                    for version in range(4):
                        shelf.save("recipe", title, text % ("y" * (300 + version)), kept.id)


def _ms(do: Callable[[], object], times: int = 20) -> str:
    took = []
    for _ in range(times):
        began = time.perf_counter()
        do()
        took.append(1000 * (time.perf_counter() - began))
    return f"median {statistics.median(took):.2f}, p95 {sorted(took)[int(0.95 * len(took))]:.2f} ms"


def measure(what: str, data: DataFolder) -> str:
    """Do one thing, and say how long it took."""
    if what == "export":
        shutil.rmtree(data.path / "out", ignore_errors=True)
        export(data, data.path / "out")
        shutil.rmtree(data.path / "out")
    elif what == "backup":
        backup(data, date(2026, 11, 30))
    else:
        reader = Reader(read_store(data.journal, JOURNAL), data.journal, None)
        with reader, Shelf.look(data.shelf) as shelf, closing(Lookups(data.lookups, shelf, reader, THINGS)) as lookups:
            while not lookups.follow():
                pass
            archive = Archive(reader, lookups)
            if what == "sessions":
                return _ms(lambda: archive.page())
            if what == "search":
                return _ms(lambda: lookups.find("pier", "recipe"), 100)
            if what == "search, two words":
                return _ms(lambda: lookups.find("her harb", "recipe"), 100)
            if what == "list":
                return _ms(lambda: shelf.latest("recipe", limit=50))
    return ""


def main() -> None:
    """Fill, and measure each thing in a process of its own."""
    data = DataFolder(Path(sys.argv[1]))
    if len(sys.argv) > 3 and not sys.argv[2].isdecimal():
        began = time.perf_counter()
        said = measure(sys.argv[2], data)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(f"{sys.argv[2]:18} {time.perf_counter() - began:7.1f} s  peak {peak:5} MB  {said}", flush=True)
        return
    if not data.journal.exists():
        fill(data, *(int(word) for word in (*sys.argv[2:4], "3000", "300")[:2]))
    sizes = {path.name: path.stat().st_size // 1_000_000 for path in data.path.glob("*.db")}
    print(f"MB: {sizes}", flush=True)
    for what in ("nothing", "sessions", "search", "search, two words", "list", "export", "backup"):
        subprocess.run([sys.executable, __file__, str(data.path), what, "-"], check=False)


if __name__ == "__main__":
    main()
