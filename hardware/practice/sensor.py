"""A light sensor under the practice lamp: it counts the meter's light, the bulb's warming up and ageing included."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final, Protocol

from hardware.errors import LineError
from hardware.light_sensor import CYCLE_NS, Reading, SensorGone
from hardware.practice.bulb import read_bulb
from hardware.practice.faults import PracticeFault
from hardware.practice.meter import Edge, light_ns

COUNTS_PER_S: Final = 40_000
"""Counts of a second of full light."""
DARK_COUNTS: Final = 6
"""Counts of a cycle in the dark: the safelight."""
FULL: Final = 36_863


class Seen(Protocol):
    """What the sensor needs of the practice darkroom; `PracticeDarkroom` is one."""

    runtime: Path

    def shining(self) -> Iterable[Edge]:
        """Return when there was light, in order of time."""

    def faults(self) -> frozenset[PracticeFault]:
        """Return the faults that are switched on."""


class PracticeSensor:
    """Counts in cycles of 100 ms that follow each other without a gap, as a real one does."""

    name = "practice"

    def __init__(
        self, room: Seen, *, now: Callable[[], int] = time.monotonic_ns, wait: Callable[[float], None] = time.sleep
    ) -> None:
        """Set the sensor going.

        Raises:
            SensorGone: its fault switch is on.
        """
        self._room, self._now, self._wait = room, now, wait
        self._look()
        self._end_ns = now()

    def read(self) -> Reading:
        """Wait for the end of the present cycle and return what it counted; one that was slept through is missed."""
        start_ns = self._end_ns
        if self._now() - start_ns > 10 * CYCLE_NS:
            start_ns = self._now() - CYCLE_NS
        self._end_ns = start_ns + CYCLE_NS
        while (left_ns := self._end_ns - self._now()) > 0:
            self._wait(left_ns / 1e9)
        self._look()
        try:
            bulb = read_bulb(self._room.runtime)
        except LineError as problem:
            raise SensorGone(str(problem)) from problem
        full_ns = light_ns(self._room.shining(), start_ns, self._end_ns, bulb.model)
        counts = DARK_COUNTS + round(full_ns * bulb.brightness * COUNTS_PER_S / 1e9)
        return Reading(start_ns, self._end_ns, float(min(counts, FULL)), counts >= FULL)

    def close(self) -> None:
        """Let it go: there is nothing to let go."""

    def _look(self) -> None:
        if PracticeFault.SENSOR_GONE in self._room.faults():
            raise SensorGone(f"the practice sensor does not answer: switch the fault {PracticeFault.SENSOR_GONE} off")
