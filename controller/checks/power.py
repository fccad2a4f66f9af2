"""The Pi's supply: whether its voltage is, or was, too low."""

from __future__ import annotations

from typing import Final

from controller.checks.findings import Finding, found
from controller.checks.machine import Machine

_NOW: Final = 1 << 0
_ONCE: Final = 1 << 16
"""Bits of `vcgencmd get_throttled`: under-voltage now, and since the start. Source: its documentation, second-hand."""
_SENSOR: Final = "rpi_volt"


def look_at_power(machine: Machine) -> Finding:
    """Ask the firmware, or the kernel's own sensor where it may not be asked."""
    bits = _firmware(machine)
    if bits is None:
        bits = _sensor(machine)
    if bits is None:
        return found("power", "good", "check.power-unknown")
    if bits & _NOW:
        return found("power", "must", "check.power-low")
    return found("power", "advice", "check.power-was-low") if bits & _ONCE else found("power", "good", "check.power")


def _firmware(machine: Machine) -> int | None:
    said = machine.run(["vcgencmd", "get_throttled"])
    if said is None:
        return None
    try:
        return int(said.partition("=")[2], 16)
    except ValueError:
        return None


def _sensor(machine: Machine) -> int | None:
    """Return the same bits from the kernel: its alarm stays once it has been raised."""
    for folder in sorted(machine.at("/sys/class/hwmon").glob("hwmon*")):
        inside = f"/sys/class/hwmon/{folder.name}"
        if machine.read(f"{inside}/name") == _SENSOR:
            alarm = machine.read(f"{inside}/in0_lcrit_alarm")
            return None if alarm is None else _ONCE if alarm != "0" else 0
    return None
