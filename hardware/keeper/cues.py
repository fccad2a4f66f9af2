"""The keeper's cues: what the sounder is told, at once or at a moment of a light."""

from __future__ import annotations

from collections import deque
from typing import Final

from hardware.clock import NS_PER_MS
from hardware.errors import HardwareError
from hardware.lines.lines import Sounder
from hardware.sounds import Cue, notes
from hardware.wire import Order

_STALE_BEAT_NS: Final = 200 * NS_PER_MS
"""A beat this late counts nothing any more; better none than a wrong one."""


class Cues:
    """The sounder, and the beats that are to come."""

    def __init__(self, sounder: Sounder | None) -> None:
        self._sounder = sounder
        self._beats: deque[tuple[int, Cue]] = deque()

    @property
    def works(self) -> bool:
        """Whether there is a sounder that has not failed."""
        return self._sounder is not None

    def sound(self, cue: Cue, count: int) -> bool | None:
        """Sound a cue; return None where there is no sounder, and False where it has just failed."""
        if self._sounder is None:
            return None
        try:
            self._sounder.play(notes(cue, count))
        except (HardwareError, OSError):
            self._sounder = None
            return False
        return True

    def lead_in(self, order: Order, now_ns: int) -> None:
        """Take the beats before an order's light, and no others."""
        self._take(order, order.start_ns, lit=False, from_ns=now_ns - _STALE_BEAT_NS)

    def light(self, order: Order, on_ns: int) -> None:
        """Take the beats of a light that has come on, and no others."""
        self._take(order, on_ns, lit=True, from_ns=on_ns)

    def _take(self, order: Order, zero_ns: int, *, lit: bool, from_ns: int) -> None:
        beats = ((zero_ns + beat.at_ms * NS_PER_MS, Cue(beat.cue)) for beat in order.cues if (beat.at_ms >= 0) == lit)
        self._beats = deque(sorted(beat for beat in beats if beat[0] >= from_ns))

    def drop(self) -> None:
        """Forget the beats that were to come."""
        self._beats.clear()

    def next_due(self, now_ns: int) -> Cue | None:
        """Take the next beat that is due, or return None where there is none."""
        while self._beats and self._beats[0][0] <= now_ns:
            at_ns, cue = self._beats.popleft()
            if now_ns - at_ns <= _STALE_BEAT_NS:
                return cue
        return None

    def due_ns(self) -> int | None:
        """Return when the next beat is due."""
        return self._beats[0][0] if self._beats else None
