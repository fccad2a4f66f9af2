"""The board where the runner hangs the latest snapshot, for any thread to read or wait at."""

from __future__ import annotations

import threading
from collections import deque
from typing import Final

from controller.status import Heard, Status
from hardware.wire import Sounded

_KEPT_CUES: Final = 100


class Snapshots:
    """One snapshot at a time, numbered from 1; the number rises only when something has changed."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._status: Status | None = None
        self._cues: deque[Heard] = deque(maxlen=_KEPT_CUES)
        self._cue = 0

    def publish(self, status: Status) -> Status:
        """Hang up a snapshot and return it with its number; one that says nothing new is dropped."""
        with self._turn:
            old = self._status
            if old is not None and old == status.model_copy(update={"number": old.number, "at_ns": old.at_ns}):
                return old
            self._status = status.model_copy(update={"number": 1 if old is None else old.number + 1})
            self._turn.notify_all()
            return self._status

    def latest(self) -> Status:
        """Return the present snapshot.

        Raises:
            LookupError: nothing has been published yet.
        """
        with self._turn:
            if self._status is None:
                raise LookupError("no snapshot yet")
            return self._status

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        with self._turn:
            self._turn.wait_for(lambda: self._status is not None and self._status.number > after, timeout_s)
        return self.latest()

    def hear(self, sounded: Sounded) -> None:
        """Note a cue."""
        with self._turn:
            self._cue += 1
            self._cues.append(Heard(number=self._cue, cue=sounded.cue, count=sounded.count, at_ns=sounded.at_ns))
            self._turn.notify_all()

    def heard(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        with self._turn:
            return tuple(cue for cue in self._cues if cue.number > after)
