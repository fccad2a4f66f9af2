"""Real lines through gpiozero: lamp, foot contact, lid contact and sounder, each on a pin of the header."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Sequence
from typing import Any, Final

from gpiozero import InputDevice, OutputDevice, TonalBuzzer

from hardware.chip import Chip, make_factory
from hardware.errors import LineError
from hardware.lines import Lines
from hardware.sounder import ThreadSounder

LAMP_PINS: Final = range(9, 28)
"""GPIO 0 to 8 are pulled up from power-on until a program runs, which would light the lamp. Source: BCM2835
ARM peripherals manual, table of alternative functions (default pull), from memory."""
LAMP_ADVICE: Final = "GPIO 17, or one of 22 to 27"
_STAMP_TRUST_NS: Final = 1_000_000_000
_OCTAVES: Final = 2
"""About A4: 110 to 1760 Hz, more than the cues need."""


class GpioLamp:
    """A lamp line: active-high, dark from its first moment."""

    def __init__(self, pin: int, chip: Chip) -> None:
        """Claim the line, dark.

        Raises:
            LineError: the pin will not do, or cannot be had.
        """
        if pin not in LAMP_PINS:
            raise LineError(
                f"the lamp must not be on GPIO {pin}: GPIO 0 to 8 are pulled up at power-on and others are "
                f"not on the header; use {LAMP_ADVICE}"
            )
        self._pin = pin
        self._chip = chip
        self._device: OutputDevice | None = chip.claim(
            f"the lamp line on GPIO {pin}",
            lambda: OutputDevice(pin, active_high=True, initial_value=False, pin_factory=chip.factory),
        )

    def set(self, lit: bool) -> None:
        """Drive the line, at once.

        Raises:
            LineError: the line is closed or does not answer.
        """
        if self._device is None:
            if not lit:
                return  # a line was darkened when it was let go
            raise LineError(f"the lamp line on GPIO {self._pin} is closed: open it again")
        try:
            self._device.value = lit
        except Exception as problem:
            # lgpio's own error derives from Exception alone
            raise LineError(
                f"the lamp line on GPIO {self._pin} does not answer ({problem}): switch the lamp off at its own switch"
            ) from problem

    def close(self) -> None:
        """Drive the line dark and let it go; closing twice does nothing."""
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
        if not 2 <= pin <= 27:
            raise LineError(f"the {name} contact cannot be on GPIO {pin}: use one of 2 to 27, 27 for example")
        self._now = now
        self._waiting: deque[tuple[int, bool]] = deque(maxlen=4096)
        self._last_ns = 0
        self._chip = chip
        self._device: InputDevice | None = chip.claim(
            f"the {name} contact on GPIO {pin}",
            lambda: InputDevice(pin, pull_up=True, pin_factory=chip.factory),
        )
        self._bell_in, self._bell_out = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        self._device.pin.edges = "both"
        self._device.pin.when_changed = self._changed

    def _changed(self, ticks: float, state: float) -> None:
        try:
            now = self._now()
            stamp = round(ticks * 1e9)
            # the kernel's stamp where it is of the monotonic clock, else the moment it was heard
            at_ns = stamp if now - _STAMP_TRUST_NS <= stamp <= now else now
            self._waiting.append((at_ns, not state))
            os.write(self._bell_out, b"!")
        except Exception:  # noqa: BLE001, S110 - the thread's top, see the class; a full bell rings already
            pass

    def fileno(self) -> int | None:
        """Return a descriptor that can be read when edges wait."""
        return self._bell_in

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first: (monotonic ns, closed)."""
        try:
            while os.read(self._bell_in, 4096):
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
            # the bell's ends stay open until nobody can ring any more
            os.close(self._bell_in)
            os.close(self._bell_out)
            self._chip.let_go()


class BuzzerTone:
    """A tone on a passive buzzer."""

    def __init__(self, pin: int, chip: Chip) -> None:
        """Claim the line, silent.

        Raises:
            LineError: the pin cannot be had.
        """
        if not 2 <= pin <= 27:
            raise LineError(f"the sounder cannot be on GPIO {pin}: use one of 2 to 27, 18 for example")
        self._chip = chip
        self._device: TonalBuzzer | None = chip.claim(
            f"the sounder on GPIO {pin}",
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


def open_gpio(
    *,
    factory: str,
    lamp: int,
    foot: int,
    sounder: int | None = None,
    lid: int | None = None,
    chip: int | None = None,
) -> Lines:
    """Open real lines on the factory of that name, the lamp first.

    Raises:
        LineError: names the line and the remedy; nothing is left open.
    """
    _no_doubles({"lamp": lamp, "foot": foot, "sounder": sounder, "lid": lid})
    return lines_on(make_factory(factory, chip), lamp=lamp, foot=foot, sounder=sounder, lid=lid)


def lines_on(factory: Any, *, lamp: int, foot: int, sounder: int | None = None, lid: int | None = None) -> Lines:
    """Open the lines on a pin factory, which goes when they do.

    Raises:
        LineError: names the line and the remedy; nothing is left open, the factory neither.
    """
    _no_doubles({"lamp": lamp, "foot": foot, "sounder": sounder, "lid": lid})
    chip = Chip(factory)
    opened: list[GpioLamp | GpioContact | ThreadSounder] = []
    try:
        opened.append(lamp_line := GpioLamp(lamp, chip))
        opened.append(foot_line := GpioContact("foot", foot, chip))
        lid_line = None if lid is None else GpioContact("lid", lid, chip)
        if lid_line is not None:
            opened.append(lid_line)
        sound = None if sounder is None else ThreadSounder(BuzzerTone(sounder, chip))
    except LineError:
        for line in opened:
            line.close()
        factory.close()
        raise
    features = (*(("sounder",) if sound else ()), *(("lid",) if lid_line else ()))
    return Lines(False, {"lamp": lamp_line}, foot_line, sound, lid_line, features)


def open_lamp(factory: str, lamp: int, chip: int | None = None) -> GpioLamp:
    """Open the lamp line alone, dark.

    Raises:
        LineError: names the line and the remedy; nothing is left open.
    """
    pins = make_factory(factory, chip)
    try:
        return GpioLamp(lamp, Chip(pins))
    except LineError:
        pins.close()
        raise


def _no_doubles(pins: dict[str, int | None]) -> None:
    users: dict[int, str] = {}
    for name, pin in pins.items():
        if pin is None:
            continue
        if pin in users:
            raise LineError(f"GPIO {pin} is given to both {users[pin]} and {name}: give {name} another pin")
        users[pin] = name
