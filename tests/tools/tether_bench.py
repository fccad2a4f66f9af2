"""What tests of real keeper processes share: an ear for events, orders, waiting, and a parent that can be killed."""

from __future__ import annotations

import itertools
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from hardware.tether.child import KeeperConfig
from hardware.tether.events import Event
from hardware.wire import Order
from tools.patience import line_from

MS = 1_000_000
T = TypeVar("T")
ROOT = Path(__file__).resolve().parents[2]
_numbers = itertools.count(1)


class Ear:
    """Takes a tether's events and lets a test wait for one."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self._turn = threading.Condition()

    def __call__(self, event: Event) -> None:
        with self._turn:
            self.events.append(event)
            self._turn.notify_all()

    def of(self, kind: type[T]) -> list[T]:
        with self._turn:
            return [event for event in self.events if isinstance(event, kind)]

    def wait(self, kind: type[T], count: int = 1, seconds: float = 20.0) -> T:
        """Return the last of the first `count` events of a kind."""
        with self._turn:
            assert self._turn.wait_for(
                lambda: sum(isinstance(event, kind) for event in self.events) >= count, seconds
            ), f"no {kind.__name__} number {count} in {seconds} s, only {self.events}"
            return [event for event in self.events if isinstance(event, kind)][count - 1]


def order(lit_ms: int = 5000, *, kind: str = "step", foot_seq: int = 0, ahead_ms: int = 40) -> Order:
    """An order whose light comes on in `ahead_ms`."""
    number = next(_numbers)
    start_ns = time.monotonic_ns() + ahead_ms * MS
    return Order(f"light-{number}", kind, "sheet", 1, 1, "lamp", foot_seq, start_ns, lit_ms)


def until(truth: Callable[[], bool], seconds: float = 20.0) -> None:
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while not truth():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.001)


def hold_still(pid: int) -> None:
    """Stop a process, and return once every thread of it stands: a signal alone takes a moment to arrive."""
    os.kill(pid, signal.SIGSTOP)
    until(lambda: all(_state(task) in "TtZ" for task in Path(f"/proc/{pid}/task").iterdir()))


def _state(task: Path) -> str:
    try:
        return (task / "stat").read_text("ascii").rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return "Z"  # a thread that has ended stands stiller than any


there_before: set[int] = set()
"""Processes of this one that were there before the present test began."""


def children() -> set[int]:
    """The processes that this one started and has not seen the end of, but for what other tests left or share."""
    found: set[int] = set()
    for task in Path("/proc/self/task").iterdir():
        try:
            found |= {int(pid) for pid in (task / "children").read_text("ascii").split()}
        except FileNotFoundError:
            continue  # a thread that has ended meanwhile has no children
    return {pid for pid in found - there_before if not _is_browser(pid)}


def _is_browser(pid: int) -> bool:
    try:
        return b"/playwright/driver/" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except FileNotFoundError:
        return False


_PARENT = """
import json, sys, time
from pathlib import Path
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether
from hardware.wire import Dark, Lit, Order
told = json.loads(sys.argv[1])
def hear(event):
    if isinstance(event, (Lit, Dark)):
        print(type(event).__name__, flush=True)
runtime = Path(told["runtime"])
with Tether(KeeperConfig(told["lines"], runtime), hear) as tether:
    print("pid", tether.greeting.pid, flush=True)
    start_ns = time.monotonic_ns() + 40_000_000
    tether.send(Order("far", "step", "sheet", 1, 1, "lamp", 0, start_ns, told["lit_ms"]))
    time.sleep(60)
"""


@contextmanager
def lit_parent(config: KeeperConfig, lit_ms: int = 30_000) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A process with a tether whose keeper has just lit the lamp, and that keeper's process id."""
    told = {"lines": dict(config.lines), "runtime": str(config.runtime), "lit_ms": lit_ms}
    parent = subprocess.Popen(
        [sys.executable, "-P", "-c", _PARENT, json.dumps(told)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    keeper = 0
    try:
        keeper = int(line_from(parent).split()[1])
        assert line_from(parent) == "Lit\n"
        yield parent, keeper
    finally:
        parent.kill()
        parent.wait()
        if keeper:
            with suppress(ProcessLookupError):
                os.kill(keeper, signal.SIGCONT)  # one that was left standing still sees its pipe's end
        assert parent.stdout is not None
        parent.stdout.close()
