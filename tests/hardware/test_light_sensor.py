"""The light sensor's driver against a chip of registers, by its public data sheet; and what a missing one says."""

from __future__ import annotations

from itertools import pairwise

import pytest

from hardware.light_sensor import SensorGone, Tsl2591, open_tsl2591

MS = 1_000_000


class Chip:
    """A TSL2591 as its data sheet has it: a cycle of 100 ms ends in an interrupt that stays until it is cleared."""

    def __init__(self, *, id_: int = 0x50) -> None:
        self.now, self.id_, self.gone, self.closed = 0, id_, False, False
        self.registers: dict[int, int] = {}
        self.cleared_ns = 0
        self.counts = (1000, 200)

    def wait(self, seconds: float) -> None:
        self.now += round(seconds * 1e9)

    def _there(self) -> None:
        if self.gone:
            raise OSError(121, "Remote I/O error")

    def read_byte_data(self, i2c_addr: int, register: int) -> int:
        self._there()
        assert (i2c_addr, register & 0xE0) == (0x29, 0xA0)
        if register & 0x1F == 0x12:
            return self.id_
        counting = self.registers.get(0x00) == 0x13
        return 0x11 if counting and self.now // (100 * MS) > self.cleared_ns // (100 * MS) else 0x01

    def write_byte_data(self, i2c_addr: int, register: int, value: int) -> None:
        self._there()
        self.registers[register & 0x1F] = value

    def write_byte(self, i2c_addr: int, value: int) -> None:
        self._there()
        assert value == 0xE7
        self.cleared_ns = self.now

    def read_i2c_block_data(self, i2c_addr: int, register: int, length: int) -> list[int]:
        self._there()
        assert (register & 0x1F, length) == (0x14, 4)
        broad, infrared = self.counts
        return [broad & 255, broad >> 8, infrared & 255, infrared >> 8]

    def close(self) -> None:
        self.closed = True


@pytest.mark.usefixtures("by_real_time")
def test_each_cycle_is_read_once_and_without_a_gap() -> None:
    """Readings follow each other end to start, and count the broad channel less the infrared one."""
    chip = Chip()
    sensor = Tsl2591(chip, "medium", now=lambda: chip.now, wait=chip.wait)
    assert chip.registers == {0x00: 0x13, 0x01: 0x10, 0x0C: 0x00}
    found = [sensor.read() for _ in range(5)]
    assert [r.light for r in found] == [800.0] * 5
    assert all(later.start_ns == earlier.end_ns for earlier, later in pairwise(found))
    assert found[-1].end_ns == pytest.approx(500 * MS, abs=10 * MS)
    assert sensor.name == "tsl2591 medium"
    sensor.close()
    assert chip.closed
    assert chip.registers[0x00] == 0


@pytest.mark.usefixtures("by_real_time")
def test_a_dazzled_cycle_and_a_missed_one_are_marked() -> None:
    """The largest count says dazzled; where a cycle was slept through the next one begins later than the last ended."""
    chip = Chip()
    sensor = Tsl2591(chip, now=lambda: chip.now, wait=chip.wait)
    chip.counts = (36_863, 3)
    first = sensor.read()
    assert first.full
    chip.wait(0.25)
    assert sensor.read().start_ns > first.end_ns


@pytest.mark.parametrize(("gain", "value"), [("low", 0x00), ("medium", 0x10), ("high", 0x20), ("max", 0x30)])
def test_each_gain_is_the_data_sheet_s(gain, value: int) -> None:
    """The gains are bits 4 and 5 of the control register, the largest 0x30 (the public data sheet)."""
    chip = Chip()
    sensor = Tsl2591(chip, gain, now=lambda: chip.now, wait=chip.wait)
    assert chip.registers[0x01] == value
    assert sensor.read().gain == gain


@pytest.mark.usefixtures("by_real_time")
def test_another_gain_begins_a_new_cycle() -> None:
    """A cycle that was under way when the gain changed is counted by neither; the next is whole."""
    chip = Chip()
    sensor = Tsl2591(chip, "high", now=lambda: chip.now, wait=chip.wait)
    first = sensor.read()
    chip.wait(0.05)
    changed = chip.now
    sensor.set_gain("max")
    assert (chip.registers[0x01], chip.registers[0x00], sensor.name) == (0x30, 0x13, "tsl2591 max")
    second = sensor.read()
    assert second.start_ns >= changed > first.end_ns
    assert (first.gain, second.gain) == ("high", "max")
    chip.gone = True
    sensor.set_gain("max")
    with pytest.raises(SensorGone, match="wires"):
        sensor.set_gain("low")


def test_a_sensor_that_goes_says_what_to_look_at() -> None:
    """One that stops answering, is another chip, or hangs is gone, with a remedy."""
    chip = Chip()
    sensor = Tsl2591(chip, now=lambda: chip.now, wait=chip.wait)
    chip.gone = True
    with pytest.raises(SensorGone, match="wires"):
        sensor.read()
    chip.gone = False
    chip.registers[0x00] = 0
    with pytest.raises(SensorGone, match="stopped counting"):
        sensor.read()
    with pytest.raises(SensorGone, match="no TSL2591"):
        Tsl2591(Chip(id_=0x12))


def test_a_machine_without_library_or_bus_says_so() -> None:
    """Where there is no library, or no such I2C bus, the sentence has the remedy."""
    with pytest.raises(SensorGone, match=r"treadle\[sensor\]|raspi-config"):
        open_tsl2591(bus=99)
