"""A light sensor beside the easel, read over I2C: it tells how much light came, and drives no line.

Registers, gains and the largest count are those of the TSL2591's public data sheet.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, Protocol

from hardware.errors import HardwareError

Gain = Literal["low", "medium", "high", "max"]
GAINS: Final[tuple[Gain, ...]] = ("low", "medium", "high", "max")


class SensorGone(HardwareError):
    """The sensor does not answer; the sentence says what to look at."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What was counted from `start_ns` to `end_ns` (monotonic): `light` in the sensor's own counts.

    Where it begins later than the one before it ended, something was missed. `full` says that the sensor was dazzled
    and may have counted too little, `gain` how strongly it counted; empty where that is not known.
    """

    start_ns: int
    end_ns: int
    light: float
    full: bool = False
    gain: Gain | Literal[""] = ""


class LightSensor(Protocol):
    """What a light sensor must be able to do. One thread reads it."""

    name: str
    """Its kind and gain: levels compare where this is the same."""

    def read(self) -> Reading:
        """Wait for the next full cycle and return it; a call takes at most about half a second.

        Raises:
            SensorGone: it does not answer.
        """

    def set_gain(self, gain: Gain) -> None:
        """Count with another gain from the next cycle on, which begins now; its name changes with it.

        Raises:
            SensorGone: it does not answer.
        """

    def close(self) -> None:
        """Let it go; closing twice does nothing."""


class Bus(Protocol):
    """What the sensor needs of an I2C bus; `smbus2.SMBus` is one."""

    def read_byte_data(self, i2c_addr: int, register: int) -> int:
        """Return one register."""

    def write_byte_data(self, i2c_addr: int, register: int, value: int) -> None:
        """Write one register."""

    def write_byte(self, i2c_addr: int, value: int) -> None:
        """Send one byte."""

    def read_i2c_block_data(self, i2c_addr: int, register: int, length: int) -> list[int]:
        """Return registers that follow each other."""

    def close(self) -> None:
        """Let the bus go."""


_ADDRESS: Final = 0x29
_COMMAND: Final = 0xA0
_CLEAR: Final = 0xE7
"""Special function: the interrupt is taken note of."""
_ENABLE, _CONTROL, _PERSIST, _ID, _STATUS, _COUNTS = 0x00, 0x01, 0x0C, 0x12, 0x13, 0x14
_POWER, _MEASURE, _INTERRUPT = 0x01, 0x02, 0x10
_IS_TSL2591: Final = 0x50
_INTERRUPTED: Final = 0x10
_GAINS: Final[dict[Gain, int]] = {"low": 0x00, "medium": 0x10, "high": 0x20, "max": 0x30}
"""About 1, 25, 428 and some 9900 times; no two sensors alike, so each one's own ratios are measured."""
FULL: Final = 36_863
"""The largest count of a cycle of 100 ms."""
CYCLE_NS: Final = 100_000_000
_LATE_NS: Final = 160_000_000
_POLL_S: Final = 0.004
_GIVE_UP_NS: Final = 500_000_000


class Tsl2591:
    """A TSL2591 that counts in cycles of 100 ms, one after the other without a gap.

    Its interrupt flag rises at the end of every cycle, so that each is read once. What counts is the light of its
    broad channel less that of its infrared one, which is nearer to what paper sees.
    """

    def __init__(
        self,
        bus: Bus,
        gain: Gain = "high",
        *,
        now: Callable[[], int] = time.monotonic_ns,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        """Set the sensor going.

        Raises:
            SensorGone: nothing answers at its address, or something else does.
        """
        self.name, self._gain = f"tsl2591 {gain}", gain
        self._bus, self._now, self._wait = bus, now, wait
        try:
            found = bus.read_byte_data(_ADDRESS, _COMMAND | _ID)
            if found != _IS_TSL2591:
                raise SensorGone(f"what answers at I2C address 0x29 is no TSL2591 (it says 0x{found:02x})")
            self._write(_ENABLE, 0)
            self._write(_CONTROL, _GAINS[gain])
            self._write(_PERSIST, 0)  # an interrupt after every cycle
            bus.write_byte(_ADDRESS, _CLEAR)
            self._write(_ENABLE, _POWER | _MEASURE | _INTERRUPT)
        except OSError as problem:
            raise _gone(problem) from problem
        self._last_ns = now()

    def read(self) -> Reading:
        """Wait for the end of the present cycle and return what it counted."""
        give_up_ns = self._now() + _GIVE_UP_NS
        try:
            while not self._bus.read_byte_data(_ADDRESS, _COMMAND | _STATUS) & _INTERRUPTED:
                if self._now() > give_up_ns:
                    raise SensorGone("the light sensor has stopped counting: switch its supply off and on")
                self._wait(_POLL_S)
            end_ns = self._now()
            low0, high0, low1, high1 = self._bus.read_i2c_block_data(_ADDRESS, _COMMAND | _COUNTS, 4)
            self._bus.write_byte(_ADDRESS, _CLEAR)
        except OSError as problem:
            raise _gone(problem) from problem
        broad, infrared = low0 | high0 << 8, low1 | high1 << 8
        start_ns = self._last_ns if end_ns - self._last_ns < _LATE_NS else end_ns - CYCLE_NS
        self._last_ns = end_ns
        return Reading(start_ns, end_ns, float(broad - infrared), broad >= FULL or infrared >= FULL, self._gain)

    def set_gain(self, gain: Gain) -> None:
        """Begin a new cycle with this gain: one that was under way would have counted with both."""
        if gain == self._gain:
            return
        try:
            self._write(_ENABLE, _POWER)
            self._write(_CONTROL, _GAINS[gain])
            self._bus.write_byte(_ADDRESS, _CLEAR)
            self._write(_ENABLE, _POWER | _MEASURE | _INTERRUPT)
        except OSError as problem:
            raise _gone(problem) from problem
        self.name, self._gain, self._last_ns = f"tsl2591 {gain}", gain, self._now()

    def close(self) -> None:
        """Put the sensor to sleep and let the bus go."""
        try:
            self._write(_ENABLE, 0)
        except OSError:
            pass  # it is gone, and asleep in its own way
        finally:
            self._bus.close()

    def _write(self, register: int, value: int) -> None:
        self._bus.write_byte_data(_ADDRESS, _COMMAND | register, value)


def open_tsl2591(gain: Gain = "high", *, bus: int = 1) -> Tsl2591:
    """Return the sensor on an I2C bus of this machine, counting.

    Raises:
        SensorGone: the library is missing, the bus is not there, or nothing answers; the sentence has the remedy.
    """
    try:
        from smbus2 import SMBus  # loaded only where a sensor is fitted
    except ImportError:
        raise SensorGone("the light sensor needs the library smbus2: install “treadle[sensor]”") from None
    try:
        found = SMBus(bus)
    except OSError as problem:
        raise SensorGone(
            f"I2C bus {bus} cannot be opened ({problem.strerror}): switch I2C on in raspi-config, and put the "
            "service's user into the group i2c"
        ) from problem
    try:
        return Tsl2591(found, gain)
    except SensorGone:
        found.close()
        raise


def _gone(problem: OSError) -> SensorGone:
    return SensorGone(f"the light sensor does not answer ({problem.strerror or problem}): look at its four wires")
