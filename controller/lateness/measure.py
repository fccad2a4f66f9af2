"""One measurement: a page that serves, a load, the keeper's lights, and a timer thread beside them."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from controller.darkroom import Darkroom
from controller.data import DataFolder
from controller.desk import Desk
from controller.lateness.lights import KeeperLights
from controller.lateness.load import Burden, Load
from controller.lateness.machine import Machine
from controller.lateness.thread import TimerThread
from hardware.fitting import Fitting, read_fitting
from hardware.wire import Greeting


class Page(Protocol):
    """The web room, once it serves."""

    @property
    def port(self) -> int:
        """The port it listens at."""

    def close(self) -> None:
        """Serve no more."""


OpenPage = Callable[[Desk, Sequence[str], str, int], Page]


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
        page = open_page(darkroom, ("127.0.0.1", "localhost"), "127.0.0.1", 0)
        stack.callback(page.close)
        yield stack.enter_context(Burden(load, page.port, darkroom.pairing().new_code()))


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
