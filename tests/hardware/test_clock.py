"""The clocks."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator

import pytest

from hardware.clock import ManualClock, MonotonicClock, boot_id

pytestmark = pytest.mark.usefixtures("by_real_time")

MS = 1_000_000


@pytest.fixture
def pipe() -> Iterator[tuple[int, int]]:
    ends = os.pipe()
    yield ends
    for fd in ends:
        os.close(fd)


def test_the_monotonic_clock_never_comes_back_before_an_exact_deadline() -> None:
    """An exact wait ends at its deadline or after it, never before."""
    clock = MonotonicClock()
    for _ in range(20):
        deadline = clock.now_ns() + 2 * MS
        assert clock.wait([], deadline, exact=True) == []
        assert clock.now_ns() >= deadline


def test_a_deadline_that_has_passed_does_not_wait(pipe: tuple[int, int]) -> None:
    """A wait for the past looks at the descriptors once and returns."""
    clock = MonotonicClock()
    before = time.monotonic_ns()
    assert clock.wait([pipe[0]], before - 1000 * MS, exact=True) == []
    assert time.monotonic_ns() - before < 500 * MS


@pytest.mark.parametrize("exact", [False, True])
@pytest.mark.parametrize("clock", [MonotonicClock(), ManualClock(7)])
def test_what_can_be_read_ends_the_wait(
    clock: MonotonicClock | ManualClock, exact: bool, pipe: tuple[int, int]
) -> None:
    """A descriptor that can be read ends a wait long before its deadline."""
    before = clock.now_ns()
    os.write(pipe[1], b"x")
    assert clock.wait([pipe[0]], before + 60_000 * MS, exact=exact) == [pipe[0]]
    assert clock.now_ns() - before < 30_000 * MS


def test_without_a_deadline_the_descriptor_alone_ends_the_wait(pipe: tuple[int, int]) -> None:
    """A wait without a deadline ends when something can be read, and the end of a pipe can be."""
    reader, writer = os.pipe()
    os.close(writer)
    try:
        assert MonotonicClock().wait([pipe[0], reader], None) == [reader]
    finally:
        os.close(reader)


def test_the_manual_clock_jumps_to_the_deadline_and_never_back() -> None:
    """The stand-in stands still until it is set or waited on, and never goes back."""
    clock = ManualClock(5)
    assert clock.now_ns() == clock.now_ns() == 5
    assert clock.wait([], 3_600_000 * MS) == []
    assert clock.now_ns() == 3_600_000 * MS
    assert clock.wait([], 4) == []
    assert clock.now_ns() == 3_600_000 * MS
    with pytest.raises(ValueError, match="cannot go back"):
        clock.set(4)


def test_the_boot_has_one_name() -> None:
    """The boot's name is the same whenever it is asked for, and fits the slate."""
    assert boot_id() == boot_id()
    assert 0 < len(boot_id()) <= 64
