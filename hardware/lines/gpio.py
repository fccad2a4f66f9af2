"""Real lines through gpiozero: lamps, outlets, foot and lid contacts and sounder, each on a pin of the header."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Sequence
from typing import Any, Final

from gpiozero import InputDevice, OutputDevice, TonalBuzzer

from hardware.errors import LineError
from hardware.lines.chip import Chip, make_factory
from hardware.lines.contacts import Changeover, join
from hardware.lines.lines import Contact, Lamp, Lines, Opened, Outlet
from hardware.lines.sounder import ThreadSounder
from hardware.wiring import Output, Wiring

_STAMP_TRUST_NS: Final = 1_000_000_000
_OCTAVES: Final = 2
"""About A4: 110 to 1760 Hz, more than the cues need."""


class GpioOutput:
    """A lamp or an outlet: inactive from its first moment, at the level that this is for it."""

    def __init__(self, name: str, output: Output, chip: Chip) -> None:
        """Claim the line, inactive.

        Raises:
            LineBusy: another process holds the line.
            LineError: it cannot be had.
        """
        self._name, self._pin, self._chip = name, output.pin, chip
        self._device: OutputDevice | None = chip.claim(
            name,
            output.pin,
            lambda: OutputDevice(
                output.pin, active_high=output.active_high, initial_value=False, pin_factory=chip.factory
            ),
        )

    def set(self, active: bool) -> None:
        """Drive the line, at once.

        Raises:
            LineError: the line is closed or does not answer.
        """
        if self._device is None:
            if not active:
                return  # a line was brought to rest when it was let go
            raise LineError(f"the {self._name} on GPIO {self._pin} is closed: open it again")
        try:
            self._device.value = active
        except Exception as problem:
            # lgpio's own error derives from Exception alone
            raise LineError(
                f"the {self._name} on GPIO {self._pin} does not answer ({problem}): "
                "switch what hangs on it off at its own switch"
            ) from problem

    def close(self) -> None:
        """Drive the line inactive and let it go; closing twice does nothing."""
        if self._device is not None:
            try:
                self.set(False)
            finally:
                self._device.close()
                self._device = None
                self._chip.let_go()


class GpioContact:
    """A contact to ground on a pulled-up pin; low is closed.

    The callback runs in a thread of the pin library's, and one exception there would silence every other: it
    only enqueues and wakes. The level, asked for at any time, is the second path.
    """

    def __init__(self, name: str, pin: int, chip: Chip, now: Callable[[], int] = time.monotonic_ns) -> None:
        """Claim the line.

        Raises:
            LineError: the pin cannot be had.
        """
        self._now = now
        self._waiting: deque[tuple[int, bool]] = deque(maxlen=4096)
        self._last_ns = 0
        self._chip = chip
        self._device: InputDevice | None = chip.claim(
            f"{name} contact",
            pin,
            lambda: InputDevice(pin, pull_up=True, pin_factory=chip.factory),
        )
        self._wakeup_in, self._wakeup_out = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        self._device.pin.edges = "both"
        self._device.pin.when_changed = self._changed

    def _changed(self, ticks: float, state: float) -> None:
        try:
            now = self._now()
            stamp = round(ticks * 1e9)
            # the kernel's stamp where it is of the monotonic clock, else the moment it was heard
            at_ns = stamp if now - _STAMP_TRUST_NS <= stamp <= now else now
            self._waiting.append((at_ns, not state))
            os.write(self._wakeup_out, b"!")
        except Exception:  # noqa: BLE001, S110 - the thread's top, see the class; a full pipe wakes already
            pass

    def fileno(self) -> int | None:
        """Return a descriptor that can be read when edges wait."""
        return self._wakeup_in

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first: (monotonic ns, closed)."""
        try:
            while os.read(self._wakeup_in, 4096):
                pass
        except BlockingIOError:
            pass
        taken: list[tuple[int, bool]] = []
        while self._waiting:
            at_ns, closed = self._waiting.popleft()
            self._last_ns = max(self._last_ns, at_ns)
            taken.append((self._last_ns, closed))
        return taken

    def closed(self) -> bool:
        """Return the level now."""
        return self._device is not None and bool(self._device.is_active)

    def close(self) -> None:
        """Let the line go; closing twice does nothing."""
        if self._device is not None:
            self._device.pin.when_changed = None
            self._device.close()
            self._device = None
            # the pipe's ends stay open until nobody can wake by it any more
            os.close(self._wakeup_in)
            os.close(self._wakeup_out)
            self._chip.let_go()


