"""The real command, `treadle.py serve --simulate`, as a process for benchmarks."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Self

ROOT = Path(__file__).resolve().parents[2]


class Served:
    """Serves in a folder of its own until the end of its block; compiled, as an installed one is."""

    def __init__(self, folder: Path) -> None:
        command = [sys.executable, "treadle.py", "serve", "--simulate", "--data", str(folder), "--port", "0"]
        begun = time.perf_counter()
        keeping = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        self.process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, env=keeping)
        self.lines: list[str] = []
        self.port, self.code = 0, ""
        self.ready_s = 0.0
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line)
            if port := re.search(r"http://(?:localhost|127\.0\.0\.1):(\d+)", line):
                self.port = int(port.group(1))
            if code := re.search(r"(\d{4}) (\d{4})", line):
                self.code = code.group(1) + code.group(2)
            if self.port and self.code:
                self.ready_s = time.perf_counter() - begun
                break
        assert self.port, f"it does not serve: {''.join(self.lines)}"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(60)  # a crowded machine takes its time
        assert self.process.stdout is not None
        self.process.stdout.close()


def family(pid: int) -> list[int]:
    """Return a process and all it has started."""
    found = [pid]
    for task in (Path("/proc") / str(pid) / "task").iterdir():
        for child in (task / "children").read_text("ascii").split():
            found += family(int(child))
    return found


def pss_kb(pid: int) -> int:
    """Return the proportional memory of a process in kB."""
    for line in (Path("/proc") / str(pid) / "smaps_rollup").read_text("ascii").splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1])
    raise ValueError(f"process {pid} tells no memory")


def own_kb(pid: int) -> int:
    """Return of that what is no file's, in kB: programs beside it that map the same files leave it as it is."""
    for line in (Path("/proc") / str(pid) / "smaps_rollup").read_text("ascii").splitlines():
        if line.startswith("Pss_Anon:"):
            return int(line.split()[1])
    raise ValueError(f"process {pid} tells no memory")
