"""The sounder's own thread: it takes notes, plays them on whatever makes a tone, and keeps nobody waiting."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Sequence
from typing import Final, Protocol

from hardware.clock import NS_PER_MS
from hardware.errors import LineError
from hardware.sounds import Note

_log = logging.getLogger(__name__)

_CLOSE_SECONDS: Final = 1.0


class Tone(Protocol):
    """What makes one tone at a time."""

    def sound(self, hertz: int) -> None:
        """Sound this pitch until told otherwise."""

    def hush(self) -> None:
        """Fall silent."""

    def close(self) -> None:
        """Fall silent and let the line go; closing twice does nothing."""


class ThreadSounder:
    """A sounder that plays on a tone from a thread of its own.

    Notes keep to the time at which they were to begin, so that a late wake-up does not stretch a cue.
    """

    def __init__(self, tone: Tone, now: Callable[[], int] = time.monotonic_ns) -> None:
        self._tone, self._now = tone, now
        self._turn = threading.Condition()
        self._waiting: tuple[Note, ...] | None = None
        self._closing = False
        self._trouble: Exception | None = None
        # a tone that hangs must not keep the keeper's process from ending
        self._thread = threading.Thread(target=self._run, name="sounder", daemon=True)
        self._thread.start()

    def play(self, notes: Sequence[Note]) -> None:
        """Sound these notes now, instead of whatever is sounding.

        Raises:
            LineError: the sounder failed at an earlier cue, or is closed.
        """
        with self._turn:
            if self._trouble is not None or self._closing:
                raise LineError(
                    f"the sounder does not answer ({self._trouble or 'closed'}): look at its wire, start again"
                )
            self._waiting = tuple(notes)
            self._turn.notify()

    def close(self) -> None:
        """Fall silent and let the line go; closing twice does nothing."""
        with self._turn:
            self._closing = True
            self._turn.notify()
        self._thread.join(_CLOSE_SECONDS)

    def _run(self) -> None:
        try:
            while (notes := self._next()) is not None:
                self._sound(notes)
        except Exception as problem:  # noqa: BLE001 - the thread's top: the next `play` says what happened
            _log.warning("the sounder failed: %s", problem)
            with self._turn:
                self._trouble = problem
        finally:
            try:
                self._tone.close()
            except Exception as problem:  # noqa: BLE001 - the thread's top
                _log.warning("the sounder's line did not close: %s", problem)

    def _next(self) -> tuple[Note, ...] | None:
        with self._turn:
            self._turn.wait_for(lambda: self._closing or self._waiting is not None)
            notes, self._waiting = self._waiting, None
            return None if self._closing else notes

    def _sound(self, notes: tuple[Note, ...]) -> None:
        until = self._now()
        for note in notes:
            until += note.ms * NS_PER_MS
            if note.hertz:
                self._tone.sound(note.hertz)
            else:
                self._tone.hush()
            if self._called_away(until):
                break
        self._tone.hush()

    def _called_away(self, until_ns: int) -> bool:
        """Wait until then, and tell whether something else is to be done before."""
        with self._turn:
            return self._turn.wait_for(
                lambda: self._closing or self._waiting is not None,
                max(0.0, (until_ns - self._now()) / 1e9),
            )
