"""The practice contacts: foot switch and paper-box lid, their edges in a ring, a doorbell to wake the reader.

Whoever moves the contact stamps the edge, writes it to the ring and rings: a datagram to the reader's socket.
An edge is never lost to a full socket or an absent reader, and the level outlives everybody.
"""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.practice.faults import Faults, PracticeFault
from hardware.practice.ring import Ring

FOOT: Final = "foot"
FOOT_REST: Final = "foot_rest"
"""The changeover foot switch's other line: closed while the foot contact is open; it has no ring of its own."""
LID: Final = "lid"
CLOSED_AT_FIRST: Final = {FOOT: False, LID: True}
"""A foot is up and a box is shut until somebody says otherwise."""

_CAPACITY: Final = 16_384
_CHATTER_NS: Final = 5_000_000
_CHATTER_CLOSED_NS: Final = 3_000_000


def contact_ring(runtime: Path, name: str) -> Ring:
    """Return the ring of the contact `name`, "foot" or "lid"."""
    name = FOOT if name == FOOT_REST else name
    return Ring(runtime / f"{name}.ring", level=CLOSED_AT_FIRST[name], capacity=_CAPACITY)


def ring_doorbell(runtime: Path, name: str) -> None:
    """Wake the contact's reader; where there is none, or it is not keeping up, nothing is lost by that."""
    with (
        _short(runtime) as folder,
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as bell,
    ):
        for reader in (FOOT, FOOT_REST) if name == FOOT else (name,):
            with suppress(FileNotFoundError, ConnectionRefusedError, BlockingIOError):
                bell.sendto(b"!", f"{folder}/{reader}")


class PracticeContact:
    """The keeper's end of a practice contact."""

    def __init__(
        self,
        runtime: Path,
        name: str = FOOT,
        *,
        now: Callable[[], int] = time.monotonic_ns,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        """Open the contact at the level it has; edges from before are not told.

        Raises:
            LineError: its files cannot be had.
        """
        self._now, self._wait = now, wait
        self._faulty = name == FOOT
        self._inverse = name == FOOT_REST
        self._path = runtime / name
        self._ring = contact_ring(runtime, name)
        self._faults = Faults(runtime)
        self._next = self._ring.count()
        self._raw = self._ring.level() != self._inverse
        self._read_ns = now()
        self._told = self._level()
        self._bell = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
        try:
            with _short(runtime) as folder:
                # the name is the newest reader's: an older one has died, or will find its doorbell dead and poll
                self._path.unlink(missing_ok=True)
                self._bell.bind(f"{folder}/{name}")
        except OSError as problem:
            self.close()
            raise LineError(
                f"the practice contact {self._path} cannot be opened ({problem}): make its folder writable"
            ) from problem

    def fileno(self) -> int | None:
        """Return the doorbell's descriptor."""
        return self._bell.fileno()

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first: (monotonic ns, closed)."""
        self._drain()
        while self._faulty and self._faults.on(PracticeFault.KEEPER_HANGS):
            self._wait(0.01)
        now = self._now()
        moved, self._next = self._ring.since(self._next)
        raw = [(at_ns, closed != self._inverse) for at_ns, closed in moved]
        if self._forced() is not None:
            heard: list[tuple[int, bool]] = []
        elif self._chatters():
            heard = self._chatter(raw, now)
        else:
            heard = raw
        # a reader that slept until the ring lapped it has lost edges, never the level
        self._raw = raw[-1][1] if raw else self._ring.level() != self._inverse
        self._read_ns = now
        out: list[tuple[int, bool]] = []
        for at_ns, closed in [*heard, (now, self._level())]:
            if closed != self._told:
                out.append((at_ns, closed))
                self._told = closed
        return out

    def closed(self) -> bool:
        """Return the level now."""
        return self._level()

    def close(self) -> None:
        """Let the line go; closing twice does nothing."""
        if self._bell.fileno() >= 0:
            self._bell.close()
        self._ring.close()
        self._faults.close()

    def _forced(self) -> bool | None:
        if self._faulty and self._faults.on(PracticeFault.CONTACT_STUCK):
            return True
        if self._faulty and self._faults.on(PracticeFault.PEDAL_WIRE_BROKEN):
            return False
        if self._inverse and self._faults.on(PracticeFault.REST_WIRE_BROKEN):
            return False
        return None

    def _level(self) -> bool:
        forced = self._forced()
        if forced is not None:
            return forced
        closed = self._ring.level() != self._inverse
        if closed and self._chatters():
            return self._now() % _CHATTER_NS < _CHATTER_CLOSED_NS
        return closed

    def _chatters(self) -> bool:
        return self._faulty and self._faults.on(PracticeFault.CONTACT_CHATTERS)

    def _chatter(self, raw: Sequence[tuple[int, bool]], now: int) -> list[tuple[int, bool]]:
        """Return the edges since the last reading with those that chatter adds while the contact is closed."""
        out: list[tuple[int, bool]] = []
        closed, since = self._raw, self._read_ns
        for at_ns, level in raw:
            out += chatter(since, at_ns) if closed else []
            out.append((at_ns, level))
            closed, since = level, at_ns
        return out + (chatter(since, now) if closed else [])

    def _drain(self) -> None:
        try:
            while True:
                self._bell.recv(16)
        except BlockingIOError:
            return


def chatter(start_ns: int, end_ns: int) -> list[tuple[int, bool]]:
    """Return the edges of a chattering closed contact after `start_ns` and before `end_ns`: 3 of 5 ms closed."""
    edges: list[tuple[int, bool]] = []
    turn = start_ns - start_ns % _CHATTER_NS
    while turn < end_ns:
        edges += [(turn, True), (turn + _CHATTER_CLOSED_NS, False)]
        turn += _CHATTER_NS
    return [edge for edge in edges if start_ns < edge[0] < end_ns]


@contextmanager
def _short(runtime: Path) -> Iterator[str]:
    """Give a short name for the folder: a socket's whole path may have 107 characters at most."""
    if len(os.fsencode(runtime)) < 90:
        yield str(runtime)
        return
    fd = os.open(runtime, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{fd}"
    finally:
        os.close(fd)
