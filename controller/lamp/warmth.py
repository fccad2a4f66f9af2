"""Whether the lamp is warm: when it was last lit, against what its warming up wants. Pure but for its lock."""

from __future__ import annotations

import threading
from typing import Final

from controller.store.settings import Settings
from controller.words import say

_MINUTE_NS: Final = 60_000_000_000


class Warmth:
    """Safe from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._lit = False
        self._dark_ns: int | None = None

    def light_on(self) -> None:
        """The lamp is lit."""
        with self._lock:
            self._lit = True

    def light_over(self, dark_ns: int) -> None:
        """The lamp went dark."""
        with self._lock:
            self._lit, self._dark_ns = False, dark_ns

    def dark_minutes(self, now_ns: int) -> int | None:
        """Return for how many minutes the lamp has been dark; None where it was never lit since the start."""
        with self._lock:
            return None if self._dark_ns is None else (now_ns - self._dark_ns) // _MINUTE_NS

    def cold(self, settings: Settings, now_ns: int) -> str:
        """Return a sentence where the lamp should be warmed before a sheet; empty else."""
        if not settings.warm_up_seconds or self._lit:
            return ""
        minutes = self.dark_minutes(now_ns)
        if minutes is None:
            return say("lamp.cold-first", seconds=f"{settings.warm_up_seconds:g}")
        if minutes < settings.warm_up_pause_minutes:
            return ""
        return say("lamp.cold", minutes=minutes, seconds=f"{settings.warm_up_seconds:g}")
