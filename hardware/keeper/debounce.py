"""Foot-downs, foot-ups and holds out of a contact's raw edges; pure, and exact to the nanosecond."""

from __future__ import annotations

from dataclasses import dataclass

from hardware.clock import NS_PER_MS
from hardware.timing import Timing


@dataclass(frozen=True, slots=True)
class Down:
    """The contact has been closed long enough to be a foot; known at `at_ns`, begun at `first_ns`."""

    first_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Up:
    """The contact has been open long enough to be at rest; known at `at_ns`, opened at `opened_ns`."""

    opened_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Hold:
    """The foot has stayed down since `first_ns` for a hold, and the contact is closed."""

    first_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Stuck:
    """The contact has not come to rest for so long that it is a fault; an `Up` ends it."""

    at_ns: int


Known = Down | Up | Hold | Stuck


class Debounce:
    """One contact. Feed it edges in the order of their times, and let it `advance` to the present.

    A down is a sum of closed time in a sliding window, so that a bouncing or wet contact is heard as soon as a clean
    one, or nearly; shorter closures are no down but do keep the contact from being at rest. Between a down and its
    up there is no other down. `first_contact_ns` is the first contact of the latest down, None before any.
    """

    def __init__(self, timing: Timing, *, at_ns: int = 0, closed: bool = False) -> None:
        """Start at `at_ns`. A contact closed then is no down until it has been at rest; an `Up` says when it is."""
        self._need_ns = timing.down_closed_ms * NS_PER_MS
        self._window_ns = timing.down_window_ms * NS_PER_MS
        self._open_ns = timing.up_open_ms * NS_PER_MS
        self._hold_ns = timing.hold_ms * NS_PER_MS
        self._stuck_ns = timing.stuck_ms * NS_PER_MS
        self.first_contact_ns: int | None = None
        self._closed = closed
        self._edge_ns = at_ns if closed else at_ns - self._open_ns
        self._pulses: list[tuple[int, int]] = []
        """Closures of the last window that have ended, while no down is known: (closed, opened)."""
        self._since_ns: int | None = at_ns if closed else None
        """While it is down, or closed from the start: since when."""
        self._foot = False
        """It is down, and not merely closed from the start."""
        self._held = self._stuck = False
        self._known: list[Known] = []
        self._known_ns = at_ns
        self._due_ns = self._next()

    def edge(self, at_ns: int, closed: bool) -> None:
        """Take an edge; the level it has already does nothing. A time before the last edge's is taken as that."""
        if closed == self._closed:
            return
        at_ns = max(at_ns, self._edge_ns)
        while self._due_ns is not None and self._due_ns <= at_ns:
            self._decide(self._due_ns)
        if not closed and self._since_ns is None:
            self._pulses.append((self._edge_ns, at_ns))
        self._closed = closed
        self._edge_ns = at_ns
        self._due_ns = self._next()

    def advance(self, now_ns: int) -> tuple[Known, ...]:
        """Return what has become known up to `now_ns`, in the order of `at_ns`."""
        while self._due_ns is not None and self._due_ns <= now_ns:
            self._decide(self._due_ns)
        if not self._known:
            return ()
        known = tuple(self._known)
        self._known.clear()
        return known

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` will have something to say if no edge comes, or None."""
        return self._known_ns if self._known else self._due_ns

    def rest_ns(self) -> int | None:
        """Return the moment from which the contact is at rest if no edge comes; None while it is closed."""
        return None if self._closed else self._edge_ns + self._open_ns

    def at_rest(self, now_ns: int) -> bool:
        """Return whether the contact is open, and has been for 60 ms."""
        return not self._closed and now_ns - self._edge_ns >= self._open_ns

    def closed(self) -> bool:
        """Return the level after the last edge."""
        return self._closed

    def _next(self) -> int | None:
        """Return when the next decision falls if no edge comes."""
        if not self._closed:
            return None if self._since_ns is None else self._edge_ns + self._open_ns
        if self._since_ns is None:
            return self._enough()
        # a hold or a stuck switch that falls due in a gap of the chatter waits for the contact to close again
        if self._foot and not self._held:
            return max(self._since_ns + self._hold_ns, self._edge_ns)
        return None if self._stuck else max(self._since_ns + self._stuck_ns, self._edge_ns)

    def _enough(self) -> int:
        """Return when the closed time in the sliding window reaches its measure, the contact staying closed.

        While it stays closed the sum grows, but for the stretches in which an older pulse slides out as fast.
        """
        at, window = self._edge_ns, self._window_ns
        if not self._pulses:
            return at + self._need_ns
        self._pulses = [pulse for pulse in self._pulses if pulse[1] > at - window]
        missing = self._need_ns - sum(opened - max(closed, at - window) for closed, opened in self._pulses)
        for closed, opened in self._pulses:
            grows = closed + window - at
            if grows >= missing:
                break
            if grows > 0:
                missing -= grows
            at = max(at, opened + window)
        return at + max(missing, 0)

    def _decide(self, due_ns: int) -> None:
        # an edge that came late may be decided on late; what is told stays in order all the same
        at_ns = self._known_ns = max(due_ns, self._known_ns)
        if not self._closed:
            self._known.append(Up(self._edge_ns, at_ns))
            self._since_ns = None
            self._foot = self._held = self._stuck = False
        elif self._since_ns is None:
            begun = (closed for closed, _ in self._pulses if closed >= due_ns - self._window_ns)
            self._since_ns = self.first_contact_ns = next(begun, self._edge_ns)
            self._foot = True
            self._pulses.clear()
            self._known.append(Down(self._since_ns, at_ns))
        elif self._foot and not self._held:
            self._held = True
            self._known.append(Hold(self._since_ns, at_ns))
        else:
            self._stuck = True
            self._known.append(Stuck(at_ns))
        self._due_ns = self._next()
