"""What the service manager is told: that the daemon is ready, that it still answers, and that it is stopping.

systemd's own protocol, a datagram to the socket that its environment names (sd_notify(3), sd_watchdog_enabled(3)).
Where there is no service manager nothing is said.
"""

from __future__ import annotations

import logging
import os
import select
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Final

from hardware.clock import Clock, MonotonicClock

_log = logging.getLogger(__name__)

FRESH_NS: Final = 2_500_000_000
"""Runner and keeper must both have gone round within this: the runner does so each second, and a keeper that hangs
is killed and replaced within little more than one."""
_SAY_SECONDS: Final = 1.0
"""A manager that has not read for so long is told nothing."""
_FEEDS: Final = 4
"""Times in a watchdog's span that it is fed."""
_LOOK_SECONDS: Final = 1.0
"""How often is looked how things stand; said only where that has changed."""


class Notifier:
    """Speaks to the service manager that `environment` names."""

    def __init__(self, environment: Mapping[str, str] = os.environ, clock: Clock | None = None) -> None:
        self._clock: Clock = MonotonicClock() if clock is None else clock
        self._place = environment.get("NOTIFY_SOCKET", "")
        self.feed_seconds = _feed_seconds(environment)
        """How often the watchdog is fed; None where nobody watches."""

    @contextmanager
    def serving(self, answered_ns: Callable[[], int], standing: Callable[[], str] | None = None) -> Iterator[None]:
        """Say that the daemon is ready, feed the watchdog meanwhile, and say in the end that it is stopping.

        `standing` returns in a line how things stand: what `systemctl status` shows. `answered_ns` returns the moment
        up to which the timing loop is known to have answered. The watchdog goes hungry while that lies more than
        2.5 s back; a daemon that hangs is then ended and started again, dark.
        """
        self.say("READY=1")
        ended = threading.Event()
        threads = []
        if self.feed_seconds is not None:
            threads.append(threading.Thread(target=self._feed, args=(answered_ns, ended), name="watchdog", daemon=True))
        if standing is not None and self._place:
            threads.append(threading.Thread(target=self._show, args=(standing, ended), name="standing", daemon=True))
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            ended.set()
            for thread in threads:
                thread.join()
            self.say("STOPPING=1")

    def say(self, state: str) -> None:
        """Send one state; a manager that cannot be reached is no reason to stop."""
        self._send(state)

    def _send(self, state: str, *descriptors: int) -> None:
        if not self._place:
            return
        # a name that begins with @ is of the abstract kind, which has a zero byte there
        place = f"\0{self._place[1:]}" if self._place.startswith("@") else self._place
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as way:
                way.settimeout(_SAY_SECONDS)
                way.connect(place)
                socket.send_fds(way, [state.encode()], descriptors)
        except OSError as problem:
            _log.warning("the service manager was not told %s: %s", state, problem)

    def say_last(self, state: str) -> None:
        """Send one state and wait until it was read: what a process that ends at once has said would be lost."""
        self.say(state)
        heard, hand = os.pipe2(os.O_CLOEXEC)
        try:
            self._send("BARRIER=1", hand)
        finally:
            os.close(hand)
        select.select([heard], (), (), _SAY_SECONDS)  # it ends when the manager, too, has let the other end go
        os.close(heard)

    def _show(self, standing: Callable[[], str], ended: threading.Event) -> None:
        said = ""
        while not ended.is_set():
            if (words := standing()) != said:
                self.say(f"STATUS={words}")
                said = words
            ended.wait(_LOOK_SECONDS)

    def _feed(self, answered_ns: Callable[[], int], ended: threading.Event) -> None:
        hungry = False
        while True:
            age_ns = self._clock.now_ns() - answered_ns()
            if age_ns <= FRESH_NS:
                self.say("WATCHDOG=1")
            elif not hungry:
                _log.error("the timing loop does not answer; the service manager will start Treadle again")
            hungry = age_ns > FRESH_NS
            if ended.wait(self.feed_seconds):
                return


def _feed_seconds(environment: Mapping[str, str]) -> float | None:
    """Return how often a watchdog that watches this process is to be fed."""
    if environment.get("WATCHDOG_PID", str(os.getpid())) != str(os.getpid()):
        return None
    try:
        span_us = int(environment.get("WATCHDOG_USEC", ""))
    except ValueError:
        return None
    return span_us / 1e6 / _FEEDS if span_us > 0 else None
