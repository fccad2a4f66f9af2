"""Waiting for another process, with a limit: one that hangs is killed, and the test says so instead of hanging, too."""

from __future__ import annotations

import subprocess
import threading
from typing import AnyStr

PATIENCE_S = 120.0
"""Far more than anything takes on a busy machine, or on an emulated one."""


def line_from(process: subprocess.Popen[AnyStr], seconds: float = PATIENCE_S) -> AnyStr:
    """Return the next line that a process says, its end included; an empty one where it has ended."""
    assert process.stdout is not None
    hung = threading.Event()

    def give_up() -> None:
        hung.set()
        process.kill()

    timer = threading.Timer(seconds, give_up)
    timer.start()
    try:
        line = process.stdout.readline()
    finally:
        timer.cancel()
        timer.join()
    assert not hung.is_set(), f"process {process.pid} said nothing for {seconds:g} s, and was killed"
    return line
