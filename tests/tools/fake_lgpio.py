"""A stand-in for the module lgpio: one Pi's chip, its lines and their pulls, and all that was asked of them."""

from __future__ import annotations

import types
from typing import Any

BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
SET_PULL_UP, SET_PULL_DOWN, SET_PULL_NONE = 32, 64, 128
IS_OUT = 2


class Error(Exception):
    """As lgpio's own: derived from Exception alone, busy in words."""


class FakeLgpio(types.ModuleType):
    """One chip; a line that is not claimed can be neither read nor written."""

    def __init__(self, label: str = "pinctrl-bcm2835") -> None:
        super().__init__("lgpio")
        self.label = label
        self.asked: list[tuple[Any, ...]] = []
        self.claimed: dict[int, str] = {}
        self.flags: dict[int, int] = {}
        self.levels: dict[int, int] = {}
        self.busy: set[int] = set()
        self.open_chips = 0
        self.error = Error
        self.BOTH_EDGES, self.RISING_EDGE, self.FALLING_EDGE = BOTH_EDGES, RISING_EDGE, FALLING_EDGE
        self.SET_PULL_UP, self.SET_PULL_DOWN, self.SET_PULL_NONE = SET_PULL_UP, SET_PULL_DOWN, SET_PULL_NONE

    def gpiochip_open(self, number: int) -> int:
        self.open_chips += 1
        return 100 + number

    def gpiochip_close(self, handle: int) -> None:
        self.open_chips -= 1

    def gpio_get_chip_info(self, handle: int) -> list[object]:
        return [0, 54, "gpiochip0", self.label]

    def _claim(self, how: str, gpio: int, flags: int) -> None:
        if gpio in self.busy:
            raise Error("GPIO busy")
        self.claimed[gpio] = how
        self.flags[gpio] = flags or self.flags.get(gpio, 0)

    def gpio_claim_output(self, handle: int, gpio: int, level: int = 0, flags: int = 0) -> None:
        self.asked.append(("output", gpio, level, flags))
        self._claim("output", gpio, flags)
        self.levels[gpio] = level

    def gpio_claim_input(self, handle: int, gpio: int, flags: int = 0) -> None:
        self.asked.append(("input", gpio, flags))
        self._claim("input", gpio, flags)
        if flags & SET_PULL_UP:
            self.levels.setdefault(gpio, 1)

    def gpio_claim_alert(self, handle: int, gpio: int, edges: int, flags: int = 0) -> None:
        self.asked.append(("alert", gpio, flags))
        self._claim("alert", gpio, flags)

    def gpio_free(self, handle: int, gpio: int) -> None:
        if gpio not in self.claimed:
            raise Error("GPIO not allocated")
        del self.claimed[gpio]
        self.asked.append(("free", gpio))

    def gpio_write(self, handle: int, gpio: int, level: int) -> None:
        if self.claimed.get(gpio) != "output":
            raise Error("GPIO not an output")
        self.asked.append(("write", gpio, level))
        self.levels[gpio] = level

    def gpio_read(self, handle: int, gpio: int) -> int:
        if gpio not in self.claimed:
            raise Error("GPIO not allocated")
        return self.levels.get(gpio, 0)

    def gpio_get_mode(self, handle: int, gpio: int) -> int:
        return self.flags.get(gpio, 0) | (IS_OUT if self.claimed.get(gpio) == "output" else 0)

    def tx_pwm(self, handle: int, gpio: int, hertz: float, duty: float) -> None:
        self.asked.append(("pwm", gpio, hertz, duty))

    def callback(self, handle: int, gpio: int, edge: int, func: Any) -> Any:
        return types.SimpleNamespace(cancel=lambda: self.asked.append(("cancel", gpio)))
