"""The practice ring beside others: no reader and no writer waits for ever, and none sees half of what another does."""

from __future__ import annotations

import fcntl
import os
import struct
import threading
from pathlib import Path

import pytest

import hardware.practice.ring
from hardware.errors import LineError
from hardware.practice.ring import Ring

_COUNT_AT = 64


def test_a_damaged_ring_is_said_to_be_so(runtime: Path) -> None:
    """A count with no edge behind it, as a damaged file has, is told with the remedy; nobody looks for it for ever."""
    ring = Ring(runtime / "a.ring", capacity=8)
    ring.append(1, True)
    _count(ring, 2)
    with pytest.raises(LineError, match=r"a\.ring is damaged.*remove the file"):
        ring.level()
    ring.close()


def test_an_edge_that_is_counted_first_and_seen_later_is_not_lost(runtime: Path) -> None:
    """Where another core shows the count before the edge, as ARM's may, the edge is told once it is whole."""
    ring = Ring(runtime / "a.ring", capacity=8)
    ring.append(1, True)
    ring.append(2, False)
    whole = bytes(ring._map)
    ring._map[128 + 24 + 9] ^= 0x40
    assert ring.since(0) == ([(1, True)], 1)
    ring._map[:] = whole
    assert ring.since(1) == ([(2, False)], 2)
    ring.close()


def test_a_turn_of_who_stands_still_is_not_waited_for(runtime: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that was stopped while it held a line, or the making of one, holds nobody up for ever."""
    monkeypatch.setattr(hardware.practice.ring, "_TURN_WAIT_NS", 50_000_000)
    ring = Ring(runtime / "a.ring", capacity=8)
    other = os.open(runtime / "a.ring", os.O_RDWR)
    fcntl.flock(other, fcntl.LOCK_EX)
    with pytest.raises(LineError, match="stands still"), ring.turn():
        pytest.fail("the turn was another's")
    os.close(other)
    with ring.turn():
        ring.append(1, True)
    making = os.open(runtime / "a.making", os.O_RDWR)
    fcntl.flock(making, fcntl.LOCK_EX)
    with pytest.raises(LineError, match="stands still"):
        Ring(runtime / "a.ring")
    os.close(making)
    ring.close()


def test_two_threads_take_turns(runtime: Path) -> None:
    """Threads that share one ring's file take turns as processes do."""
    ring, inside, out = Ring(runtime / "a.ring", capacity=8), threading.Event(), threading.Event()
    order: list[str] = []

    def first() -> None:
        with ring.turn():
            inside.set()
            out.wait(0.2)  # in vain, where turns are kept
            order.append("first")

    def second() -> None:
        assert inside.wait(5)
        with ring.turn():
            order.append("second")
            out.set()

    threads = [threading.Thread(target=work) for work in (first, second)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(5)
    assert order == ["first", "second"]
    ring.close()


def _count(ring: Ring, count: int) -> None:
    ring._map[_COUNT_AT : _COUNT_AT + 8] = struct.pack("<Q", count)
