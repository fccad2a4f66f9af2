"""Inside the emulated machine: a simulated GPIO chip with a Pi's label, its contacts, and the kernel's trace."""

from __future__ import annotations

import os
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TypeVar

from kernel.guest.forked import apart
from kernel.traced import Traced

LINES: Final = 54
LABEL: Final = "pinctrl-bcm2835"
REVISION: Final = "a02082"
"""A Pi 3 B's; the pin library reads it to know the header. Source: Raspberry Pi's revision codes (from memory)."""
_CONFIG: Final = Path("/sys/kernel/config/gpio-sim/pi")
_TRACING: Final = Path("/sys/kernel/tracing")
_END: Final = "the reader may go home"
T = TypeVar("T")


def until(found: Callable[[], T | None], what: str, seconds: float = 20.0, *, pause: float = 0.002) -> T:
    """Wait until something is there, and return it; look for it after each `pause`, in seconds."""
    end = time.monotonic() + seconds
    while (it := found()) is None:
        if time.monotonic() > end:
            raise TimeoutError(f"waited {seconds} s in vain: {what}")
        time.sleep(pause)
    return it


class Header:
    """The simulated chip's lines, as a hand with a wire and a meter has them."""

    def __init__(self) -> None:
        bank = _CONFIG / "bank0"
        bank.mkdir(parents=True)
        (bank / "num_lines").write_text(f"{LINES}\n")
        (bank / "label").write_text(f"{LABEL}\n")
        (_CONFIG / "live").write_text("1\n")
        device, chip = (_CONFIG / "dev_name").read_text().strip(), (bank / "chip_name").read_text().strip()
        self.chip = int(chip.removeprefix("gpiochip"))
        self._lines = Path("/sys/devices/platform") / device / chip
        self._pulls: dict[int, int] = {}

    def level(self, line: int) -> int:
        """Return the level on the line now."""
        return int((self._lines / f"sim_gpio{line}" / "value").read_text())

    def pull(self, line: int, high: bool) -> None:
        """Pull the line up or down: what it shows while nobody drives it."""
        if line not in self._pulls:
            self._pulls[line] = os.open(self._lines / f"sim_gpio{line}" / "pull", os.O_WRONLY | os.O_CLOEXEC)
        os.pwrite(self._pulls[line], b"pull-up" if high else b"pull-down", 0)

    def close_contact(self, line: int) -> None:
        """Connect the line to ground."""
        self.pull(line, high=False)

    def open_contact(self, line: int) -> None:
        """Let the line go up again."""
        self.pull(line, high=True)


class Trace:
    """The kernel's GPIO events as they come, read by one thread.

    A Pi keeps an output's level when its owner dies; the simulated chip lets it go. The lines in `kept` are pulled to
    whatever they were last driven to, so that they too keep it.
    """

    def __init__(self, header: Header, kept: tuple[int, ...] = ()) -> None:
        self._header, self.kept = header, kept
        self._first_line = 0
        self._turn = threading.Condition()
        self._events: list[Traced] = []
        (_TRACING / "trace_clock").write_text("mono\n")
        (_TRACING / "buffer_size_kb").write_text("4096\n")
        (_TRACING / "events" / "gpio" / "enable").write_text("1\n")
        self._marker = (_TRACING / "trace_marker").open("w", buffering=1)
        self._thread = threading.Thread(target=self._read, name="trace", daemon=True)
        self._thread.start()

    def _read(self) -> None:
        with (_TRACING / "trace_pipe").open() as pipe:
            for row in pipe:
                event = Traced.of(row, self._first_line)
                if event is None:
                    continue
                if event.text == _END:
                    return
                if event.did == "set" and event.line in self.kept:
                    self._header.pull(event.line, high=bool(event.level))
                with self._turn:
                    self._events.append(event)
                    self._turn.notify_all()

    def calibrate(self, touch: Callable[[], None]) -> None:
        """Learn the kernel's number of line 0: `touch` makes it an output."""
        touch()
        self._first_line = self.wait(lambda event: event.did == "set", "line 0 to be set").line
        self.take()

    def mark(self, text: str) -> int:
        """Put a mark into the trace, beside the kernel's own events; return this program's moment of it."""
        self._marker.write(f"{text}\n")
        return time.monotonic_ns()

    def wait(self, fits: Callable[[Traced], bool], what: str, seconds: float = 20.0, count: int = 1) -> Traced:
        """Return the event number `count` of this scene that fits, once it has come."""
        with self._turn:
            if not self._turn.wait_for(lambda: sum(map(fits, self._events)) >= count, seconds):
                raise TimeoutError(f"waited {seconds} s in vain for {what}")
            return [event for event in self._events if fits(event)][count - 1]

    def wait_set(self, line: int, level: int, seconds: float = 20.0, count: int = 1) -> Traced:
        """Wait until the line has been set to a level for the `count`th time in this scene."""
        return self.wait(
            lambda event: event.did == "set" and event.line == line and event.level == level,
            f"line {line} to be set to {level}",
            seconds,
            count,
        )

    def take(self) -> list[Traced]:
        """Return the events up to now, and begin anew."""
        end = f"taken {time.monotonic_ns()}"
        self.mark(end)
        self.wait(lambda event: event.text == end, "its own mark")
        with self._turn:
            events, self._events = self._events, []
        return events[:-1]

    def close(self) -> None:
        """Read no more."""
        self.mark(_END)
        self._thread.join(5)
        self._marker.close()


def become_a_pi() -> None:
    """Add the revision line that the pin library looks for."""
    mine = Path("/run/cpuinfo")
    mine.write_text(f"{Path('/proc/cpuinfo').read_text()}Revision\t: {REVISION}\n")
    subprocess.run(["mount", "--bind", str(mine), "/proc/cpuinfo"], check=True)


@contextmanager
def simulated() -> Iterator[tuple[Header, Trace]]:
    """Give a chip and its trace."""
    become_a_pi()
    header = Header()
    trace = Trace(header)

    def touch() -> None:
        import lgpio

        handle = lgpio.gpiochip_open(header.chip)
        lgpio.gpio_claim_output(handle, 0, 0)
        lgpio.gpiochip_close(handle)

    trace.calibrate(lambda: apart(touch))
    try:
        yield header, trace
    finally:
        trace.close()
