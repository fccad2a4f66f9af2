"""Inside the emulated machine: a USB pedal of the kernel's own making, pressed, pulled out and put back."""

from __future__ import annotations

import select
import time
from pathlib import Path

import evdev
from evdev import ecodes
from kernel.guest.bench import Bench

from hardware.lines.pedals import open_pedals

LINK = Path("/run/pedal-event-kbd")
"""Stands for the name below /dev/input/by-id, which leads to whatever number the device got."""


def plug_in() -> evdev.UInput:
    device = evdev.UInput({ecodes.EV_KEY: [ecodes.KEY_SPACE]}, name="treadle-pedal")
    end = time.monotonic() + 10
    while device.device is None and time.monotonic() < end:
        time.sleep(0.05)
        device.device = device._find_device(device.fd)
    LINK.unlink(missing_ok=True)
    LINK.symlink_to(device.device.path)
    return device


def key(device: evdev.UInput, value: int) -> tuple[int, int]:
    before = time.monotonic_ns()
    device.write(ecodes.EV_KEY, ecodes.KEY_SPACE, value)
    device.syn()
    return before, time.monotonic_ns()


def play(bench: Bench) -> None:
    """Press it, pull it out and put it back, and note what was heard of it."""
    told = bench.notes
    pedal = plug_in()
    contact = open_pedals([str(LINK)])
    told["missing at first"] = contact.missing

    told["pressed"] = key(pedal, 1)
    time.sleep(0.2)
    key(pedal, 2)
    key(pedal, 2)
    told["released"] = key(pedal, 0)
    told["rang"] = bool(select.select([contact.fileno()], [], [], 2)[0])
    told["edges"] = contact.edges()

    other = evdev.InputDevice(pedal.device.path)
    try:
        other.grab()
        told["grabbed twice"] = True
    except OSError as problem:
        told["grabbed twice"] = problem.errno
    key(pedal, 1)
    told["down"] = contact.edges()
    try:
        told["others hear"] = len(list(other.read()))
    except BlockingIOError:
        told["others hear"] = 0
    other.close()

    before = time.monotonic_ns()
    pedal.close()
    told["rang at the end"] = bool(select.select([contact.fileno()], [], [], 5)[0])
    told["pulled out"] = contact.edges()
    told["pulled out at"] = before, time.monotonic_ns()
    told["missing then"] = contact.missing

    pedal = plug_in()
    end = time.monotonic() + 20
    while contact.missing and time.monotonic() < end:
        select.select([contact.fileno()], [], [], 0.25)
        contact.edges()
    told["missing at last"] = contact.missing
    told["pressed again"] = key(pedal, 1)
    select.select([contact.fileno()], [], [], 2)
    told["edges again"] = contact.edges()
    contact.close()
    pedal.close()
