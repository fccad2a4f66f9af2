"""The pin factory beneath real lines: named, built here and passed on; never gpiozero's own choice.

gpiozero takes another factory, with a warning, where the one it wants is not there. A lamp must not be driven
by whatever happened to load.
"""

from __future__ import annotations

import fcntl
import importlib
import os
import shutil
import struct
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from hardware.errors import LineBusy, LineError

CHIP_LABELS: Final = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")
"""The GPIO chips of Raspberry Pis by label; their numbers move between kernels. Source: kernel, as read."""


class Chip:
    """A pin factory that goes with the last of its lines."""

    def __init__(self, factory: Any) -> None:
        self.factory = factory
        self._lines = 0

    def claim(self, name: str, pin: int, make: Callable[[], Any]) -> Any:
        """Return the device that `make` makes on a pin.

        Raises:
            LineBusy: another process holds the line.
            LineError: the line cannot be had.
        """
        try:
            device = make()
        except Exception as problem:
            # lgpio's own error derives from Exception alone
            raise refusal(f"the {name} on GPIO {pin}", problem) from problem
        self._lines += 1
        return device

    def let_go(self) -> None:
        """Take note that a line is closed."""
        self._lines -= 1
        if self._lines == 0:
            self.factory.close()


def refusal(line: str, problem: Exception) -> LineError:
    """Return what to say of a line that could not be claimed; lgpio says busy in words only."""
    if "busy" in str(problem).lower():
        return LineBusy(
            f"line busy: {line} is held by another process, most likely a Treadle that still runs or another program "
            "that uses the GPIO; stop that one first (systemctl stop treadle; gpioinfo names the holder)"
        )
    return LineError(
        f"{line} cannot be had ({problem}): look at the wiring settings, and whether this user may "
        "use the GPIO (group gpio)"
    )


def make_factory(name: str, chip: int | None = None) -> Any:
    """Return a new pin factory: "lgpio" for a Pi, "mock" for lines that exist in this process only.

    Raises:
        LineError: there is none of that name, or it cannot work here.
    """
    match name:
        case "mock":
            from gpiozero.pins.mock import MockFactory, MockPWMPin

            return MockFactory(pin_class=MockPWMPin)
        case "lgpio":
            lgpio = load_lgpio()
            from hardware.lines.lgpio_pin import kept_level_factory

            try:
                return kept_level_factory(find_chip(lgpio) if chip is None else chip)
            except LineError:
                raise
            except Exception as problem:
                # lgpio's own error derives from Exception alone
                raise LineError(
                    f"the GPIO chip cannot be opened ({problem}): add this user to the group gpio"
                ) from problem
        case _:
            raise LineError(f"there is no pin factory {name!r}: say lgpio")


def load_lgpio(folder: Path | None = None) -> Any:
    """Return the lgpio module.

    As it is imported it makes a named pipe where LG_WD says, opens it by its name, and stays in that folder. Each
    process gets a folder of its own for it, gone again at once, so that none reads another's edges: in the folder that
    LG_WD names (the keeper's runtime folder), else in `folder`, else in that for temporary files.

    Raises:
        LineError: it is not there, or will not work.
    """
    if sys.modules.get("lgpio") is None:
        wanted = os.environ.get("LG_WD") or (str(folder) if folder is not None else "")
        base = wanted if wanted and os.access(wanted, os.W_OK | os.X_OK) else tempfile.gettempdir()
        own = Path(base) / f"lgpio-{os.getpid()}"
        home = os.open(".", os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        os.environ["LG_WD"] = str(own)
        try:
            own.mkdir(mode=0o700, exist_ok=True)
            importlib.import_module("lgpio")
        except (ImportError, OSError) as problem:
            raise LineError(
                f"lgpio cannot be imported ({problem}): install Debian's python3-lgpio, or treadle[pi], and let this "
                f"user write in {base}"
            ) from problem
        finally:
            os.environ["LG_WD"] = base
            os.fchdir(home)
            os.close(home)
            shutil.rmtree(own, ignore_errors=True)
    return importlib.import_module("lgpio")


def find_chip(lgpio: Any, devices: Path = Path("/dev")) -> int:
    """Return the number of the Pi's own GPIO chip, found by its label; `lgpio` is that module.

    Raises:
        LineError: no chip has a Pi's label.
    """
    found: dict[str, int] = {}
    for device in sorted(devices.glob("gpiochip[0-9]*")):
        number = int(device.name.removeprefix("gpiochip"))
        try:
            handle = lgpio.gpiochip_open(number)
        except Exception:  # noqa: BLE001, S112 - a chip that may not be opened is not the Pi's
            continue
        found[str(lgpio.gpio_get_chip_info(handle)[3])] = number
        lgpio.gpiochip_close(handle)
    for label in CHIP_LABELS:
        if label in found:
            return found[label]
    raise LineError(
        f"no Raspberry Pi GPIO chip is here (found: {', '.join(sorted(found)) or 'none'}): "
        "run this on a Pi, as a user of the group gpio"
    )


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