class BuzzerTone:
    """A tone on a passive buzzer."""

    def __init__(self, pin: int, chip: Chip) -> None:
        """Claim the line, silent.

        Raises:
            LineError: the pin cannot be had.
        """
        self._chip = chip
        self._device: TonalBuzzer | None = chip.claim(
            "sounder",
            pin,
            lambda: TonalBuzzer(pin, octaves=_OCTAVES, pin_factory=chip.factory),
        )

    def sound(self, hertz: int) -> None:
        """Sound this pitch until told otherwise."""
        if self._device is not None:
            self._device.play(float(hertz))

    def hush(self) -> None:
        """Fall silent."""
        if self._device is not None:
            self._device.stop()

    def close(self) -> None:
        """Fall silent and let the line go; closing twice does nothing."""
        if self._device is not None:
            self._device.close()
            self._device = None
            self._chip.let_go()


def open_gpio(factory: str, wiring: Wiring) -> Lines:
    """Open real lines, the lamps first.

    Raises:
        LineError: names the line and the remedy; nothing is left open.
    """
    return lines_on(make_factory(factory, wiring.chip), wiring)


def lines_on(factory: Any, wiring: Wiring) -> Lines:
    """Open the lines on a pin factory, which goes when they do.

    Raises:
        LineError: names the line and the remedy; nothing is left open, the factory neither.
    """
    chip = Chip(factory)
    try:
        with Opened() as opened:
            outputs = {name: opened.add(GpioOutput(name, out, chip)) for name, out in wiring.outputs().items()}
            wires, foot = _foot(wiring, chip, opened)
            lid = None if wiring.lid is None else opened.add(GpioContact("lid", wiring.lid, chip))
            # last: nothing can fail behind its thread
            sounder = None if wiring.sounder is None else ThreadSounder(BuzzerTone(wiring.sounder, chip))
            opened.keep()
    except LineError:
        factory.close()
        raise
    lamps: dict[str, Lamp] = dict(zip(wiring.lamps, outputs.values(), strict=False))
    outlets = {name: outputs[name] for name in wiring.outlets}
    return Lines(False, lamps, foot, sounder, lid, wires, bool(wiring.pedals), outlets)


def _foot(wiring: Wiring, chip: Chip, opened: Opened) -> tuple[Changeover | None, Contact]:
    """Open whatever there is for a foot."""
    contacts: list[Contact] = []
    wires: Changeover | None = None
    if wiring.foot is not None:
        contacts.append(opened.add(GpioContact("foot", wiring.foot.pin, chip)))
        if wiring.foot.open_pin is not None:
            rest = opened.add(GpioContact("foot's rest", wiring.foot.open_pin, chip))
            wires = Changeover(contacts.pop(), rest, time.monotonic_ns())
            contacts.append(wires)
    if wiring.pedals:
        from hardware.lines.pedals import open_pedals

        contacts.append(opened.add(open_pedals(wiring.pedals)))
    return wires, opened.add(join(*contacts))


def open_pins(factory_name: str, wiring: Wiring) -> dict[str, Outlet]:
    """Open lamps and outlets alone, inactive.

    Raises:
        LineError: names the line and the remedy; nothing is left open.
    """
    factory = make_factory(factory_name, wiring.chip)
    chip = Chip(factory)
    try:
        with Opened() as opened:
            found: dict[str, Outlet] = {
                name: opened.add(GpioOutput(name, output, chip)) for name, output in wiring.outputs().items()
            }
            opened.keep()
    except LineError:
        factory.close()
        raise
    return found
