"""A ring of edges in a file: what a line did, in an order that outlives whoever wrote it.

The file is mapped into memory and shared. Every edge carries its number and a checksum, and counts as soon
as both are whole, so a writer killed half-way leaves the ring as it was. Monotonic times mean nothing after
a reboot: a ring of an earlier boot is begun anew.
"""

from __future__ import annotations

import fcntl
import mmap
import os
import struct
import threading
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from hardware.errors import LineBusy, LineError

CAPACITY: Final = 65_536
_MAGIC: Final = b"TRDLRNG1"
_HEAD: Final = struct.Struct("<8sIIQ36s")  # magic, capacity, level before the first edge, owner's pid, boot id
_COUNT_AT: Final = 64
_OWNER_AT: Final = 16
_U64: Final = struct.Struct("<Q")
_SLOTS_AT: Final = 128
_BODY: Final = struct.Struct("<QqI")  # number from 0, monotonic ns, level
_SUM: Final = struct.Struct("<I")
_SLOT: Final = _BODY.size + _SUM.size
_CLAIM_WAIT_NS: Final = 60_000_000
_TURN_WAIT_NS: Final = 2_000_000_000
"""A turn takes microseconds: who has held one for so long stands still."""
_PAUSE_SECONDS: Final = 0.001
_LOOKS: Final = 1000
"""A writer on another core shows its count some moments before its edge, at most."""


def boot_id() -> str:
    """Return this boot's id as the kernel gives it, or 36 dashes where it gives none."""
    try:
        text = Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        text = ""
    return text if len(text) == 36 else "-" * 36


