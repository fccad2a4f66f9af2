"""A light sensor under the practice lamp: beside the easel, or as a probe where it was laid on the baseboard.

It counts the meter's light, the bulb's warming up and ageing included, as the sensor of `hardware.light_sensor` does:
through one of four gains, in whole counts, with noise of its own.

The noise of a cycle is that of three things. *The step*: counts are whole. *The converter*: `READ_NOISE` counts for
each of the two channels whose difference is the light. None was found of this chip; of a sister by the same maker the
data sheet gives it (TMD4903, v1-12 of 2015-05-14, figure 8: the standard deviation of 1,000 samples at gain 16 is
0.005 % of full scale), and the larger reading of it is taken: that share of this one's full scale, though the cycle
there is shorter. At the largest gain nothing is published but the bound of the count in the dark, 20 (from memory; the
sister's is 3, at a gain of 64): all of it is taken for scatter, three deviations to either side. *The light*: it comes
in electrons, `ELECTRONS` to a count, so N counts scatter by √(N/`ELECTRONS`): next to nothing. Derived: 6,024 counts
for a microwatt a cm² of white light in 100 ms at the largest gain (data sheet, figure 9, as a public driver quotes
it), 262 at gain high, on a diode of 0.1 mm² (assumed), are 2.8·10⁸ photons of 550 nm.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from hardware.errors import LineError
from hardware.light_sensor import CYCLE_NS, FULL, Gain, Reading, SensorGone
from hardware.practice.bulb import read_bulb
from hardware.practice.faults import PracticeFault
from hardware.practice.meter import Edge, light_ns

COUNTS_PER_S: Final = 40_000
"""Counts of a second of full light beside the easel, at gain high."""
SAFELIGHT_PER_S: Final = 60
"""Counts of a second of the safelight, at gain high."""
TIMES: Final[dict[Gain, float]] = {"low": 1 / 411.0, "medium": 24.3 / 411.0, "high": 1.0, "max": 22.6}
"""What this one's gains are against high; the data sheet's are about 1/428, 25/428, 1 and 23, and no two are alike."""
DARK: Final[dict[Gain, float]] = {"low": 0.0, "medium": 0.0, "high": 0.3, "max": 4.0}
"""Counts of a cycle in full darkness (the data sheet, from memory: 0 to 20 at the largest gain)."""
READ_NOISE: Final[dict[Gain, float]] = {"low": 1.9, "medium": 1.9, "high": 1.9, "max": 3.3}
"""0.005 % of the 36,863 counts that are full in 100 ms; a sixth of 20."""
ELECTRONS: Final[dict[Gain, float]] = {"low": 4.5e8, "medium": 1.8e7, "high": 1.0e6, "max": 4.6e4}


@dataclass(frozen=True, slots=True)
class Laid:
    """Where the probe lies: counts a second at gain high of full lamp light there, and of what is there anyhow."""

    lamp: float
    stray: float


class Seen(Protocol):
    """What the sensor needs of the practice darkroom; `PracticeDarkroom` is one."""

    runtime: Path

    def shining(self) -> Iterable[Edge]:
        """Return when there was light, in order of time."""

    def faults(self) -> frozenset[PracticeFault]:
        """Return the faults that are switched on."""


class PracticeSensor:
    """Counts in cycles of 100 ms that follow each other without a gap, as a real one does."""

    def __init__(
        self,
        room: Seen,
        gain: Gain = "high",
        *,
        laid: Callable[[], Laid | None] = lambda: None,
        now: Callable[[], int] = time.monotonic_ns,
        wait: Callable[[float], None] = time.sleep,
        dice: random.Random | None = None,
    ) -> None:
        """Set the sensor going; `laid` tells where it is laid as a probe, None beside the easel.

        Raises:
            SensorGone: its fault switch is on.
        """
        self._room, self._laid, self._now, self._wait = room, laid, now, wait
        self._dice = dice or random.Random()  # noqa: S311 - noise, no secret
        self.name, self._gain = f"practice {gain}", gain
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
        lies = self._laid() or Laid(COUNTS_PER_S, SAFELIGHT_PER_S)
        full_ns = light_ns(self._room.shining(), start_ns, self._end_ns, bulb.model)
        at_high = full_ns * bulb.brightness * lies.lamp / 1e9 + lies.stray * CYCLE_NS / 1e9
        counts = counted(at_high, self._gain, self._dice)
        return Reading(start_ns, self._end_ns, float(min(counts, FULL)), counts >= FULL, self._gain)

    def set_gain(self, gain: Gain) -> None:
        """Begin a new cycle with this gain."""
        if gain != self._gain:
            self.name, self._gain, self._end_ns = f"practice {gain}", gain, self._now()

    def close(self) -> None:
        """Let it go: there is nothing to let go."""

    def _look(self) -> None:
        if PracticeFault.SENSOR_GONE in self._room.faults():
            raise SensorGone(f"the practice sensor does not answer: switch the fault {PracticeFault.SENSOR_GONE} off")


def counted(at_high: float, gain: Gain, dice: random.Random) -> int:
    """Return what a cycle counts of light that would be `at_high` counts at gain high; the noise is the module's."""
    mean = at_high * TIMES[gain] + DARK[gain]
    spread = (2.0 * READ_NOISE[gain] ** 2 + max(0.0, mean) / ELECTRONS[gain]) ** 0.5
    return round(dice.gauss(mean, spread))
