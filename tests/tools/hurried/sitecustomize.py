"""Time flies: with this folder first on PYTHONPATH three seconds go by in one, in a process and in all it starts.

For walks through the practice darkroom that mostly wait. Daemon, keeper and whatever makes a line dark are the real
ones, each in its own process; what they are told of the time, and how long they sleep, is changed before any of them
looks. Moments of different processes agree as ever, since all count from the machine's own start. Nothing that is
judged by moments is walked so.
"""

from __future__ import annotations

import select
import time
from pathlib import Path
from typing import Any, Final

TIMES: Final = 3
_HERE: Final = str(Path(__file__).parent)


def hurry() -> None:
    """Let time fly from here on: before anything else is imported, which may hold on to the clock it found."""
    second, nanosecond, sleep, wait = time.monotonic, time.monotonic_ns, time.sleep, select.select

    def sooner(reads: Any, writes: Any, errors: Any, seconds: float | None = None, /) -> Any:
        return wait(reads, writes, errors, None if seconds is None else seconds / TIMES)

    time.monotonic = lambda: second() * TIMES
    time.monotonic_ns = lambda: nanosecond() * TIMES
    time.sleep = lambda seconds: sleep(seconds / TIMES)  # type: ignore[assignment]
    select.select = sooner


def hurry_children() -> None:
    """Have each process that is started with an environment of its own, as a keeper is, find this folder as well."""
    import subprocess  # only now: it looks at the clock

    start = subprocess.Popen.__init__

    def begin(self: Any, *words: Any, env: dict[str, str] | None = None, **more: Any) -> None:
        if env is not None:
            env = {**env, "PYTHONPATH": ":".join(filter(None, (_HERE, env.get("PYTHONPATH"))))}
        start(self, *words, env=env, **more)

    subprocess.Popen.__init__ = begin  # type: ignore[method-assign]


hurry()
hurry_children()
