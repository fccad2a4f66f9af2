"""The foot as the keeper hears it: gestures out of the contact's edges, and whether the switch can be trusted."""

from __future__ import annotations

from dataclasses import dataclass

from hardware.keeper.debounce import Debounce, Known, Stuck, Up
from hardware.lines.lines import Contact, FootWires
from hardware.timing import Timing


@dataclass(frozen=True, slots=True)
class Broken:
    """A wire of the changeover switch is broken, or two touch."""


@dataclass(frozen=True, slots=True)
class Whole:
    """The changeover switch was seen whole; it has been at rest since `opened_ns`."""

    opened_ns: int


Heard = Known | Broken | Whole


class FootSwitch:
    """The contact under the foot; `wires` judges it where it is a changeover, which `contact` then has within."""

    def __init__(self, contact: Contact, wires: FootWires | None, timing: Timing, now_ns: int) -> None:
        self._contact, self._wires = contact, wires
        self._presses = Debounce(timing, at_ns=now_ns, closed=contact.closed())
        self._stuck = False

    @property
    def first_contact_ns(self) -> int | None:
        """The first contact of the latest press."""
        return self._presses.first_contact_ns

    @property
    def in_fault(self) -> bool:
        """Whether the switch has been down for ten seconds, or has a broken wire."""
        return self._stuck or self._broken

    @property
    def _broken(self) -> bool:
        return self._wires is not None and self._wires.broken

    def poll(self, now_ns: int) -> None:
        """Take the edges that wait, and the levels as the second path."""
        for at_ns, closed in self._contact.edges():
            self._presses.edge(at_ns, closed)
        self._presses.edge(now_ns, self._contact.closed())
        if self._wires is not None:
            self._wires.look(now_ns)

    def advance(self, now_ns: int) -> tuple[Heard, ...]:
        """Return what has become known; a switch with a broken wire makes no gestures."""
        heard: list[Heard] = []
        for known in self._presses.advance(now_ns):
            if not self._broken:
                self._stuck = isinstance(known, Stuck) or (self._stuck and not isinstance(known, Up))
                heard.append(known)
        if self._wires is not None and self._wires.advance(now_ns):
            self._stuck = False
            heard.append(Broken() if self._wires.broken else Whole(self._wires.since_ns))
        return tuple(heard)

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to say if no edge comes."""
        presses_ns, wires_ns = self._presses.due_ns(), None if self._wires is None else self._wires.due_ns()
        return presses_ns if wires_ns is None else wires_ns if presses_ns is None else min(presses_ns, wires_ns)

    def rest_ns(self) -> int | None:
        """Return from when on the contact is at rest if no edge comes; None while it is closed, or on its way."""
        return None if self._wires is not None and not self._wires.settled() else self._presses.rest_ns()

    def at_rest(self, now_ns: int) -> bool:
        """Return whether the contact is at rest now."""
        rest_ns = self.rest_ns()
        return rest_ns is not None and rest_ns <= now_ns
