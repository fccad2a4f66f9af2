"""A darkroom that nobody uses: nothing is written to the card, and nothing grows.

Bytes written are the kernel's own count for each process (`write_bytes` in /proc/PID/io: what was, or will be, sent to
the disk).
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tools.patience import line_from

pytestmark = pytest.mark.usefixtures("by_real_time")

ROOT = Path(__file__).resolve().parents[2]
SETTLED_S = 25
"""By then the look over the stores, which begins ten seconds after the start, is done."""


@contextmanager
def served(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """Serve the practice darkroom with its runtime folder in memory, as the service has it."""
    with tempfile.TemporaryDirectory(prefix="treadle-idle-", dir="/dev/shm") as runtime:
        yield from _served(folder, runtime)


def _served(folder: Path, runtime: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "treadle.py", "serve", "--simulate", "--data", str(folder), "--port", "0"]
    environment = {**os.environ, "RUNTIME_DIRECTORY": runtime}
    process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        while "localhost:" not in (line := line_from(process)):
            assert line, "it does not serve"
        reader = threading.Thread(target=process.stdout.read)
        reader.start()
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(20)
        reader.join()
        process.stdout.close()


def family(pid: int) -> list[int]:
    found = [pid]
    for task in (Path("/proc") / str(pid) / "task").iterdir():
        for child in (task / "children").read_text("ascii").split():
            found += family(int(child))
    return found


def written(pid: int) -> int:
    told = re.search(r"^write_bytes: (\d+)$", (Path("/proc") / str(pid) / "io").read_text("ascii"), re.M)
    assert told
    return int(told.group(1))


@contextmanager
def on_a_disk() -> Iterator[Path]:
    """Give a folder whose writes the kernel counts, as it counts none of those in a temporary folder in memory."""
    for place in ("/var/tmp", ROOT):
        with tempfile.TemporaryDirectory(prefix=".idle-", dir=place) as folder:
            before = written(os.getpid())
            (Path(folder) / "a-page").write_bytes(bytes(4096))
            if written(os.getpid()) > before:
                yield Path(folder)
                return
    raise AssertionError("neither /var/tmp nor the checkout lies on a disk whose writes are counted")


def idle(seconds: float) -> None:
    with on_a_disk() as folder, served(folder) as process:
        time.sleep(SETTLED_S)
        before = {pid: written(pid) for pid in family(process.pid)}
        assert len(before) == 3, "there are a daemon, a keeper and its spare"
        assert written(process.pid), "what a start writes is counted"
        time.sleep(seconds)
        assert {pid: written(pid) for pid in family(process.pid)} == before


def test_nobody_writes_to_the_card_while_nothing_happens() -> None:
    """Of daemon, keeper and spare, none has a byte written to the disk in 20 seconds without a press or a page."""
    idle(20)


@pytest.mark.long
def test_nobody_writes_to_the_card_in_ten_minutes() -> None:
    """The same for ten minutes."""
    idle(600)
