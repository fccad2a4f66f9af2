"""The pin factory beneath real lines: named, built here and passed on; never gpiozero's own choice.

gpiozero takes another factory, with a warning, where the one it wants is not there. A lamp must not be driven
by whatever happened to load.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from hardware.errors import LineBusy, LineError

CHIP_LABELS: Final = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")
"""The GPIO chips of Raspberry Pis by label; their numbers move between kernels. Source: kernel, as read."""


class Chip:
    """A pin factory that goes with the last of its lines: closing a device gives no line back, this does."""

    def __init__(self, factory: Any) -> None:
        self.factory = factory
        self._lines = 0

    def claim(self, name: str, make: Callable[[], Any]) -> Any:
        """Return the device that `make` makes.

        Raises:
            LineBusy: another process holds the line.
            LineError: the line cannot be had.
        """
        try:
            device = make()
        except Exception as problem:
            # lgpio's own error derives from Exception alone, and says busy in words only
            if "busy" in str(problem).lower():
                raise LineBusy(f"line busy: {name} is held by another process; stop that one first") from problem
            raise LineError(
                f"{name} cannot be had ({problem}): look at the wiring settings, and whether this user may "
                "use the GPIO (group gpio)"
            ) from problem
        self._lines += 1
        return device

    def let_go(self) -> None:
        """Take note that a line is closed."""
        self._lines -= 1
        if self._lines == 0:
            self.factory.close()


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
            # lgpio makes a file where this says, when it is imported
            os.environ.setdefault("LG_WD", tempfile.gettempdir())
            try:
                import lgpio
                from gpiozero.pins.lgpio import LGPIOFactory
            except ImportError as problem:
                raise LineError(
                    f"lgpio cannot be imported ({problem}): install Debian's python3-lgpio, or treadle[pi]"
                ) from problem
            try:
                return LGPIOFactory(chip=find_chip(lgpio) if chip is None else chip)
            except LineError:
                raise
            except Exception as problem:
                # lgpio's own error derives from Exception alone
                raise LineError(
                    f"the GPIO chip cannot be opened ({problem}): add this user to the group gpio"
                ) from problem
        case _:
            raise LineError(f"there is no pin factory {name!r}: say lgpio")


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
