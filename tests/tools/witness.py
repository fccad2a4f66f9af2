"""A witness of the machine's pace: it only sleeps and wakes, and notes when the machine itself woke it late.

What is measured by real time can be held up by the product or by the machine beneath it. The witness is a process of
its own, with a thread on each processor that has nothing to do but to wake every few milliseconds; where it too is
late, the machine stood still. It also notes the spans in which all that ran waited for the disk, as the kernel counts
them (/proc/pressure/io). Whoever only sleeps and wakes is let in at once, also where others take the rest: how little
of the processors a process got that makes way for others, it must ask for itself (`Share`). Nothing here tells of a
machine that is slow and steady: limits must have room for that.
"""

from __future__ import annotations

import mmap
import os
import struct
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Final

MS: Final = 1_000_000
STEP_NS: Final = 4 * MS
LATE_NS: Final = 12 * MS
"""A wake-up later than this is a stall."""
_DISK_NS: Final = 50 * MS
_DISK_SHARE: Final = 0.8
"""The disk held all up where something waited for it so much of such a span."""
_PRESSURE: Final = Path("/proc/pressure/io")
_SPAN: Final = struct.Struct("=qq")
_WORD: Final = 8
_SURE_S: Final = 5.0


class Witness:
    """A process that watches from now on, until `close`. It is nobody's child, so that tests may count their own.

    shared: the place of another's witness (its `place`), to ask that one; it must outlive this.
    """

    def __init__(self, shared: str = "") -> None:
        self._leash = -1
        place = shared or self._send_out()
        self._file = os.open(place, os.O_RDONLY | os.O_CLOEXEC)
        if not shared:
            self._seen_to(time.monotonic_ns())
            Path(place).unlink()
        self.pid = self._words(0, 1)[0]
        """Of its process."""

    def _send_out(self) -> str:
        """Start its process, on a leash; return where it writes."""
        told, place = tempfile.mkstemp(prefix="witness-")
        os.close(told)
        read, self._leash = os.pipe()
        command = [sys.executable, "-P", "-S", __file__, place, str(read)]
        subprocess.run(command, pass_fds=[read], check=True, stdin=subprocess.DEVNULL)
        os.close(read)
        return place

    @property
    def place(self) -> str:
        """Where others open what it writes, as long as this is open."""
        return f"/proc/{os.getpid()}/fd/{self._file}"

    def _words(self, first: int, count: int) -> tuple[int, ...]:
        return struct.unpack(f"={count}q", os.pread(self._file, count * _WORD, first * _WORD))

    def _seen_to(self, at_ns: int) -> None:
        """Wait until it has looked past a moment."""
        end = time.monotonic() + _SURE_S
        while os.fstat(self._file).st_size < _head(1) or min(self._words(2, self._words(1, 1)[0])) < at_ns:
            assert time.monotonic() < end, "the witness is gone"
            time.sleep(0.001)

    def stalls(self, since_ns: int, until_ns: int) -> list[tuple[int, int]]:
        """Return the spans, (from, to) in ns of the monotonic clock, in which the machine stood still, none twice."""
        self._seen_to(until_ns)
        body = os.pread(self._file, os.fstat(self._file).st_size, _head(self._words(1, 1)[0]))
        spans = sorted(
            (max(begin, since_ns), min(end, until_ns))
            for begin, end in _SPAN.iter_unpack(body[: len(body) // _SPAN.size * _SPAN.size])
            if begin < until_ns and end > since_ns
        )
        whole: list[tuple[int, int]] = []
        for begin, end in spans:
            if whole and begin <= whole[-1][1]:
                whole[-1] = whole[-1][0], max(end, whole[-1][1])
            else:
                whole.append((begin, end))
        return whole

    def held_ms(self, since_ns: int, until_ns: int) -> float:
        """Return for how many ms the machine stood still between two moments."""
        return sum(end - begin for begin, end in self.stalls(since_ns, until_ns)) / MS

    def late_ms(self, due_ns: int, at_ns: int) -> float:
        """Return how late something was, what the machine stood still meanwhile taken off."""
        late_ms = (at_ns - due_ns) / MS
        return late_ms - self.held_ms(due_ns, at_ns) if at_ns > due_ns else late_ms

    def close(self) -> None:
        """Let it go: it ends when the pipe does; where it is another's, it stays."""
        if self._leash >= 0:
            os.close(self._leash)
        os.close(self._file)


class Share:
    """How much of the processors this process gets, from now on: the threads it has now and in the end are asked."""

    def __init__(self) -> None:
        self._before = _spent_ns()

    def got(self) -> float:
        """Return the share: 1 where no thread that could have run had to wait. What ran for less than 1 ms got all."""
        after = _spent_ns()
        ran, waited = (
            sum(spent[at] - self._before.get(thread, (0, 0))[at] for thread, spent in after.items()) for at in (0, 1)
        )
        return ran / (ran + waited) if ran >= MS else 1.0


def _spent_ns() -> dict[str, tuple[int, int]]:
    """Return for how long each thread has run, and for how long it waited to, as the kernel counts it."""
    spent = {}
    for one in Path("/proc/self/task").glob("*/schedstat"):
        with suppress(OSError, ValueError, IndexError):  # the thread has ended; not every kernel counts it
            ran, waited = one.read_text("ascii").split()[:2]
            spent[one.parent.name] = int(ran), int(waited)
    return spent


class _Watch:
    """The witness's own side."""

    def __init__(self, place: str, processors: int) -> None:
        self._ends = os.open(place, os.O_RDWR | os.O_APPEND)
        os.write(self._ends, struct.pack(f"={2 + processors}q", os.getpid(), processors, *[0] * processors))
        # memory, not the file: hundreds of times in a second is often enough for a call to tell in the processors' time
        self._looked = memoryview(mmap.mmap(self._ends, _head(processors))).cast("q")[2:]

    def _late(self, since_ns: int, until_ns: int) -> None:
        os.write(self._ends, _SPAN.pack(since_ns, until_ns))

    def processor(self, turn: int, number: int) -> None:
        """Wake on one processor again and again."""
        os.sched_setaffinity(0, {number})
        looked, clock, sleep, step_s = self._looked, time.monotonic_ns, time.sleep, STEP_NS / 1e9
        since = clock()
        while True:
            sleep(step_s)
            now = clock()
            if now - since > STEP_NS + LATE_NS:
                self._late(since + STEP_NS, now)
            looked[turn] = since = now

    def disk(self) -> None:
        """Look how long something waited for the disk."""
        since, waited = time.monotonic_ns(), _waited_ns()
        while True:
            time.sleep(_DISK_NS / 1e9)
            now, more = time.monotonic_ns(), _waited_ns()
            if more - waited > _DISK_SHARE * (now - since):
                self._late(since, now)
            since, waited = now, more


def _waited_ns() -> int:
    """Return for how long, since the machine began, something waited for the disk."""
    return int(_PRESSURE.read_text().splitlines()[0].rpartition("=")[2]) * 1000


def _head(processors: int) -> int:
    """Return how many bytes stand before the first stall."""
    return (2 + processors) * _WORD


def main(place: str, leash: int) -> None:
    """Watch until the other end of the pipe is closed."""
    if os.fork():
        os._exit(0)
    os.setsid()
    processors = sorted(os.sched_getaffinity(0))
    watch = _Watch(place, len(processors))
    for turn, number in enumerate(processors):
        threading.Thread(target=watch.processor, args=(turn, number), daemon=True).start()
    with suppress(OSError, IndexError, ValueError):  # not every kernel counts it
        _waited_ns()
        threading.Thread(target=watch.disk, daemon=True).start()
    os.read(leash, 1)
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
