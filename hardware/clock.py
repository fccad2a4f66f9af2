"""The monotonic clock, a wait until an absolute moment, and a stand-in that jumps."""

from __future__ import annotations

import select
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final, Protocol

NS_PER_MS: Final = 1_000_000
"""Nanoseconds in a millisecond: plans are in the one, facts in the other."""
SPIN_NS: Final = 700_000
"""Before an exact deadline the last stretch is spun, not slept: a sleep may come back this late."""


def soonest(moments: Iterable[int | None]) -> int | None:
    """Return the first of some moments; None stands for never."""
    first = None
    for moment in moments:
        if moment is not None and (first is None or moment < first):
            first = moment
    return first


class Clock(Protocol):
    """What tells the time, in monotonic nanoseconds, and waits."""

    def now_ns(self) -> int:
        """Return the moment it is."""

    def wait(self, fds: Sequence[int], deadline_ns: int | None, *, exact: bool = False) -> list[int]:
        """Return the descriptors of `fds` that can be read, as soon as there are any, or [] at the deadline.

        `deadline_ns` is absolute; None waits for the descriptors alone. With `exact` the deadline is met
        to some microseconds, at the price of a busy last stretch; without it a millisecond late is fine.
        """


class MonotonicClock:
    """The machine's own monotonic clock."""

    def __init__(self, *, spin_ns: int = SPIN_NS) -> None:
        self._spin_ns = spin_ns

    def now_ns(self) -> int:
        """Return the moment it is."""
        return time.monotonic_ns()

    def wait(self, fds: Sequence[int], deadline_ns: int | None, *, exact: bool = False) -> list[int]:
        """Sleep in one system call, then, for an exact deadline, spin the last stretch."""
        if deadline_ns is None:
            return select.select(fds, (), ())[0]
        spin_ns = self._spin_ns if exact else 0
        left_ns = deadline_ns - time.monotonic_ns() - spin_ns
        ready: list[int] = select.select(fds, (), (), max(0.0, left_ns / 1e9))[0]
        if ready or not exact:
            return ready
        while time.monotonic_ns() < deadline_ns:
            pass
        return []


class ManualClock:
    """A clock that stands still until it is set, or until somebody waits: then it jumps to the deadline."""

    def __init__(self, now_ns: int = 0) -> None:
        self._now_ns = now_ns

    def now_ns(self) -> int:
        """Return the moment it was last set to."""
        return self._now_ns

    def set(self, now_ns: int) -> None:
        """Set the moment.

        Raises:
            ValueError: the moment lies in the past; a monotonic clock never goes back.
        """
        if now_ns < self._now_ns:
            raise ValueError(f"the clock stands at {self._now_ns} and cannot go back to {now_ns}")
        self._now_ns = now_ns

    def wait(
        self,
        fds: Sequence[int],
        deadline_ns: int | None,
        *,
        exact: bool = False,  # noqa: ARG002 - a jump is always exact
    ) -> list[int]:
        """Return what can be read now; where there is nothing, jump to the deadline. Never sleeps."""
        ready: list[int] = select.select(fds, (), (), 0.0)[0] if fds else []
        if not ready and deadline_ns is not None and deadline_ns > self._now_ns:
            self._now_ns = deadline_ns
        return ready


def boot_id() -> str:
    """Return the name of this boot: monotonic times of different boots cannot be compared."""
    return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
