"""The daemon's hold on the keeper: it starts it, speaks to it, hears it, and brings a dead or hung one back dark.

A second keeper process waits beside it, its imports done, its lines untouched. When the keeper ends, shows no
sign of life for a second, or has not gone dark a quarter of a second after an order's end, it is killed and
the spare one is woken, whose first act is to drive the lamp dark. Three such restarts in ten seconds are a
fault; after a fourth loss the line is darkened once more and nothing is started again.
"""

from __future__ import annotations

import logging
import os
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import Final, Self, cast

from hardware.clock import Clock, MonotonicClock, boot_id
from hardware.errors import KeeperAway, WireError
from hardware.slate import Page, forget_kept_page, interrupted, keep_page, note_dark, read_slate
from hardware.tether.child import Child, FirstWords, KeeperConfig, Spare, darken_apart
from hardware.tether.events import Event, KeeperBack, KeeperLost, last_event
from hardware.tether.watch import Watch
from hardware.wire import Dose, FromKeeper, Greeting, Order, Stop, ToKeeper
from hardware.wire_json import decode, encode

__all__ = ["Event", "KeeperBack", "KeeperConfig", "KeeperLost", "Tether"]

_log = logging.getLogger(__name__)

START_NS: Final = 10_000_000_000
"""The first keeper may take this long to greet: a Pi that has just booted is slow."""
DARK_NS: Final = 1_000_000_000
"""A woken spare has this long to greet, and by that to be dark."""
RESTARTS: Final = 3
RESTARTS_NS: Final = 10_000_000_000
LOOK_NS: Final = 100_000_000
_END_SECONDS: Final = 1.0
_GONE_SECONDS: Final = 0.05
"""One that says no more has ended, or is killed after so long."""
_WORD_NS: Final = 250_000_000
"""Whoever tells all of a service to end is heard by a keeper before it is heard by a busy daemon, by this at most."""


