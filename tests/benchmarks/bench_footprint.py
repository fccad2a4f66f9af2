"""Memory and processor of daemon and keeper at rest: `python tests/benchmarks/bench_footprint.py [SECONDS]`.

The real command is measured, `treadle.py serve --simulate` with no page open: proportional memory (PSS) of the daemon
and its keepers, and the processor time they took, over a minute unless told.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from machine import folder, table
from serving import Served, family, pss_kb


def cpu_s(pid: int) -> float:
    """Return the processor time a process has taken, in seconds."""
    fields = (Path("/proc") / str(pid) / "stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main(seconds: float) -> None:
    """Measure and print."""
    with folder() as name, Served(Path(name)) as served:
        time.sleep(4)
        pids = family(served.process.pid)
        before = {pid: cpu_s(pid) for pid in pids}
        time.sleep(seconds)
        used = {pid: cpu_s(pid) - before[pid] for pid in pids}
        rows: list[tuple[object, ...]] = []
        for pid in pids:
            what = "daemon" if pid == served.process.pid else "keeper or its spare"
            rows.append((what, f"{pss_kb(pid) / 1000:.1f} MB", f"{100 * used[pid] / seconds:.2f} %"))
        total = sum(pss_kb(pid) for pid in pids) / 1000
        rows.append(("together", f"{total:.1f} MB", f"{100 * sum(used.values()) / seconds:.2f} %"))
        table(f"Proportional memory, and processor over {seconds:.0f} s with no page open", rows)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
