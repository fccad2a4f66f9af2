"""A header pin through lgpio that is claimed with its level, and whose pull is never taken away.

gpiozero's own pin is claimed as a floating input first, driven low next and set to its level last, and made a floating
input again at the end. On a line with an active-low driver that is a blip at the start, and on every line it leaves
nothing to pull it. This one claims an output at its level in one request and lets it go by freeing it.
"""

from __future__ import annotations

from typing import Any

import lgpio
from gpiozero.exc import PinInvalidFunction
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin
from gpiozero.pins.local import LocalPiPin

_AS_IT_IS = 0
"""No line flag: the kernel leaves the pull as it finds it."""


class KeptLevelPin(LGPIOPin):  # type: ignore[misc]
    """One pin. It is claimed when it is told what to be, not before."""

    def __init__(self, factory: Any, info: Any) -> None:
        LocalPiPin.__init__(self, factory, info)  # passing by LGPIOPin's own, which claims a floating input
        self._pwm = self._bounce = self._callback = None
        self._edges = lgpio.BOTH_EDGES
        self._claimed = False

    def close(self) -> None:
        """Give the line back to the kernel; closing twice does nothing."""
        self._forget_callback()
        if self._claimed and self.factory._handle is not None:
            lgpio.gpio_free(self.factory._handle, self._number)
        self._claimed = False

    def output_with_state(self, state: bool) -> None:
        """Be an output at this level from its first moment."""
        self._forget_callback()
        lgpio.gpio_claim_output(self.factory._handle, self._number, int(state), _AS_IT_IS)
        self._claimed = True

    def _set_function(self, value: str) -> None:
        match value:
            case "input":
                self._forget_callback()
                lgpio.gpio_claim_input(self.factory._handle, self._number, _AS_IT_IS)
                self._claimed = True
            case "output":
                self.output_with_state(False)
            case _:
                raise PinInvalidFunction(f"invalid function {value!r} for pin {self!r}")

    def _set_state(self, value: float) -> None:
        if self._pwm:
            super()._set_state(value)
        else:
            # lgpio itself refuses a line that is no output; asking first would cost the lamp another system call
            lgpio.gpio_write(self.factory._handle, self._number, int(bool(value)))

    def _forget_callback(self) -> None:
        if self._callback is not None:
            self._callback.cancel()
            self._callback = None


def kept_level_factory(chip: int) -> Any:
    """Return a factory of such pins on /dev/gpiochip`chip`; raises whatever lgpio does."""
    factory = LGPIOFactory(chip=chip)
    factory.pin_class = KeptLevelPin
    return factory
