"""Foot-downs, foot-ups and holds out of a contact's raw edges; pure, and exact to the nanosecond."""

from __future__ import annotations

from dataclasses import dataclass

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
    """The foot has stayed down since `first_ns` for a hold."""

    first_ns: int
    at_ns: int


@dataclass(frozen=True, slots=True)
class Stuck:
    """The contact has not come to rest for so long that it is a fault; an `Up` ends it."""

    at_ns: int


class Debounce:
    """One contact. Feed it edges in the order of their times, and let it `advance` to the present."""

    first_contact_ns: int | None
    """The first contact of the latest foot-down, or None before any."""

    def __init__(self, timing: Timing, *, at_ns: int = 0, closed: bool = False) -> None:
        """Start at `at_ns`; a contact that is closed then counts only after it has been open for 60 ms."""

    def edge(self, at_ns: int, closed: bool) -> None:
        """Take an edge; the level it has already does nothing. A time before the last edge's is taken as that."""

    def advance(self, now_ns: int) -> tuple[Down | Up | Hold | Stuck, ...]:
        """Return what has become known up to `now_ns`, in the order of `at_ns`."""

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` will have something to say if no edge comes, or None."""

    def rest_ns(self) -> int | None:
        """Return the moment from which the contact is at rest if no edge comes; None while it is closed."""

    def at_rest(self, now_ns: int) -> bool:
        """Return whether the contact is open, and has been for 60 ms."""
