"""The spare keeper: a second process that waits beside the first, its imports done, its lines untouched."""

from __future__ import annotations

import logging
from typing import Final

from hardware.clock import Clock
from hardware.errors import KeeperAway
from hardware.tether.child import Child, KeeperConfig

_log = logging.getLogger(__name__)

_PAUSE_NS: Final = 2_000_000_000
"""After one that could not be started, or ended by itself, another is tried this much later."""


class Spare:
    """The one spare keeper that there is to be. Used by the tether's thread alone."""

    def __init__(self, config: KeeperConfig, clock: Clock) -> None:
        self._config, self._clock = config, clock
        self._due_ns: int | None = 0
        """When the next is to be started; None where there is to be none any more."""
        self.child: Child | None = None

    def start(self, now_ns: int) -> None:
        """Start one, where there is none and one is due."""
        if self.child is not None or self._due_ns is None or now_ns < self._due_ns:
            return
        try:
            self.child = Child(self._config)
        except KeeperAway as problem:
            _log.warning("no spare keeper: %s", problem)
            self._due_ns = self._clock.now_ns() + _PAUSE_NS

    def look(self) -> None:
        """Take note of one that has ended by itself."""
        if self.child is not None and self.child.read()[1]:
            _log.warning("the spare keeper ended: %s", self.child.last_words())
            self.child.close()
            self.child = None
            self._due_ns = self._clock.now_ns() + _PAUSE_NS

    def take(self) -> Child | None:
        """Return the spare, to be woken or let go, where there is one; the next is due at once."""
        child, self.child = self.child, None
        self._due_ns = self._clock.now_ns()
        return child

    def give_up(self) -> None:
        """Let it go, and start none any more."""
        child = self.take()
        self._due_ns = None
        if child is not None:
            child.close()
