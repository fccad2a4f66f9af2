"""What the kernel says of GPIO chips and their lines; nothing is claimed and no level changes.

The questions are the GPIO character device's own (linux/gpio.h, as read): GPIO_GET_CHIPINFO_IOCTL and
GPIO_V2_GET_LINEINFO_IOCTL.
"""

from __future__ import annotations

import fcntl
import os
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_CHIP: Final = struct.Struct("=32s32sI")
_CHIP_QUESTION: Final = 0x8044B401
_LINE: Final = struct.Struct("=32s32sIIQ160x16x")
_LINE_QUESTION: Final = 0xC100B405
_USED: Final = 1

Ioctl = Callable[[int, int, bytes], bytes]


@dataclass(frozen=True, slots=True)
class ChipInfo:
    """A GPIO chip: its device, and the label that stays the same when its number moves."""

    device: Path
    label: str
    lines: int


def _ioctl(fd: int, question: int, form: bytes) -> bytes:
    return fcntl.ioctl(fd, question, form)


def list_chips(devices: Path, ioctl: Ioctl = _ioctl) -> list[ChipInfo]:
    """Return the chips of a folder of devices (/dev) that may be asked, in the order of their names."""
    chips = []
    for device in sorted(devices.glob("gpiochip[0-9]*")):
        try:
            _, label, lines = _CHIP.unpack(_ask(device, _CHIP_QUESTION, bytes(_CHIP.size), ioctl))
        except OSError:
            continue  # one that this user may not ask
        chips.append(ChipInfo(device, _text(label), lines))
    return chips


def line_user(chip: Path, line: int, ioctl: Ioctl = _ioctl) -> str | None:
    """Return who holds a line, in the words it gave the kernel; None where it is free.

    Raises:
        OSError: the chip may not be asked, or has no such line.
    """
    form = _LINE.pack(b"", b"", line, 0, 0)
    _, user, _, _, flags = _LINE.unpack(_ask(chip, _LINE_QUESTION, form, ioctl))
    return (_text(user) or "?") if flags & _USED else None


def _ask(device: Path, question: int, form: bytes, ioctl: Ioctl) -> bytes:
    fd = os.open(device, os.O_RDONLY | os.O_CLOEXEC)
    try:
        return ioctl(fd, question, form)
    finally:
        os.close(fd)


def _text(raw: bytes) -> str:
    return raw.split(b"\0", 1)[0].decode(errors="replace")
