"""Outputs through lgpio alone: to let go of every light where nothing larger can be trusted, or waited for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hardware.errors import LineError
from hardware.lines.chip import find_chip, load_lgpio, refusal
from hardware.lines.lines import Opened, Outlet
from hardware.wiring import Output, Wiring


class LgpioOutput:
    """An output that is at rest from the moment it is claimed."""

    def __init__(self, lgpio: Any, handle: int, name: str, output: Output) -> None:
        """Claim the line, inactive; its pull stays as it is.

        Raises:
            LineBusy: another process holds the line.
            LineError: it cannot be had.
        """
        self._lgpio, self._handle, self._name, self._output = lgpio, handle, name, output
        self._open = True
        try:
            lgpio.gpio_claim_output(handle, output.pin, int(not output.active_high), 0)
        except Exception as problem:
            # lgpio's own error derives from Exception alone
            raise refusal(f"the {name} on GPIO {output.pin}", problem) from problem

    def set(self, active: bool) -> None:
        """Drive the line, at once.

        Raises:
            LineError: it does not answer.
        """
        if not self._open:
            return
        try:
            self._lgpio.gpio_write(self._handle, self._output.pin, int(active == self._output.active_high))
        except Exception as problem:
            raise LineError(
                f"the {self._name} on GPIO {self._output.pin} does not answer ({problem}): "
                "switch the light off at its own switch"
            ) from problem

    def close(self) -> None:
        """Drive the line inactive and let it go; closing twice does nothing."""
        if self._open:
            try:
                self.set(False)
            finally:
                self._open = False
                self._lgpio.gpio_free(self._handle, self._output.pin)


def open_outputs_alone(wiring: Wiring, runtime: Path) -> dict[str, Outlet]:
    """Claim lamps and outlets, all of them at rest; the chip stays open as long as this process lives.

    Raises:
        LineBusy: another process holds one.
        LineError: names the line and the remedy; nothing is left open.
    """
    lgpio = load_lgpio(runtime)
    try:
        handle = lgpio.gpiochip_open(find_chip(lgpio) if wiring.chip is None else wiring.chip)
    except LineError:
        raise
    except Exception as problem:
        raise LineError(f"the GPIO chip cannot be opened ({problem}): add this user to the group gpio") from problem
    try:
        with Opened() as opened:
            found: dict[str, Outlet] = {
                name: opened.add(LgpioOutput(lgpio, handle, name, output)) for name, output in wiring.outputs().items()
            }
            opened.keep()
    except LineError:
        lgpio.gpiochip_close(handle)
        raise
    return found
