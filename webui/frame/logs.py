"""What the page's server writes down: one line at a time, and each complaint seldom, whoever causes it how often."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from typing import Final

SAME_AGAIN_S: Final = 60.0
"""The same complaint is not told again within so many seconds."""
BETWEEN_S: Final = 1.0
"""Between any two lines."""
KEPT: Final = 200
"""So many complaints are known at a time."""
LONGEST: Final = 600
"""Characters of one line."""


class Seldom:
    """Tells whether a complaint may be told now."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._told: dict[object, float] = {}
        self._last: float | None = None

    def may(self, what: object) -> bool:
        """Tell whether `what` may be told; where it may, it counts as told."""
        with self._lock:
            now = self._clock()
            if self._last is not None and now - self._last < BETWEEN_S:
                return False
            if what in self._told and now - self._told[what] < SAME_AGAIN_S:
                return False
            if len(self._told) >= KEPT:
                self._told.pop(min(self._told, key=self._told.__getitem__))
            self._told[what] = self._last = now
            return True


class SeldomFilter(logging.Filter):
    """Lets a library's complaints through one line at a time, each seldom."""

    def __init__(self) -> None:
        super().__init__()
        self._seldom = Seldom()

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether the line is written; where it is, it is made a single one."""
        if not self._seldom.may(record.msg):
            return False
        record.msg, record.args = one_line(record.getMessage()), ()
        return True


def one_line(text: str) -> str:
    """Return a text with everything escaped that could end a line or steer a terminal, cut where it is long."""
    plain = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text[:LONGEST])
    return plain if len(text) <= LONGEST else f"{plain} …"


def place_of(problem: BaseException | None) -> tuple[object, ...]:
    """Return what tells one mistake from another: its kind, and where it came up."""
    trace = None if problem is None else problem.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = None if trace is None else (trace.tb_frame.f_code.co_filename, trace.tb_lineno)
    return (type(problem), where)
