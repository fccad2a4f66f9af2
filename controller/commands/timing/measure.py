"""What is measured against: a thread that times lights itself, in the process that serves the pages."""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from controller.commands.timing.lights import AHEAD_MS, KeeperLights
from controller.commands.timing.load import Burden, Load, Machine
from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.store.folder import DataFolder
from hardware.clock import NS_PER_MS
from hardware.fitting import Fitting, read_fitting
from hardware.wire import Greeting


class TimerThread:
    """Sleeps until each light's planned end, to an absolute moment, and notes how late it woke.

    It drives no line, which flatters it; the keeper's figures include the driving.
    """

    def __init__(self, lit_ms: int) -> None:
        self._lit_ms = lit_ms
        self._ended = threading.Event()
        self._late_ns: list[int] = []
        self._thread = threading.Thread(target=self._run, name="timer thread", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._ended.is_set():
            self._sleep_until(time.monotonic_ns() + AHEAD_MS * NS_PER_MS)
            dark_ns = time.monotonic_ns() + self._lit_ms * NS_PER_MS
            self._sleep_until(dark_ns)
            self._late_ns.append(time.monotonic_ns() - dark_ns)

    @staticmethod
    def _sleep_until(moment_ns: int) -> None:
        while (left_ns := moment_ns - time.monotonic_ns()) > 0:
            time.sleep(left_ns / 1e9)

    def end(self) -> list[int]:
        """End it, and return how late it was each time, in ns."""
        self._ended.set()
        self._thread.join()
        return self._late_ns


class Page(Protocol):
    """The web room, once it serves."""

    @property
    def port(self) -> int:
        """The port it listens at."""

    def close(self) -> None:
        """Serve no more."""


OpenPage = Callable[[Desk, Callable[[], Sequence[str]], str, int], Page]


def practice_fitting(folder: Path) -> Fitting:
    """Return practice lines in a folder of their own."""
    return read_fitting(folder, {}, practice=True)


@contextmanager
def burdened(load: Load, folder: Path, open_page: OpenPage) -> Iterator[Burden]:
    """Serve the page of a practice darkroom in `folder` from this process, and hold the load on it."""
    with ExitStack() as stack:
        darkroom = Darkroom(DataFolder(folder), practice_fitting(folder))
        darkroom.open()
        stack.callback(darkroom.close)
        page = open_page(darkroom.desk, lambda: ("localhost",), "127.0.0.1", 0)
        stack.callback(page.close)
        yield stack.enter_context(Burden(load, page.port, darkroom.desk.pairing().new_code()))


@dataclass(frozen=True, slots=True)
class Measured:
    """How late each light went dark, in ns; how late a timer thread woke, where there was one; and under what."""

    late_ns: tuple[int, ...]
    thread_ns: tuple[int, ...]
    greeting: Greeting
    steal_percent: float | None


def measure(
    fitting: Fitting | None,
    *,
    lights: int,
    lit_ms: int,
    load: Load,
    compare: bool,
    open_page: OpenPage,
    under_load: Callable[[], object] | None = None,
) -> Measured:
    """Give the lights, under the load, and return how late each was.

    `fitting` names real lines; None: practice lines. `under_load` is called at the end, with the load still on.
    The page is served in every case, by the process that a timer thread would have to share.

    Raises:
        KeeperAway, KeeperGone, Unreadable: it cannot be measured; the sentence says why.
    """
    with tempfile.TemporaryDirectory(prefix="treadle-timing-") as name:
        folder = Path(name)
        with burdened(load, folder / "page", open_page), KeeperLights(fitting or _lines(folder)) as keeper:
            machine = Machine()
            thread = TimerThread(lit_ms) if compare else None
            try:
                late_ns = keeper.give(lights, lit_ms)
            finally:
                woke_ns = [] if thread is None else thread.end()
            steal = machine.steal_percent()
            if under_load is not None:
                under_load()
            return Measured(tuple(late_ns), tuple(woke_ns), keeper.greeting, steal)


def _lines(folder: Path) -> Fitting:
    lines = folder / "lines"
    lines.mkdir()
    return practice_fitting(lines)
