"""`treadle check`: what stands between this machine and a safe light, one line a finding, with the remedy."""

from __future__ import annotations

import os
import resource
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final, Literal

from controller.data import DataFolder
from controller.errors import ControllerError
from controller.journal import ROOM, Journal, Stamp
from controller.sheet import Frozen
from controller.shelf import Shelf
from controller.wall import synchronised
from controller.wiring import fitted
from controller.words import say
from hardware.child import KeeperConfig
from hardware.clock import MonotonicClock
from hardware.errors import HardwareError
from hardware.tether import Tether
from hardware.wire import Greeting

_QUICK_MS: Final = 1500
_OLDEST: Final = (3, 11)

Level = Literal["good", "note", "fault"]


class Finding(Frozen):
    """One thing that was looked at: good, worth a note, or a fault that keeps light from being safe."""

    name: str
    level: Level
    words: str


class Report(Frozen):
    """All that was looked at."""

    findings: tuple[Finding, ...]

    @property
    def good(self) -> bool:
        """Nothing is at fault; notes may stand."""
        return all(finding.level != "fault" for finding in self.findings)

    def lines(self) -> tuple[str, ...]:
        """Return one line a finding."""
        return tuple(f"{say(f'command.level-{found.level}')} {found.words}" for found in self.findings)


def check(data: DataFolder, *, simulate: bool) -> Report:
    """Look at everything that can be looked at without light; nothing is lit, and a running daemon is left alone."""
    return Report(findings=tuple(_findings(data, simulate=simulate)))


def _findings(data: DataFolder, *, simulate: bool) -> Iterator[Finding]:
    yield _python()
    yield _room(data.path)
    yield from _store("journal", lambda: Journal.open(data.journal, MonotonicClock(), Stamp.here()), data)
    yield from _store("shelf", lambda: Shelf.open(data.shelf), data)
    yield _clock()
    yield _priority()
    yield from _keeper(data, simulate=simulate)


def _found(name: str, level: Level, key: str, **values: object) -> Finding:
    return Finding(name=name, level=level, words=say(f"command.check-{key}", **values))


def _python() -> Finding:
    have = sys.version_info[:2]
    words = ".".join(str(part) for part in have)
    return _found(
        "python", "good" if have >= _OLDEST else "fault", "python" if have >= _OLDEST else "python-old", have=words
    )


def _room(folder: Path) -> Finding:
    free = shutil.disk_usage(folder).free
    if not os.access(folder, os.W_OK):
        return _found("disk", "fault", "disk-unwritable", folder=folder)
    if free < ROOM:
        return _found("disk", "fault", "disk-full", folder=folder, free=free // 1_000_000)
    return _found("disk", "good", "disk", folder=folder, free=free // 1_000_000)


def _store(name: str, open_it: Callable[[], Journal | Shelf], data: DataFolder) -> Iterator[Finding]:
    """Open a store as the daemon would, unless the daemon has it."""
    try:
        with data.locked():
            open_it().close()
    except ControllerError as problem:
        yield Finding(name=name, level="fault" if not _daemon_has(data) else "note", words=str(problem))
        return
    yield _found(name, "good", f"{name}-whole")


def _daemon_has(data: DataFolder) -> bool:
    try:
        with data.locked():
            return False
    except ControllerError:
        return True


def _clock() -> Finding:
    return _found("clock", "good", "clock") if synchronised() else _found("clock", "note", "clock-unset")


def _priority() -> Finding:
    limit = resource.getrlimit(resource.RLIMIT_RTPRIO)[0]
    allowed = os.geteuid() == 0 or limit == resource.RLIM_INFINITY or limit > 0
    return _found("priority", "good", "priority") if allowed else _found("priority", "note", "priority-none")


def _keeper(data: DataFolder, *, simulate: bool) -> Iterator[Finding]:
    """Start a keeper as the daemon would, hear its greeting, and let it go; it lights nothing."""
    try:
        fitting = fitted(data.path, os.environ, practice=simulate)
    except (HardwareError, ControllerError) as problem:
        yield Finding(name="lines", level="fault", words=str(problem))
        return
    if fitting.wiring is not None:
        yield Finding(name="lines", level="good", words=say("wiring.used", name=fitting.wiring))
    if _daemon_has(data):
        yield _found("keeper", "note", "keeper-busy")
        return
    clock = MonotonicClock()
    tether = Tether(KeeperConfig(fitting.lines, fitting.runtime), lambda _event: None)
    began_ns = clock.now_ns()
    try:
        greeting = tether.start()
    except HardwareError as problem:
        yield Finding(name="keeper", level="fault", words=str(problem))
        return
    took_ms = (clock.now_ns() - began_ns) // 1_000_000
    tether.close()
    yield _found("keeper", "good" if took_ms < _QUICK_MS else "note", "keeper", ms=took_ms)
    yield from _greeted(greeting)


def _greeted(greeting: Greeting) -> Iterator[Finding]:
    fifo, sounder = greeting.scheduling == "fifo", "sounder" in greeting.features
    yield _found("scheduling", "good" if fifo else "note", "fifo" if fifo else "fifo-none")
    yield _found("memory", "good" if greeting.locked else "note", "locked" if greeting.locked else "locked-none")
    yield _found("sounder", "good" if sounder else "fault", "sounder" if sounder else "sounder-none")
    yield _found("contact", "good" if greeting.at_rest else "fault", "rest" if greeting.at_rest else "rest-none")