class Tether:
    """The hold on a keeper in a process of its own. `on_event` is called from the tether's one thread."""

    def __init__(
        self,
        config: KeeperConfig,
        on_event: Callable[[Event], None],
        clock: Clock | None = None,
        ending: Callable[[], bool] = lambda: False,
    ) -> None:
        """`ending` tells that the daemon was told to end: its keepers were told as well, and are not replaced."""
        self.config = config
        self._ending = ending
        self.found: tuple[Page, ...] = ()
        """What stood on the slate and beside it before the first keeper was woken: how an earlier daemon ended."""
        self._on_event = on_event
        self._clock: Clock = MonotonicClock() if clock is None else clock
        self._turn = threading.Lock()
        self._keeper: Child | None = None
        self._watch: Watch | None = None
        self._greeting: Greeting | None = None
        self._spare = Spare(config, self._clock)
        self._restarts: deque[int] = deque()
        self._in_doubt = False
        """A keeper was lost, and nobody is known to have driven the lines dark since."""
        self._closing = False
        self.pulse_ns = 0
        """When the keeper last went round, as far as the tether's thread has seen: what a watchdog looks at."""
        self._wakeup: tuple[int, int] | None = None
        self._thread: threading.Thread | None = None

    # ---- for everybody

    @property
    def greeting(self) -> Greeting:
        """What the present keeper, or the last one, said of itself; there is none before `start`."""
        if self._greeting is None:
            raise KeeperAway("there is no keeper yet: start the tether")
        return self._greeting

    def start(self, meanwhile: Callable[[], object] | None = None) -> Greeting:
        """Start a keeper and wait until it has greeted; its greeting is also the first event.

        What is to be done `meanwhile` is done while the keeper's process starts: it has a processor of its own.

        Raises:
            KeeperAway: it did not come up; the text says what it said.
        """
        self.found = keep_page(self.config.slate)
        self._wakeup = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
        child: Child | None = None
        try:
            child = Child(self.config)
            first = self._wake(child, START_NS, meanwhile)
            if first is None:
                child.close()
                raise KeeperAway(child.last_words() or "the keeper did not answer: look at free memory and load")
        except KeeperAway:
            if child is not None:
                child.close()
            self._close_wakeup()
            raise
        self._hold(child, first.greeting)
        self._thread = threading.Thread(
            target=self._run, args=((first.greeting, *first.more),), name="tether", daemon=True
        )
        self._thread.start()
        return first.greeting

    def send(self, message: ToKeeper, to: int | None = None) -> None:
        """Send a message, without waiting; to the keeper of process id `to` alone, where that is given.

        Raises:
            KeeperAway: there is no keeper that takes it, or it is for another one.
            WireError: it is too long to be sent.
        """
        data = encode(message)
        with self._turn:
            if self._keeper is None or self._watch is None:
                raise KeeperAway("the keeper is away: wait until it is back")
            if to not in (None, self._keeper.pid):
                raise KeeperAway("this was decided on the words of another keeper")
            if isinstance(message, Order):
                self._watch.ordered(message)
            elif isinstance(message, Dose):
                self._watch.dosed(message)
            self._keeper.write(data)

    def stop(self, why: str = "page") -> bool:
        """Have any light ended and anything pending taken back, past every queue, from any thread.

        Tells whether a keeper took it; where none did, it is being replaced, and the new one begins dark.
        """
        data = encode(Stop(why))
        with self._turn:
            if self._keeper is None or self._watch is None:
                return False
            self._watch.stopping(self._clock.now_ns())
            try:
                self._keeper.write(data)
            except KeeperAway:
                # it does not read; what replaces it begins dark
                self._keeper.kill()
                return False
        return True

    def filed(self) -> None:
        """Let go of what was found at the start: whoever asked for it has filed it."""
        forget_kept_page(self.config.slate)

    def close(self) -> None:
        """End the pipe, at which the keeper goes dark and ends, and wait for all of it; once is enough.

        Where the keeper has not gone dark by itself, its lines are driven dark from outside.
        """
        self._closing = True
        if self._wakeup is not None:
            with suppress(BlockingIOError):
                os.write(self._wakeup[1], b"!")
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()
            self._thread = None
            self._close_wakeup()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # ---- the tether's own thread

    def _run(self, heard: tuple[FromKeeper, ...]) -> None:
        try:
            for event in heard:
                self._tell(event)
            while not self._over():
                self._look()
        except Exception:  # noqa: BLE001 - the thread's top
            _log.exception("the tether broke; the keeper goes dark at the end of its pipe")
            self._tell(KeeperLost(self._clock.now_ns(), "fault"))
        finally:
            self._shut()

    def _look(self) -> None:
        """Wait for something to happen, or a tenth of a second, and see to it."""
        assert self._wakeup is not None
        now = self._clock.now_ns()
        self._spare.start(now)
        children = [child for child in (self._keeper, self._spare.child) if child is not None]
        until = now + LOOK_NS
        if self._watch is not None and (due := self._watch.due_ns()) is not None:
            until = max(now, min(until, due))
        self._clock.wait([self._wakeup[0], *(child.fileno() for child in children)], until)
        if self._ending():
            return
        self._spare.look()
        if self._keeper is None or self._closing or (why := self._hear(self._keeper)) is None:
            return
        if not (why == "gone" and self._keeper.reap(_GONE_SECONDS) and self._keeper.ended_well and self._ends_too()):
            self._replace(why)

    def _over(self) -> bool:
        return self._closing or self._ending()

    def _ends_too(self) -> bool:
        """Wait a moment for the word that the daemon was told to end, as a keeper was that ended well and dark."""
        assert self._wakeup is not None
        until = self._clock.now_ns() + _WORD_NS
        while not self._over() and (now := self._clock.now_ns()) < until:
            self._clock.wait([self._wakeup[0]], min(until, now + _WORD_NS // 10))
        return self._over()

    def _hear(self, keeper: Child) -> str | None:
        """Tell on what the keeper has said; return why it must be replaced, where it must."""
        lines, ended = keeper.read()
        for line in lines:
            try:
                event = cast(FromKeeper, decode(line))
            except WireError as problem:
                _log.warning("the keeper said what is no message: %s", problem)
                return "garbled"
            with self._turn:
                if self._watch is not None:
                    self._watch.heard(event)
            self._tell(event)
        if ended:
            return "gone"
        page = read_slate(self.config.slate)
        if page is not None and page.pid == keeper.pid:
            self.pulse_ns = max(self.pulse_ns, page.last_pass_ns)
        with self._turn:
            return None if self._watch is None else self._watch.ailing(self._clock.now_ns(), page)

    def _replace(self, why: str) -> None:
        """Kill the keeper, take note of what it left, and put another in its place, dark."""
        with self._turn:
            lost, self._keeper, self._watch = self._keeper, None, None
        assert lost is not None
        self._in_doubt = True
        lost.kill()
        lost.reap(_END_SECONDS)
        if why != "garbled":
            self._hear(lost)
        _log.warning("the keeper is lost (%s): %s", why, lost.last_words())
        lost.close()
        self._tell(KeeperLost(self._clock.now_ns(), why))
        page = next(iter(keep_page(self.config.slate)), None)
        while not self._over():
            now = self._clock.now_ns()
            while self._restarts and now - self._restarts[0] > RESTARTS_NS:
                self._restarts.popleft()
            if len(self._restarts) >= RESTARTS:
                self._give_up(page)
                return
            self._restarts.append(now)
            if (first := self._start_another()) is not None:
                # the greeting comes after the dark
                light = None if page is None else interrupted(page, first.greeting.at_ns, first.greeting.boot)
                self._tell(KeeperBack(self._clock.now_ns(), first.greeting, light, last_event(page)))
                for event in first.more:
                    self._tell(event)
                return
            self._tell(KeeperLost(self._clock.now_ns(), "start"))

    def _start_another(self) -> FirstWords | None:
        """Wake the spare, or a new keeper where there is none, and return its first words, or None."""
        child = self._spare.take()
        try:
            child = child or Child(self.config)
            first = self._wake(child, DARK_NS)
        except KeeperAway as problem:
            _log.warning("%s", problem)
            first = None
        if child is not None and first is None:
            child.close()
            if not self._over():
                _log.warning("a new keeper did not come up: %s", child.last_words())
        if child is not None and first is not None:
            self._hold(child, first.greeting)
        return first

    def _wake(self, child: Child, within_ns: int, meanwhile: Callable[[], object] | None = None) -> FirstWords | None:
        assert self._wakeup is not None
        return child.wake(self._clock, within_ns, self._wakeup[0], meanwhile)

    def _hold(self, child: Child, greeting: Greeting) -> None:
        note_dark(self.config.slate, greeting.at_ns)
        self._in_doubt = False
        with self._turn:
            self._keeper, self._greeting = child, greeting
            self._watch = Watch(child.pid, greeting.at_ns)
            self.pulse_ns = greeting.at_ns

    def _give_up(self, page: Page | None) -> None:
        """Drive the line dark once more, from outside, and start nothing again."""
        self._spare.give_up()
        dark = self._darken_apart()
        now = self._clock.now_ns()
        light = interrupted(page, now, boot_id()) if dark and page is not None else None
        self._tell(KeeperLost(now, "fault", dark, light))

    def _darken_apart(self) -> bool:
        """Drive the lines dark from outside; return whether they are known dark."""
        dark = darken_apart(self.config)
        self._in_doubt = not dark
        if dark:
            note_dark(self.config.slate, self._clock.now_ns())
        return dark

    def _tell(self, event: Event) -> None:
        try:
            self._on_event(event)
        except Exception:  # noqa: BLE001
            # whoever listens must not be able to end the watch over the keeper
            _log.exception("an event of the keeper was not taken: %s", event)

    def _shut(self) -> None:
        """End the pipe, hear the keeper out, and leave no process behind."""
        with self._turn:
            keeper, self._keeper, self._watch = self._keeper, None, None
        spare = self._spare.take()
        for child in (keeper, spare):
            if child is not None:
                child.end()
        if keeper is not None:
            self._in_doubt = not (keeper.reap(_END_SECONDS) and keeper.ended_well)
            self._hear(keeper)
        for child in (keeper, spare):
            if child is not None:
                child.close()
        if self._in_doubt:
            self._darken_apart()

    def _close_wakeup(self) -> None:
        if self._wakeup is not None:
            for fd in self._wakeup:
                os.close(fd)
            self._wakeup = None
