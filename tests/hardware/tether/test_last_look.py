"""Checks when the keeper looks at the foot about a light: last before one comes on, early before one goes out."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from hardware.clock import ManualClock
from hardware.keeper import process
from hardware.open_lines import open_lines

START_NS, DUE_NS = 1_000_000_000, 1_500_000_000


class LoggingKeeper:
    """Stands where the keeper would, with one moment due, and takes down in which order it is called."""

    def __init__(self, clock: ManualClock, *, lit: bool) -> None:
        self.lit, self._clock = lit, clock
        self.calls: list[tuple[str, int]] = []

    def advance(self, now_ns: int) -> None:
        self.calls.append(("advance", now_ns))

    def poll(self, now_ns: int) -> None:
        self.calls.append(("look", now_ns))
        assert self._clock.now_ns() == now_ns

    def due_ns(self) -> int:
        return DUE_NS

    def exact_due(self) -> bool:
        return True


class Deaf:
    """An outlet that is gone once the loop has asked three times."""

    def __init__(self) -> None:
        self._asked = 0

    @property
    def gone(self) -> bool:
        self._asked += 1
        return self._asked > 2


@pytest.fixture
def pipe() -> Iterator[int]:
    reader, writer = os.pipe()
    yield reader
    os.close(reader)
    os.close(writer)


@pytest.mark.parametrize("lit", [True, False])
def test_the_look_at_the_foot_makes_no_light_longer(lit: bool, pipe: int, tmp_path: Path) -> None:
    """A dark edge follows its moment with nothing in between; a lamp that comes on has the foot looked at last."""
    clock = ManualClock(START_NS)
    keeper = LoggingKeeper(clock, lit=lit)
    lines = open_lines({"kind": "practice", "runtime": str(tmp_path)})
    try:
        process._loop(keeper, lines, process.PipeIn(pipe), Deaf(), clock, pipe)
    finally:
        lines.close()
    look_ns = DUE_NS - 250_000 if lit else DUE_NS
    assert keeper.calls == [("advance", START_NS), ("look", look_ns), ("advance", DUE_NS), ("look", DUE_NS)]
