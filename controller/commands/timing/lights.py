"""Check lights through a keeper process, one after the other, and how late each went dark."""

from __future__ import annotations

import queue
from typing import Final

from controller.errors import KeeperGone
from controller.words import say
from hardware.clock import NS_PER_MS, MonotonicClock
from hardware.errors import KeeperAway
from hardware.fitting import Fitting
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Event, KeeperLost, Tether
from hardware.wire import Dark, FootDown, Greeting, Order, Reason, Refused, Stopped

AHEAD_MS: Final = 20
"""A light is ordered this far ahead; a busy daemon that misses the moment orders again, later."""
_FARTHEST_MS: Final = 2000
_LONGEST_REST_S: Final = 30.0


class KeeperLights:
    """A keeper with lines of its own. Open it as a block, then let it give lights."""

    def __init__(self, fitting: Fitting) -> None:
        self._fitting = fitting
        self._clock = MonotonicClock()
        self._events: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self._tether = Tether(KeeperConfig(lines=fitting.lines, runtime=fitting.runtime), self._events.put, self._clock)
        self._foot_seq = 0

    def __enter__(self) -> KeeperLights:
        """Start the keeper.

        Raises:
            KeeperAway: it does not come up; the text says why.
        """
        self._tether.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._tether.close()

    @property
    def greeting(self) -> Greeting:
        """What the keeper says of itself."""
        return self._tether.greeting

    def give(self, lights: int, lit_ms: int) -> list[int]:
        """Give so many lights of `lit_ms` milliseconds, and return how late each went dark, in ns.

        Late is counted from the planned end to the edge that the practice line itself has noted; on real lines, which
        note nothing, to the moment at which the keeper drove the line. A light that a foot ended is given again.

        Raises:
            KeeperGone: the keeper does not answer any more, or the contact does not come to rest.
        """
        given: list[Dark] = []
        whole = 0
        while whole < lights:
            given.append(self._one(f"lateness-{len(given)}-{self._clock.now_ns()}", lit_ms))
            whole += given[-1].why == "complete"
        offs = self._dark_edges(len(given)) if self._fitting.practice else [dark.dark_ns for dark in given]
        ends = zip(offs, given, strict=True)
        return [off - dark.on_ns - lit_ms * NS_PER_MS for off, dark in ends if dark.why == "complete"]

    def _dark_edges(self, latest: int) -> list[int]:
        """Return when the practice lamps' lines last went dark, as the lines themselves noted it."""
        room = PracticeDarkroom(self._fitting.runtime, lamps=tuple(self.greeting.lamps))
        try:
            return [edge.at_ns for edge in room.edges() if not edge.lit][-latest:]
        finally:
            room.close()

    def _one(self, name: str, lit_ms: int) -> Dark:
        """Give one light, whatever is refused on the way, and return how it ended."""
        ahead_ms, tries = AHEAD_MS, 0
        while True:
            tries += 1
            order = Order(
                id=f"{name}-{tries}",
                kind="check",
                sheet="",
                step=0,
                part=0,
                lamp=self.greeting.lamps[0],
                foot_seq=self._foot_seq,
                start_ns=self._clock.now_ns() + ahead_ms * NS_PER_MS,
                lit_ms=lit_ms,
            )
            try:
                self._tether.send(order)
            except KeeperAway as problem:
                raise KeeperGone(str(problem)) from problem
            answer = self._answer(order.id)
            if isinstance(answer, Dark):
                return answer
            if answer.reason == Reason.PAST:
                ahead_ms = min(2 * ahead_ms, _FARTHEST_MS)
            elif answer.reason not in (Reason.NOT_AT_REST, Reason.CONTACT, Reason.FOOT, Reason.BUSY):
                raise KeeperGone(say("timing.refused", reason=answer.reason))
            elif tries * ahead_ms > _LONGEST_REST_S * 1000:
                raise KeeperGone(say("timing.rest"))

    def _answer(self, order: str) -> Dark | Refused:
        while True:
            try:
                event = self._events.get(timeout=_LONGEST_REST_S)
            except queue.Empty:
                raise KeeperGone(say("timing.silent")) from None
            match event:
                case Dark(id=id_) | Refused(id=id_) if id_ == order:
                    return event
                case FootDown(seq=seq) | Stopped(seq=seq):
                    self._foot_seq = seq
                case KeeperLost():
                    raise KeeperGone(say("timing.lost"))
