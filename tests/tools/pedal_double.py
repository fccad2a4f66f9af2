"""A USB port for tests: pedals that are plugged in, pressed and unplugged, in the form of the kernel's own events."""

from __future__ import annotations

import errno
import os
import struct
import time
from collections.abc import Iterator
from dataclasses import dataclass

EVENT = struct.Struct("@llHHi")
"""`struct input_event` of a 64-bit kernel: seconds, microseconds, type, code, value. Source: linux/input.h, as read."""
KEY, SYN = 1, 0
REPORT, DROPPED = 0, 3


@dataclass(frozen=True)
class Event:
    sec: int
    usec: int
    type: int
    code: int
    value: int


class Device:
    """What a pedal's reader holds: the other end of a pipe, with the bits of `evdev.InputDevice` that are used."""

    def __init__(self, pedal: PlugIn) -> None:
        self._pedal = pedal
        self.closed = False

    def fileno(self) -> int:
        return self._pedal.out

    def grab(self) -> None:
        self._there()
        if self._pedal.grabbed:
            raise OSError(errno.EBUSY, "Device or resource busy")
        self._pedal.grabbed = True

    def active_keys(self) -> list[int]:
        self._there()
        return sorted(self._pedal.keys)

    def read(self) -> Iterator[Event]:
        self._there()
        data = os.read(self._pedal.out, 64 * EVENT.size)
        return (Event(*fields) for fields in EVENT.iter_unpack(data))

    def close(self) -> None:
        self.closed = True
        self._pedal.grabbed = False

    def _there(self) -> None:
        if not self._pedal.there:
            raise OSError(errno.ENODEV, "No such device")


class PlugIn:
    """One pedal in the port."""

    def __init__(self, keys: set[int]) -> None:
        self.out, self._in = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        self.keys = keys
        self.there = True
        self.grabbed = False

    def say(self, type_: int, code: int, value: int, at_ns: int | None = None) -> int:
        """Put one event in, and return its moment: whole microseconds, as the kernel stamps them."""
        at_us = (time.monotonic_ns() if at_ns is None else at_ns) // 1000
        os.write(self._in, EVENT.pack(at_us // 1_000_000, at_us % 1_000_000, type_, code, value))
        return at_us * 1000

    def key(self, code: int, value: int, at_ns: int | None = None) -> int:
        """Press (1), let go (0) or repeat (2) a key, and report it."""
        if value:
            self.keys.add(code)
        else:
            self.keys.discard(code)
        at = self.say(KEY, code, value, at_ns)
        self.say(SYN, REPORT, 0, at_ns)
        return at

    def pull(self) -> None:
        """Unplug it: its end can be read, and says that there is no such device."""
        self.there = False
        if self._in >= 0:
            os.close(self._in)
            self._in = -1

    def close(self) -> None:
        self.pull()
        os.close(self.out)


class Port:
    """All the pedals, by path; what opens them is `open`."""

    def __init__(self) -> None:
        self._here: dict[str, PlugIn] = {}
        self._all: list[PlugIn] = []
        self.refusals: dict[str, int] = {}
        """Paths that cannot be opened, and the errno."""
        self.opened: list[str] = []
        self.slow_seconds = 0.0
        """How long opening takes."""

    def plug_in(self, path: str, keys: set[int] | None = None) -> PlugIn:
        self._here[path] = pedal = PlugIn(set(keys or ()))
        self._all.append(pedal)
        return pedal

    def unplug(self, path: str) -> None:
        self._here.pop(path).pull()

    def open(self, path: str) -> Device:
        time.sleep(self.slow_seconds)
        self.opened.append(path)
        if path in self.refusals:
            raise OSError(self.refusals[path], os.strerror(self.refusals[path]), path)
        if path not in self._here:
            raise FileNotFoundError(errno.ENOENT, "No such file or directory", path)
        return Device(self._here[path])

    def close(self) -> None:
        for pedal in self._all:
            pedal.close()
