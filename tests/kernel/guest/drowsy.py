"""Inside the emulated machine: a process of the highest priority that notes when even it was not woken in time."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from kernel.guest.bench import Bench

STEP_MS: Final = 2
LATE_NS: Final = 4_000_000
_PRIORITY: Final = 90
"""Above a keeper's: what holds this up is not the keeper, but the machine beneath the emulated one."""


@contextmanager
def watched(bench: Bench) -> Iterator[None]:
    """Note under "held_up" the spans, (from, to) in ns, in which the emulated machine stood still."""
    watcher = subprocess.Popen(
        [sys.executable, "-P", "-m", "kernel.guest.drowsy"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        yield
    finally:
        said, _ = watcher.communicate(timeout=20)
        bench.note(held_up=json.loads(said))


def main() -> None:
    """Watch until the standard input ends, on each processor in turn, and print what was seen."""
    os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_PRIORITY))
    seen: list[tuple[int, int]] = []
    turn = 0
    processors = sorted(os.sched_getaffinity(0))
    ended = select.poll()
    ended.register(sys.stdin, select.POLLIN)
    while True:
        # a keeper may be on any of them
        os.sched_setaffinity(0, {processors[turn % len(processors)]})
        turn += 1
        since = time.monotonic_ns()
        if ended.poll(STEP_MS):  # its sleep as well: each call costs the guest, who is watched, time
            break
        if (now := time.monotonic_ns()) - since > LATE_NS:
            seen.append((since, now))
    print(json.dumps(seen))


if __name__ == "__main__":
    main()
