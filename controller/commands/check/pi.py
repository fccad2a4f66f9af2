"""The Pi's lines: its chip, who holds the lines, what the kernel does with them when their owner dies."""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine
from hardware.lines.chip import CHIP_LABELS, ChipInfo, line_user, list_chips
from hardware.wiring import Wiring

PERSISTS: Final = tuple(
    f"/sys/module/{name}/parameters/persist_gpio_outputs" for name in ("pinctrl_rp1", "pinctrl_bcm2835")
)
"""Whether the kernel keeps a line's level when its owner is gone. Source: Raspberry Pi's kernel, second-hand."""


def look_at_pins(
    wiring: Wiring,
    machine: Machine,
    *,
    daemon: bool,
    list_chips: Callable[[Path], Sequence[ChipInfo]] = list_chips,
    line_user: Callable[[Path, int], str | None] = line_user,
) -> Iterator[Finding]:
    """Look at the chip and its lines; `daemon` says that a daemon is running, which holds them rightly."""
    chips = list_chips(machine.at("/dev"))
    chip = _chip(wiring, chips)
    if chip is None:
        yield from _no_chip(wiring, machine, chips)
    else:
        yield found("chip", "good", "check.chip", label=chip.label, device=chip.device)
        yield from _free(wiring, chip, line_user) if not daemon else ()
    yield _persists(machine)
    for name, pin in wiring.lamps.items():
        yield found("pull-down", "advice", "check.pull-down", lamp=name, pin=pin)


def _chip(wiring: Wiring, chips: Sequence[ChipInfo]) -> ChipInfo | None:
    if wiring.chip is not None:
        return next((chip for chip in chips if chip.device.name == f"gpiochip{wiring.chip}"), None)
    return next((chip for label in CHIP_LABELS for chip in chips if chip.label == label), None)


def _no_chip(wiring: Wiring, machine: Machine, chips: Sequence[ChipInfo]) -> Iterator[Finding]:
    shut = [
        device
        for device in sorted(machine.at("/dev").glob("gpiochip[0-9]*"))
        if not machine.may_use(device, os.R_OK | os.W_OK)
    ]
    if shut:
        yield found("group", "must", "check.group", group="gpio", device=shut[0], user=getpass.getuser())
    elif wiring.chip is not None:
        yield found("chip", "must", "check.chip-number", number=wiring.chip)
    else:
        yield found("chip", "must", "check.chip-none", found=", ".join(sorted(chip.label for chip in chips)) or "–")


def _free(wiring: Wiring, chip: ChipInfo, line_user: Callable[[Path, int], str | None]) -> Iterator[Finding]:
    held = []
    for name, pin in wired(wiring).items():
        try:
            user = line_user(chip.device, pin)
        except OSError as problem:
            yield found("line", "must", "check.line-refused", name=name, pin=pin, detail=problem.strerror)
            return
        if user is not None:
            held.append(found("line", "must", "check.line-held", name=name, pin=pin, user=user))
    yield from held or (
        found("line", "good", "check.line-free", pins=", ".join(map(str, sorted(wired(wiring).values())))),
    )


def wired(wiring: Wiring) -> dict[str, int]:
    """Return every pin by what is on it."""
    pins: dict[str, int | None] = {**wiring.lamps, "sounder": wiring.sounder, "lid": wiring.lid}
    if wiring.foot is not None:
        pins |= {"foot": wiring.foot.pin, "foot (open_pin)": wiring.foot.open_pin}
    pins |= {name: output.pin for name, output in wiring.outlets.items()}
    return {name: pin for name, pin in pins.items() if pin is not None}


def _persists(machine: Machine) -> Finding:
    said = [value for path in PERSISTS if (value := machine.read(path)) is not None]
    if not said:
        return found("strict-gpiod", "advice", "check.strict-unknown")
    if any(value.upper() not in ("N", "0") for value in said):
        return found("strict-gpiod", "must", "check.strict-off")
    return found("strict-gpiod", "good", "check.strict")


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
        return found("power", "unknown", "check.power-unknown")
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
