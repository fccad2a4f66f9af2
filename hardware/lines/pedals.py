"""USB foot pedals: keyboards to the kernel, read through evdev and taken from everybody else.

A pedal is closed while any of its keys is down; the contact is closed while any pedal is. A pedal may be missing,
and come and go while it runs: what is there works. Opening a USB device can sleep (Linux's usbhid waits 50 ms for
old presses to pass), so a pedal that came back is opened in a thread of its own and handed over.
"""

from __future__ import annotations

import errno
import logging
import os
import select
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, Final

from hardware.errors import LineError
from hardware.lines.usb_pedal import KeyEvent, Pedal, hear, let_go, open_pedal

_log = logging.getLogger(__name__)

AGAIN_SECONDS: Final = 1.0
"""A pedal that is missing is looked for this often."""


def open_pedals(paths: Sequence[str]) -> Pedals:
    """Open the pedals of these paths, such as /dev/input/by-id/usb-…-event-kbd; one that is missing is waited for.

    Raises:
        LineError: the library that reads them is not there.
    """
    try:
        # an import that takes longer than all the rest of a keeper's start
        from evdev import InputDevice
    except ImportError as problem:
        raise LineError(
            f"a USB pedal is wired, but evdev cannot be imported ({problem}): install Debian's python3-evdev in a venv "
            "with system site packages, or take the pedal out of the wiring"
        ) from problem
    return Pedals(paths, InputDevice)


