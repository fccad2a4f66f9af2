"""Has previews rendered beside the light: by a process of its own, held back, that is ended when a sheet is opened.

The process waits for a while after its last print, for the next one is then there at once; the last pictures are kept.
"""

from __future__ import annotations

import hashlib
import json
import os
import select
import subprocess
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from controller.errors import Impossible, StoreTrouble, WrongMoment
from controller.paper.libraries import missing_libraries
from controller.preview.orders import Order, Shown
from controller.words import say

MODULE: Final = "controller.daemon.preview_process"
KEPT: Final = 12
"""Pictures that are not rendered anew: some 3 MB."""
IDLE_S: Final = 120.0
"""After its last print the process waits so long for another."""
WAIT_S: Final = 20.0
"""How long a second print waits for the first."""
MOST_S: Final = 60.0
"""How long one may take; the largest takes a second of a desktop machine's processor."""
_ASK_SECONDS: Final = 0.04
_PIECE: Final = 1 << 16
_ROOT: Final = Path(__file__).resolve().parents[2]
Rendered = tuple[bytes, Shown]


class PreviewRenderer:
    """Safe from any thread. `busy` tells whether a sheet is open or light is on: nothing is rendered then."""

    def __init__(self, busy: Callable[[], bool]) -> None:
        self._busy = busy
        self._one = threading.Lock()
        self._kept: OrderedDict[str, Rendered] = OrderedDict()
        self._process: subprocess.Popen[bytes] | None = None
        self._timer: threading.Timer | None = None

    def render(self, order: Order, picture: Path) -> Rendered:
        """Return what an order makes of a kept picture: a PNG, and its figures.

        Raises:
            Impossible: the two tones do not tie this scan, or the libraries are missing; the sentence says which.
            WrongMoment: another is being rendered, or a sheet is open.
            StoreTrouble: no process can be begun, or it was ended.
        """
        if missing := missing_libraries():
            raise Impossible(say("preview.libraries", names=missing))
        asked = json.dumps({"picture": str(picture), "order": order.model_dump(mode="json")}).encode()
        key = hashlib.sha256(asked).hexdigest()
        if not self._one.acquire(timeout=WAIT_S):
            raise WrongMoment(say("preview.waiting"))
        try:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            self._give_way()
            told, png = self._answer(asked)
            if "refused" in told:
                raise Impossible(told["refused"])
            self._kept[key] = png, Shown.model_validate(told["shown"])
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return self._kept[key]
        finally:
            self._wait_for_another()
            self._one.release()

    def close(self) -> None:
        """End the process."""
        with self._one:
            if self._timer is not None:
                self._timer.cancel()
            self._end()

    def _answer(self, asked: bytes) -> tuple[dict[str, Any], bytes]:
        process = self._begun()
        assert process.stdin is not None
        try:
            with suppress(BrokenPipeError):
                process.stdin.write(asked + b"\n")
                process.stdin.flush()
            return self._waited(process)
        except BaseException:
            self._end()
            raise

    def _begun(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self._end()
        if self._process is None:
            try:
                self._process = subprocess.Popen(
                    [sys.executable, "-P", "-m", MODULE],
                    stdin=subprocess.PIPE,  # its end tells the process of this one's
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    env={"PYTHONPATH": str(_ROOT), "OPENBLAS_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "1"},
                )
            except OSError as problem:
                raise StoreTrouble(say("preview.not-begun", detail=problem.strerror)) from problem
        return self._process

    def _waited(self, process: subprocess.Popen[bytes]) -> tuple[dict[str, Any], bytes]:
        """Return the answer once it has come; give way to a sheet meanwhile."""
        assert process.stdout is not None
        out, until = process.stdout.fileno(), time.monotonic() + MOST_S
        come, told, wanted = b"", None, 0
        while told is None or len(come) < wanted:
            self._give_way()
            if time.monotonic() > until:
                raise StoreTrouble(say("preview.slow", most=round(MOST_S)))
            if not select.select([out], [], [], _ASK_SECONDS)[0]:
                continue
            piece = os.read(out, _PIECE)
            if not piece:
                raise StoreTrouble(say("preview.ended"))
            come += piece
            if told is None and b"\n" in come:
                line, _, come = come.partition(b"\n")
                told = json.loads(line)
                wanted = told["bytes"]
        return told, come

    def _give_way(self) -> None:
        if self._busy():
            raise WrongMoment(say("preview.given-up"))

    def _wait_for_another(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(IDLE_S, self._rested)
        self._timer.daemon = True
        self._timer.start()

    def _rested(self) -> None:
        if self._one.acquire(blocking=False):  # else one is rendered just now, and waits anew afterwards
            try:
                self._end()
            finally:
                self._one.release()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        for pipe in (process.stdin, process.stdout):
            assert pipe is not None
            with suppress(OSError):
                pipe.close()
        process.wait()
