"""What is measured against: a thread that times lights itself, in the process that serves the pages."""

from __future__ import annotations

import threading
import time

from controller.lateness.lights import AHEAD_MS

_MS = 1_000_000


class TimerThread:
    """Sleeps until each light's planned end, to an absolute moment, and notes how late it woke.

    It drives no line, which flatters it; the keeper's figures include the driving.
    """

    def __init__(self, lit_ms: int) -> None:
        self._lit_ms = lit_ms
        self._ended = threading.Event()
        self._late_ns: list[int] = []
        self._thread = threading.Thread(target=self._run, name="timer thread", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._ended.is_set():
            self._sleep_until(time.monotonic_ns() + AHEAD_MS * _MS)
            dark_ns = time.monotonic_ns() + self._lit_ms * _MS
            self._sleep_until(dark_ns)
            self._late_ns.append(time.monotonic_ns() - dark_ns)

    @staticmethod
    def _sleep_until(moment_ns: int) -> None:
        while (left_ns := moment_ns - time.monotonic_ns()) > 0:
            time.sleep(left_ns / 1e9)

    def end(self) -> list[int]:
        """End it, and return how late it was each time, in ns."""
        self._ended.set()
        self._thread.join()
        return self._late_ns