class Pedals:
    """A contact (`hardware.lines.lines.Contact`) of all the pedals together."""

    def __init__(
        self,
        paths: Sequence[str],
        open_device: Callable[[str], Any],
        *,
        now: Callable[[], int] = time.monotonic_ns,
        again_seconds: float = AGAIN_SECONDS,
    ) -> None:
        """Open what is there; `open_device` returns a `Device` or raises OSError."""
        self._open_device, self._now, self._again_seconds = open_device, now, again_seconds
        self._ring = select.epoll()
        self._wakeup_in, self._wakeup_out = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        self._ring.register(self._wakeup_in, select.EPOLLIN)
        self._pedals: list[Pedal] = []
        self._closed_now: set[Pedal] = set()
        """As of the edges that have been told."""
        self._missing: dict[str, str] = {}
        """The paths that are not open, and why."""
        self._back: deque[Pedal] = deque()
        """Opened by the seeker, and not yet taken over; their paths are still among the missing."""
        self._last_ns = 0
        self._closing = threading.Event()
        self._seeker: threading.Thread | None = None
        for path in dict.fromkeys(paths):
            pedal = self._try(path)
            if pedal is not None:
                self._take(pedal)
                if pedal.down:
                    self._closed_now.add(pedal)
        self._seek()

    @property
    def missing(self) -> tuple[str, ...]:
        """The paths of the pedals that are not there now."""
        return tuple(self._missing)

    def fileno(self) -> int | None:
        """Return a descriptor that can be read when edges wait, or a pedal is there again."""
        return None if self._ring.closed else self._ring.fileno()

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first: (monotonic ns, closed)."""
        if self._ring.closed:
            return []
        self._welcome()
        moves = [move for pedal in tuple(self._pedals) for move in self._moves(pedal)]
        self._seek()
        edges: list[tuple[int, bool]] = []
        for at_ns, pedal, closed in sorted(moves, key=lambda move: move[0]):
            before = self.closed()
            (self._closed_now.add if closed else self._closed_now.discard)(pedal)
            if self.closed() != before:
                self._last_ns = max(self._last_ns, at_ns)
                edges.append((self._last_ns, not before))
        return edges

    def closed(self) -> bool:
        """Return the level as of the edges that were taken last.

        The kernel drops the events that wait when it is asked for the level, so it is asked where events were lost.
        """
        return bool(self._closed_now)

    def close(self) -> None:
        """Let the pedals go; closing twice does nothing."""
        self._closing.set()
        if self._seeker is not None:
            self._seeker.join(_CLOSE_SECONDS)
            if not self._seeker.is_alive():
                self._seeker = None
        for pedal in (*self._pedals, *self._back):
            let_go(pedal.device)
        self._pedals.clear()
        self._back.clear()
        self._closed_now.clear()
        self._ring.close()
        if self._seeker is None and self._wakeup_in >= 0:  # one that hangs may yet ring
            os.close(self._wakeup_in)
            os.close(self._wakeup_out)
            self._wakeup_in = self._wakeup_out = -1

    # ---- what the pedals say

    def _moves(self, pedal: Pedal) -> list[tuple[int, Pedal, bool]]:
        """Take what waits at one pedal: when it became closed and open."""
        moves: list[tuple[int, Pedal, bool]] = []
        try:
            for _ in range(_MOST_READS):
                for event in pedal.device.read():
                    before = bool(pedal.down)
                    hear(pedal, event)
                    if bool(pedal.down) != before:
                        moves.append((self._moment(pedal, event), pedal, not before))
        except BlockingIOError:
            pass
        except OSError as problem:
            moves.append((self._now(), pedal, False))
            self._lose(pedal, problem)
        return moves

    def _moment(self, pedal: Pedal, event: KeyEvent) -> int:
        now_ns = self._now()
        return min(now_ns, event.sec * 1_000_000_000 + event.usec * 1000) if pedal.stamped else now_ns

    # ---- coming and going

    def _try(self, path: str) -> Pedal | None:
        """Open one pedal, or take note of why it cannot be had; said once, until it is another reason."""
        try:
            return open_pedal(path, self._open_device)
        except OSError as problem:
            why = problem.strerror or str(problem)
            if self._missing.get(path) != why:
                _log.warning("the pedal %s cannot be had (%s); %s", path, why, _REMEDIES.get(problem.errno or 0, _WAIT))
            self._missing[path] = why
        return None

    def _take(self, pedal: Pedal) -> None:
        self._pedals.append(pedal)
        self._ring.register(pedal.device.fileno(), select.EPOLLIN)

    def _lose(self, pedal: Pedal, problem: OSError) -> None:
        gone = "unplugged" if problem.errno == errno.ENODEV else f"lost ({problem.strerror})"
        as_what = "; it was down, and counts as up" if pedal.down else ""
        _log.warning("the pedal %s is %s%s; waiting for it", pedal.path, gone, as_what)
        self._pedals.remove(pedal)
        with suppress(OSError):
            self._ring.unregister(pedal.device.fileno())
        let_go(pedal.device)
        self._missing[pedal.path] = _LOST

    def _welcome(self) -> None:
        """Take over what the seeker has opened."""
        with suppress(BlockingIOError):
            os.read(self._wakeup_in, 64)
        while self._back:
            pedal = self._back[0]
            # nobody has pressed a pedal that was plugged in with something standing on it
            pedal.stale, pedal.down = pedal.down, set()
            # no more missing before it leaves the queue, or the seeker would open it twice
            self._missing.pop(pedal.path, None)
            self._back.popleft()
            self._take(pedal)
            _log.warning("the pedal %s is there", pedal.path)

    def _seek(self) -> None:
        """See to it that what is missing is being looked for."""
        if self._missing and not (self._seeker is not None and self._seeker.is_alive()):
            self._seeker = threading.Thread(target=self._look, name="pedals", daemon=True)
            self._seeker.start()

    def _look(self) -> None:
        while not self._closing.wait(self._again_seconds):
            waiting = {pedal.path for pedal in tuple(self._back)}
            wanted = [path for path in tuple(self._missing) if path not in waiting]
            if not wanted:
                return
            for path in wanted:
                pedal = self._try(path)
                if pedal is not None and self._closing.is_set():
                    let_go(pedal.device)
                elif pedal is not None:
                    self._back.append(pedal)
                    with suppress(BlockingIOError):
                        os.write(self._wakeup_out, b"!")


_CLOSE_SECONDS: Final = 0.5
"""A device whose opening takes longer, as one on a USB port that hangs, is left to the thread that opens it."""
_MOST_READS: Final = 16
"""Of up to 64 events each: one pedal that never falls silent must not keep the loop from the lamp."""
_LOST: Final = "lost"
_WAIT: Final = "what is there works; waiting for this one"
_REMEDIES: Final = {
    errno.EACCES: "add the user to the group input",
    errno.EBUSY: "another program has taken it: end that one",
}