class Ring:
    """The last `capacity` edges of one line; one writer at a time, any number of readers."""

    def __init__(self, path: Path, *, level: bool = False, capacity: int = CAPACITY) -> None:
        """Open the ring, or begin it with `level` as the level before its first edge.

        Raises:
            LineError: the file cannot be made or is no ring.
        """
        self.path = path
        self._fd = -1
        self._claimed = False
        self._threads = threading.Lock()  # those of one process share the file's lock
        try:
            with _turn(path.with_suffix(".making")):
                if not _is_of_this_boot(path):
                    _begin(path, level, capacity)
                self._fd = os.open(path, os.O_RDWR | os.O_CLOEXEC)
            head = os.pread(self._fd, _HEAD.size, 0)
            if len(head) < _HEAD.size or head[:8] != _MAGIC:
                raise ValueError("it is no practice line")
            _, self.capacity, first, _, _ = _HEAD.unpack(head)
            self._map = mmap.mmap(self._fd, _SLOTS_AT + self.capacity * _SLOT)
        except (OSError, ValueError) as problem:
            if self._fd >= 0:
                os.close(self._fd)
                self._fd = -1
            raise LineError(
                f"the practice line {path} cannot be opened ({problem}): "
                "make its folder writable, or remove the file while nothing runs"
            ) from problem
        self._first = bool(first)

    # ---- reading

    def count(self) -> int:
        """Return how many edges were ever written, the one a killed writer had just finished included."""
        count: int = _U64.unpack_from(self._map, _COUNT_AT)[0]
        while self._slot(count) is not None:
            count += 1
        return count

    def level(self) -> bool:
        """Return the level after the last edge."""
        last = self.last()
        return self._first if last is None else last[1]

    def last(self) -> tuple[int, bool] | None:
        """Return the last edge, (monotonic ns, level), or None where there was none.

        Raises:
            LineError: the file is damaged.
        """
        for _ in range(_LOOKS):
            count = self.count()
            if count == 0:
                return None
            if (edge := self._slot(count - 1)) is not None:
                return edge
        raise LineError(f"the practice line {self.path} is damaged: remove the file while nothing runs")

    def since(self, number: int) -> tuple[list[tuple[int, bool]], int]:
        """Return the edges from `number` (counted from 0) on, oldest first, and the number to ask from next.

        Edges that were overwritten meanwhile are left out; the last ones are told next time where they are counted
        and not yet whole.
        """
        count = self.count()
        found = [self._slot(n) for n in range(max(number, count - self.capacity), count)]
        while found and found[-1] is None:
            found.pop()
            count -= 1
        return [edge for edge in found if edge is not None], count

    def _slot(self, number: int) -> tuple[int, bool] | None:
        """Return edge `number` where it is whole and not overwritten, else None."""
        at = _SLOTS_AT + number % self.capacity * _SLOT
        raw = self._map[at : at + _SLOT]
        seen, at_ns, level = _BODY.unpack_from(raw)
        if seen != number or _SUM.unpack_from(raw, _BODY.size)[0] != _sum(raw[: _BODY.size]):
            return None
        return at_ns, bool(level)

    # ---- writing

    def append(self, at_ns: int, level: bool) -> None:
        """Write an edge; the caller has claimed the ring or holds its turn."""
        number = self.count()
        body = _BODY.pack(number, at_ns, level)
        at = _SLOTS_AT + number % self.capacity * _SLOT
        self._map[at : at + _SLOT] = body + _SUM.pack(_sum(body))
        self._map[_COUNT_AT : _COUNT_AT + 8] = _U64.pack(number + 1)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Hold the ring for a moment, against other writers, for lines that several may write.

        Raises:
            LineError: another one has held it for two seconds.
        """
        with self._threads:
            _take(self._fd, self.path)
            try:
                yield
            finally:
                fcntl.flock(self._fd, fcntl.LOCK_UN)

    def claim(self) -> None:
        """Become the ring's owner until `close` or death, as a process owns an output line.

        Raises:
            LineBusy: another owner has it.
        """
        until = time.monotonic_ns() + _CLAIM_WAIT_NS
        while True:
            try:
                fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                # `owned` of another process holds the lock for microseconds; an owner holds it for good
                if time.monotonic_ns() >= until:
                    pid = self.owner()
                    raise LineBusy(
                        f"line busy: {self.path.stem} is held by process {pid}; stop that one first", pid
                    ) from None
                time.sleep(0.002)
            else:
                self._claimed = True
                self._map[_OWNER_AT : _OWNER_AT + 8] = _U64.pack(os.getpid())
                return

    def owner(self) -> int:
        """Return the process id of the last owner, 0 where there was none."""
        pid: int = _U64.unpack_from(self._map, _OWNER_AT)[0]
        return pid

    def owned(self) -> bool:
        """Tell whether an owner other than this object lives."""
        if self._claimed:
            return False
        try:
            fcntl.flock(self._fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        fcntl.flock(self._fd, fcntl.LOCK_UN)
        return False

    def close(self) -> None:
        """Let the file go; closing twice does nothing."""
        if self._fd >= 0:
            self._map.close()
            os.close(self._fd)
            self._fd = -1


def _sum(body: bytes) -> int:
    # never 0, so that an empty slot is no edge
    return zlib.crc32(body) ^ 0x5EED_F007


def _is_of_this_boot(path: Path) -> bool:
    """Tell whether the file stands and is of this boot; a file that is no ring is for `__init__` to refuse."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD.size)
    except FileNotFoundError:
        return False
    if len(head) < _HEAD.size or head[:8] != _MAGIC:
        return True
    return bool(_HEAD.unpack(head)[4] == boot_id().encode())


def _begin(path: Path, level: bool, capacity: int) -> None:
    fresh = path.with_suffix(".fresh")
    fd = os.open(fresh, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
    try:
        os.ftruncate(fd, _SLOTS_AT + capacity * _SLOT)
        os.pwrite(fd, _HEAD.pack(_MAGIC, capacity, level, 0, boot_id().encode()), 0)
    finally:
        os.close(fd)
    fresh.replace(path)


@contextmanager
def _turn(path: Path) -> Iterator[None]:
    fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        _take(fd, path)
        yield
    finally:
        os.close(fd)


def _take(fd: int, path: Path) -> None:
    """Take the lock of an open file; raise LineError where another one keeps it."""
    until = time.monotonic_ns() + _TURN_WAIT_NS
    while True:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic_ns() >= until:
                raise LineError(
                    f"the practice line {path} is held by a process that stands still: end that one, and try again"
                ) from None
            time.sleep(_PAUSE_SECONDS)
        else:
            return
