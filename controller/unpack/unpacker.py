"""Unpacks pictures that somebody brought, one at a time, by a process of its own.

A decoder takes memory that this process would never give back, and the fatter it is, the later it is dark after its
death. A process can be held to an amount, is the first to go where memory runs out, and is ended at once when a sheet
is opened.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from controller.errors import StoreTrouble, Unreadable, WrongMoment
from controller.words import say

if TYPE_CHECKING:
    from controller.unpack.greys import Coding, Fit

MODULE: Final = "controller.unpack.unpack_process"
MOST_BYTES: Final = 64_000_000
"""The largest file that is taken in."""
WAIT_S: Final = 20.0
"""How long a second picture waits for the first."""
MOST_S: Final = 300.0
"""How long one may take on a busy machine; the largest takes 3 s of a desktop machine's processor."""
_LEAST: Final = 100
"""Pixels that each side of a photograph must have."""
_ASK_SECONDS: Final = 0.04
_ROOT: Final = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Unpacked:
    """What came out of a picture: its size as it was written, whether it is deep, how it lies, its levels (`Greys`)."""

    width: int
    height: int
    deep: bool
    turned: int
    coding: Coding


class Unpacker:
    """Safe from any thread. `busy` tells whether a sheet is open or light is on: nothing is unpacked then."""

    def __init__(self, busy: Callable[[], bool]) -> None:
        self._busy = busy
        self._one = threading.RLock()

    @contextmanager
    def alone(self, name: str) -> Iterator[None]:
        """Let nobody else unpack a picture, or read all of one, meanwhile.

        Raises:
            WrongMoment: somebody else takes longer than one may wait; `name` is the file to bring again.
        """
        if not self._one.acquire(timeout=WAIT_S):
            raise WrongMoment(say("unpack.waiting", file=name))
        try:
            yield
        finally:
            self._one.release()

    def unpack(
        self, file: BinaryIO, name: str, fit: Fit, into: BinaryIO, *, least: int = 1, two_tones: bool = True
    ) -> Unpacked:
        """Write a picture's greys into a file, row by row as numbers of 16 bits; as `greys.read_greys`.

        Raises:
            Unreadable: it is no such picture, too large, too small, or takes too much memory or time.
            WrongMoment: another is being unpacked, or a sheet is open.
            StoreTrouble: the greys cannot be written, or no process can be begun.
        """
        order: dict[str, object] = {"pixels": fit.pixels, "side": fit.side, "least": least, "two_tones": two_tones}
        return self._done(file, name, into, order)

    def reduce(
        self, file: BinaryIO, name: str, into: BinaryIO, *, side: int, most_bytes: int, fine: bool = False
    ) -> Unpacked:
        """Write a photograph as a small JPEG of its greys, upright, its longer side at most so many pixels.

        A `fine` one is packed so that densities can be read off it, and its levels are sRGB.

        Raises:
            Unreadable, WrongMoment, StoreTrouble: as `unpack`.
        """
        # read twice as fine as it becomes at the most: on the way it is only ever divided by whole numbers
        fit: dict[str, object] = {"pixels": 4 * side * side, "side": 2 * side, "least": _LEAST, "two_tones": True}
        return self._done(file, name, into, fit | {"jpeg": {"side": side, "most_bytes": most_bytes}, "fine": fine})

    def _done(self, file: BinaryIO, name: str, into: BinaryIO, order: dict[str, object]) -> Unpacked:
        if file.seek(0, os.SEEK_END) > MOST_BYTES:
            raise Unreadable(say("unpack.heavy", file=name, most=MOST_BYTES // 1_000_000))
        file.flush()
        with self.alone(name):
            answer = self._answer(file, into, name, {"name": name} | order)
        if "refused" in answer:
            raise Unreadable(answer["refused"])
        if "full" in answer:
            raise StoreTrouble(say("unpack.full", file=name, detail=answer["full"]))
        return Unpacked(**answer)

    def _answer(self, file: BinaryIO, into: BinaryIO, name: str, order: dict[str, object]) -> dict[str, Any]:
        self._give_way(name)
        handles = (file.fileno(), into.fileno())
        try:
            process = subprocess.Popen(
                [sys.executable, "-P", "-m", MODULE, *map(str, handles)],
                stdin=subprocess.PIPE,  # its end tells the process of this one's
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                pass_fds=handles,
                env={"PYTHONPATH": str(_ROOT), "OPENBLAS_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "1"},
            )
        except OSError as problem:
            raise StoreTrouble(say("unpack.not-begun", file=name, detail=problem.strerror)) from problem
        told = process.stdin
        assert told is not None
        with process:
            try:
                with suppress(BrokenPipeError):
                    told.write(json.dumps(order).encode() + b"\n")
                    told.flush()
                return self._waited(process, name)
            finally:
                process.kill()
                with suppress(BrokenPipeError):
                    told.close()

    def _waited(self, process: subprocess.Popen[bytes], name: str) -> dict[str, Any]:
        until = time.monotonic() + MOST_S
        while True:
            self._give_way(name)
            if time.monotonic() > until:
                raise Unreadable(say("unpack.slow", file=name, most=round(MOST_S)))
            with suppress(subprocess.TimeoutExpired):
                process.wait(_ASK_SECONDS)
                break
        assert process.stdout is not None
        with suppress(ValueError):
            found = json.loads(process.stdout.read())
            assert isinstance(found, dict)
            return found
        if process.returncode < 0:  # the kernel's word: the memory was needed elsewhere, or it was damaged from within
            raise Unreadable(say("unpack.memory", file=name))
        raise StoreTrouble(say("unpack.not-begun", file=name, detail=f"exit {process.returncode}"))

    def _give_way(self, name: str) -> None:
        if self._busy():
            raise WrongMoment(say("unpack.given-up", file=name))
