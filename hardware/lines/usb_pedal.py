"""One USB pedal: an evdev device that is grabbed, and which of its keys are down."""

from __future__ import annotations

import errno
import fcntl
import struct
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

_SET_CLOCK: Final = 0x400445A0
"""EVIOCSCLOCKID, _IOW('E', 0xa0, int). Source: linux/input.h, as read."""
_SYN, _KEY = 0, 1
_REPORT, _DROPPED = (_SYN, 0), (_SYN, 3)
"""A report is complete; events were lost. Source of these numbers: linux/input-event-codes.h, as read."""
_RELEASED, _PRESSED = 0, 1
"""Values of a key's event; 2 is its own repeat."""


class KeyEvent(Protocol):
    """An event as `evdev.InputEvent` has it."""

    sec: int
    usec: int
    type: int
    code: int
    value: int


class Device(Protocol):
    """What is used of `evdev.InputDevice`."""

    def fileno(self) -> int:
        """Return the descriptor; it does not block."""

    def read(self) -> Iterable[KeyEvent]:
        """Return the events that wait, or raise BlockingIOError where there are none."""

    def active_keys(self) -> Sequence[int]:
        """Return the keys that are down."""

    def grab(self) -> None:
        """Keep its events from everybody else."""

    def close(self) -> None:
        """Let it go."""


@dataclass(eq=False, slots=True)
class Pedal:
    """One pedal that is plugged in."""

    path: str
    device: Device
    stamped: bool
    """Its events carry moments of the monotonic clock."""
    down: set[int] = field(default_factory=set)
    stale: set[int] = field(default_factory=set)
    """Keys that were down when it was plugged in: no foot until they have been let go."""
    lost: bool = False
    """Events were lost; nothing counts up to the next report."""


def open_pedal(path: str, open_device: Callable[[str], Any]) -> Pedal:
    """Open the pedal of this path and take it from everybody else.

    Raises:
        OSError: it is not there, may not be read, or another program has taken it.
    """
    device = open_device(path)
    try:
        device.grab()
        # changing the clock empties the queue, so it comes before the first look at the keys
        stamped = _on_monotonic_clock(device)
        return Pedal(path, device, stamped, set(device.active_keys()))
    except OSError:
        let_go(device)
        raise


def _on_monotonic_clock(device: Device) -> bool:
    try:
        fcntl.ioctl(device.fileno(), _SET_CLOCK, struct.pack("i", time.CLOCK_MONOTONIC))
    except OSError as problem:
        if problem.errno == errno.ENODEV:
            raise
        return False
    return True


def hear(pedal: Pedal, event: KeyEvent) -> None:
    """Take one event of a pedal's keys; a key's own repeat says nothing new."""
    what = (event.type, event.code)
    if what == _DROPPED:
        pedal.lost = True
    elif pedal.lost:
        if what == _REPORT:
            pedal.lost = False
            keys = set(pedal.device.active_keys())
            pedal.stale &= keys
            pedal.down = keys - pedal.stale
    elif event.type == _KEY and event.value == _RELEASED:
        pedal.down.discard(event.code)
        pedal.stale.discard(event.code)
    elif event.type == _KEY and event.value == _PRESSED and event.code not in pedal.stale:
        pedal.down.add(event.code)


def let_go(device: Device) -> None:
    """Let a device go that may be gone already."""
    with suppress(OSError):
        device.close()
