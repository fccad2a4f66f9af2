"""What tests of `treadle check` share: files of a machine, a pedal on the clock's time, and one finding of many."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from controller.commands.check.findings import Finding
from controller.commands.check.machine import Machine
from hardware.clock import ManualClock

PEDAL = "/dev/input/by-id/usb-pedal-event-kbd"
S = 1_000_000_000


def put(machine: Machine, path: str, text: str = "") -> None:
    place = machine.at(path)
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text)


def one(findings: Iterator[Finding] | Sequence[Finding], name: str) -> Finding:
    """Return the one finding of that name."""
    (found,) = [finding for finding in findings if finding.name == name]
    return found


class Foot:
    """A pedal that is pressed on the clock's time."""

    missing: tuple[str, ...] = ()

    def __init__(self, clock: ManualClock, edges: Sequence[tuple[int, bool]]) -> None:
        self._clock, self._edges, self.closings = clock, list(edges), 0

    def fileno(self) -> None:
        return None

    def edges(self) -> list[tuple[int, bool]]:
        come = [edge for edge in self._edges if edge[0] <= self._clock.now_ns()]
        self._edges = self._edges[len(come) :]
        return come

    def closed(self) -> bool:
        return len(self._edges) % 2 == 1

    def close(self) -> None:
        self.closings += 1
