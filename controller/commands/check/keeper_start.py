"""The keeper: what it is allowed, how long it takes to start, and what it says of the lines it is given."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine
from hardware.clock import NS_PER_MS, MonotonicClock
from hardware.errors import HardwareError
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether
from hardware.wire import Greeting

QUICK_MS: Final = 1500
"""Longer than this, and a keeper that is lost twice in a row is slow to be back dark."""


def look_at_priority(machine: Machine) -> Finding:
    """Look whether real-time priority may be asked for at all."""
    return (
        found("priority", "good", "check.priority")
        if machine.may_use_priority()
        else found("priority", "advice", "check.priority-none")
    )


def look_at_keeper() -> Iterator[Finding]:
    """Start a keeper on practice lines of its own, beside whatever runs, and hear what it was granted."""
    with tempfile.TemporaryDirectory(prefix="treadle-check-") as folder:
        runtime = Path(folder)
        try:
            greeting, took_ms = greet({"kind": "practice", "runtime": folder}, runtime)
        except HardwareError as problem:
            yield Finding(name="keeper", level="must", words=str(problem))
            return
    quick = took_ms < QUICK_MS
    yield found("keeper", "good" if quick else "advice", "check.keeper" if quick else "check.keeper-slow", ms=took_ms)
    fifo = greeting.scheduling == "fifo"
    yield found("scheduling", "good" if fifo else "advice", "check.fifo" if fifo else "check.fifo-none")
    yield found(
        "memory", "good" if greeting.locked else "advice", "check.locked" if greeting.locked else "check.locked-none"
    )


def look_at_lines(lines: Mapping[str, object], runtime: Path) -> Iterator[Finding]:
    """Let a keeper take the darkroom's own lines, as a daemon would, dark, and let them go again."""
    try:
        greeting, _ = greet(lines, runtime)
    except HardwareError as problem:
        yield Finding(name="lines", level="must", words=str(problem))
        return
    yield found("lines", "good", "check.lines", lamps=", ".join(greeting.lamps))
    sounder = "sounder" in greeting.features
    yield found("sounder", "good" if sounder else "advice", "check.sounder" if sounder else "check.sounder-none")
    yield found(
        "contact", "good" if greeting.at_rest else "must", "check.rest" if greeting.at_rest else "check.rest-none"
    )


def greet(lines: Mapping[str, object], runtime: Path) -> tuple[Greeting, int]:
    """Start a keeper, let it go, and return its greeting and the ms it took.

    Raises:
        KeeperAway: it did not come up; the text says why.
    """
    clock = MonotonicClock()
    tether = Tether(KeeperConfig(lines, runtime), lambda _event: None)
    began_ns = clock.now_ns()
    greeting = tether.start()
    took_ms = (clock.now_ns() - began_ns) // NS_PER_MS
    tether.close()
    return greeting, took_ms
