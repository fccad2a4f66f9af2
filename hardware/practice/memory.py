"""Practice lines that live in memory, for virtual time: edges queued beforehand, all that was driven kept."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from hardware.clock import soonest
from hardware.errors import LineError
from hardware.lines.lines import Lines
from hardware.practice.meter import Edge
from hardware.sounds import Note


class MemoryLamp:
    """A lamp line that remembers each edge."""

    def __init__(self, now: Callable[[], int], name: str = "lamp") -> None:
        self.edges: list[Edge] = []
        self._now, self._name = now, name
        self._open = True

    @property
    def lit(self) -> bool:
        """The level that the line is driven to."""
        return bool(self.edges) and self.edges[-1].lit

    def set(self, lit: bool) -> None:
        """Drive the line; setting what is already set does nothing.

        Raises:
            LineError: the line is closed.
        """
        if not self._open and lit:
            raise LineError(f"the line {self._name} is closed: open it again")
        if lit != self.lit:
            self.edges.append(Edge(self._now(), lit, self._name))

    def close(self) -> None:
        """Drive the line dark and let it go; closing twice does nothing."""
        if self._open:
            self.set(False)
            self._open = False


class MemoryContact:
    """A contact whose edges are queued ahead of time and come when the clock reaches them."""

    def __init__(self, now: Callable[[], int], *, closed: bool = False) -> None:
        self._now = now
        self._first = closed
        self._times: list[int] = []
        self._levels: list[bool] = []
        self._told = 0

    def feed(self, at_ns: int, closed: bool) -> None:
        """Queue an edge, later than those before it.

        Raises:
            ValueError: it is not later, or changes nothing.
        """
        if self._times and at_ns <= self._times[-1]:
            raise ValueError(f"an edge at {at_ns} ns must come after {self._times[-1]} ns")
        if closed == (self._levels[-1] if self._levels else self._first):
            raise ValueError(f"the edge at {at_ns} ns changes nothing: edges alternate")
        self._times.append(at_ns)
        self._levels.append(closed)

    def next_edge_ns(self) -> int | None:
        """Return the time of the next edge not yet taken, or None where none is queued."""
        return self._times[self._told] if self._told < len(self._times) else None

    def fileno(self) -> int | None:
        """Return None: virtual time asks `next_edge_ns` instead."""
        return None

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges that are due, oldest first: (monotonic ns, closed)."""
        due = bisect_right(self._times, self._now())
        if due <= self._told:
            return []
        taken = list(zip(self._times[self._told : due], self._levels[self._told : due], strict=True))
        self._told = due
        return taken

    def closed(self) -> bool:
        """Return the level now."""
        due = bisect_right(self._times, self._now())
        return self._levels[due - 1] if due else self._first

    def close(self) -> None:
        """Let the line go; closing twice does nothing."""


class MemorySounder:
    """A silent sounder that remembers what it was given: (monotonic ns, notes)."""

    def __init__(self, now: Callable[[], int]) -> None:
        self.played: list[tuple[int, tuple[Note, ...]]] = []
        self._now = now

    def play(self, notes: Sequence[Note]) -> None:
        """Remember the notes and when they were to sound."""
        self.played.append((self._now(), tuple(notes)))

    def close(self) -> None:
        """Do nothing: it is silent already."""


@dataclass(frozen=True, slots=True)
class MemoryRoom:
    """A darkroom in memory: its lines as the keeper takes them, and the ends a test or a replay holds."""

    lines: Lines
    lamps: dict[str, MemoryLamp]
    foot: MemoryContact
    sounder: MemorySounder | None
    lid: MemoryContact | None
    outlets: dict[str, MemoryLamp] = field(default_factory=dict)

    def edges(self) -> tuple[Edge, ...]:
        """Return what all lamp lines did, in order of time."""
        return tuple(sorted(edge for lamp in self.lamps.values() for edge in lamp.edges))

    def next_edge_ns(self) -> int | None:
        """Return the time of the next queued edge of foot or lid, or None."""
        return soonest((self.foot.next_edge_ns(), None if self.lid is None else self.lid.next_edge_ns()))


def memory_room(
    now: Callable[[], int],
    *,
    lamps: Iterable[str] = ("lamp",),
    sounder: bool = True,
    lid: bool = False,
    outlets: Iterable[str] = (),
) -> MemoryRoom:
    """Return a darkroom in memory on the clock `now`."""
    lamp_lines = {name: MemoryLamp(now, name) for name in lamps}
    outlet_lines = {name: MemoryLamp(now, name) for name in outlets}
    foot = MemoryContact(now)
    sound = MemorySounder(now) if sounder else None
    box = MemoryContact(now, closed=True) if lid else None
    lines = Lines(True, dict(lamp_lines), foot, sound, box, outlets=dict(outlet_lines))
    return MemoryRoom(lines, lamp_lines, foot, sound, box, outlet_lines)
