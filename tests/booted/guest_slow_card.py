"""Inside the machine with the slow card: how soon it is ready, what a backup costs a press, and an export beside it.

Run as root by the installed service's own Python; what came of it is left as JSON in the file that is named first.
"""

from __future__ import annotations

import json
import re
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

CLONE = Path("/opt/treadle")
DATA = Path("/var/lib/treadle/treadle-practice")
LIGHTS = 500
REST_S = 0.25
sys.path.insert(0, str(CLONE))

from controller.backup.dated import backup  # noqa: E402
from controller.store.entries import FilterSaid  # noqa: E402
from controller.store.folder import DataFolder  # noqa: E402
from controller.store.journal import Journal, Stamp  # noqa: E402
from controller.store.whole import GivenUp  # noqa: E402
from hardware.clock import MonotonicClock  # noqa: E402

TREADLE = [str(CLONE / ".venv/bin/treadle")]


@contextmanager
def served(data: Path = DATA) -> Iterator[float]:
    """Serve, and give how many seconds it took until it said so."""
    began = time.monotonic()
    daemon = subprocess.Popen(
        [*TREADLE, "serve", "--simulate", "--data", str(data), "--host", "127.0.0.1"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert daemon.stdout is not None
    try:
        while "Pairing code" not in (line := daemon.stdout.readline()):
            assert line, "it does not serve"
        yield time.monotonic() - began
        assert daemon.poll() is None, "it has ended"
    finally:
        daemon.terminate()
        daemon.wait(120)


def ready() -> dict[str, float]:
    """Return how soon it is ready: just after the machine's own start, once more, and with nothing kept."""
    times = {}
    for name, data in (("cold", DATA), ("again", DATA), ("empty", DATA.with_name("nothing"))):
        with served(data) as times[name]:
            pass
    return times


_LATE = """
import os, sys, time
try: os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(40))
except OSError: pass
worst = 0.0
while True:
    began = time.monotonic(); time.sleep(0.02)
    late = time.monotonic() - began - 0.02
    if late > worst: worst = late; print(round(worst * 1000), flush=True)
"""


@contextmanager
def watched() -> Iterator[list[int]]:
    """Give a list that holds, in the end, how many ms late the machine itself was: one process only sleeps."""
    worst: list[int] = []
    late = subprocess.Popen([sys.executable, "-c", _LATE], stdout=subprocess.PIPE, text=True)
    assert late.stdout is not None
    try:
        yield worst
    finally:
        late.kill()
        worst.append(int((late.stdout.read().split() or ["0"])[-1]))
        late.wait()


def filing() -> dict[str, Any]:
    """Return how many ms a row took to be filed, alone and while a backup is made that never gives way."""
    data, ended, made = DataFolder(DATA), threading.Event(), []
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here(), whole=False)

    def rest() -> None:
        time.sleep(0.01)  # as the daemon does between two steps
        if ended.is_set():
            raise GivenUp

    def back_up() -> None:
        try:
            while True:
                backup(data, date(2026, 11, 30), rest)
                made.append(1)
        except GivenUp:
            pass

    alone = _appends(journal, 50)
    copying = threading.Thread(target=back_up)
    copying.start()
    time.sleep(2)
    with watched() as late:
        beside = _appends(journal, LIGHTS)
    copied = _mb(data.path / "backups") if copying.is_alive() else 0
    ended.set()
    copying.join()
    journal.close()
    return {
        "alone": _told(alone),
        "beside": _told(beside),
        "backups": len(made),
        "copied_mb": copied,
        "slowest": sorted(round(ms) for ms in beside)[-10:],
        "machine_late_ms": late[0],
    }


def _appends(journal: Journal, count: int) -> list[float]:
    took = []
    for _ in range(count):
        began = time.monotonic()
        journal.append(FilterSaid(filter="00"))
        took.append((time.monotonic() - began) * 1000)
        time.sleep(REST_S)
    return took


def _mb(folder: Path) -> int:
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file()) // 1_000_000


def _told(ms: list[float]) -> dict[str, float]:
    cut = statistics.quantiles(ms, n=20)[-1]
    return {"median": round(statistics.median(ms)), "p95": round(cut), "worst": round(max(ms))}


def export() -> dict[str, Any]:
    """Return how an export ended that was made beside the daemon, and its most memory."""
    with served() as ready_s:
        began = time.monotonic()
        done = subprocess.Popen([*TREADLE, "export", "/srv/exported", "--simulate", "--data", str(DATA)])
        most = 0
        while done.poll() is None:
            try:
                held = Path(f"/proc/{done.pid}/status").read_text()
            except OSError:
                break
            if found := re.search(r"VmHWM:\s+(\d+)", held):
                most = int(found.group(1))
            time.sleep(0.5)
        status = done.wait()
        took = time.monotonic() - began
    total = int(re.search(r"MemTotal:\s+(\d+)", Path("/proc/meminfo").read_text())[1])  # type: ignore[index]
    rows = json.loads(Path("/srv/exported/export.json").read_text())["rows"] if status == 0 else 0
    return {
        "status": status,
        "seconds": round(took),
        "peak_mb": most // 1000,
        "machine_mb": total // 1000,
        "ready_s": round(ready_s, 1),
        "rows": rows,
    }


if __name__ == "__main__":
    told: dict[str, Any] = {}
    for part in sys.argv[2:]:
        told[part] = {"ready": ready, "filing": filing, "export": export}[part]()
        print(part, told[part], flush=True)
        Path(sys.argv[1]).write_text(json.dumps(told))
