"""The last lights of the practice darkroom, for whoever looks many times a second: only what is new is read.

Edges are remembered from ring to ring and fault switches from the log, so that a look costs the same after a thousand
evenings as after one. Lights are those of the ideal lamp, light exactly while there is any.
"""

from __future__ import annotations

import os
import threading
from bisect import bisect_left
from collections.abc import Mapping
from operator import attrgetter
from pathlib import Path
from typing import Final

from hardware.practice.log import Entry, FaultSwitched, whole_lines
from hardware.practice.meter import Edge, LampLight, Shining, in_order, light_ns, lights
from hardware.practice.ring import Ring

KEPT: Final = 4096
"""Edges that are looked back at: two thousand lights, more than any sheet or evening has."""


class Log:
    """The practice log, of which only what is new is read. Safe from any thread."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._forget(0)

    def entries(self) -> tuple[Entry, ...]:
        """Return the entries in order of time, the same object where none is new.

        Raises:
            LineError: a line is no entry; the text says which.
        """
        with self._lock:
            try:
                with self._path.open("rb") as file:
                    found = os.fstat(file.fileno())
                    if found.st_ino != self._file or found.st_size < self._read_to:
                        self._forget(found.st_ino)
                    if found.st_size > self._read_to:
                        file.seek(self._read_to)
                        self._take(file.read())
            except FileNotFoundError:
                self._forget(0)
            return self._entries

    def _forget(self, file: int) -> None:
        self._file, self._read_to, self._lines = file, 0, 0
        self._entries: tuple[Entry, ...] = ()

    def _take(self, text: bytes) -> None:
        new = whole_lines(self._path, text, self._lines + 1)
        self._read_to += text.rfind(b"\n") + 1
        self._lines += len(new)
        if new:
            self._entries = tuple(sorted((*self._entries, *new), key=lambda entry: entry.at_ns))


class Lately:
    """What shone lately in one room. Safe from any thread."""

    def __init__(self, rings: Mapping[str, Ring], log: Log) -> None:
        """Look at the lamps' rings and the log, which the caller opens and closes."""
        self._rings, self._log = rings, log
        self._lock = threading.Lock()
        self._begin()

    def lights(self, count: int, now_ns: int) -> tuple[LampLight, ...]:
        """Return the last `count` lights, in the order in which they came on."""
        with self._lock:
            self._look()
            begun = self._begun()[-count:] if count else []
            return lights(self._shown[begun[0] :], now_ns) if begun else ()

    def light_ns(self, start_ns: int, end_ns: int) -> int:
        """Return the light received between two times, in ns of full light."""
        with self._lock:
            self._look()
            first = bisect_left(self._shown, start_ns, key=attrgetter("at_ns"))
            while first and not self._dark[first - 1]:
                first -= 1  # back to where the light came on that shone then
            return light_ns(self._shown[first:], start_ns, end_ns)

    def _begun(self) -> list[int]:
        """Return the edges at which a lamp's light comes on, where it does not only grow stronger or weaker."""
        lit: dict[str, bool] = {}
        found = []
        for place, edge in enumerate(self._shown):
            if edge.lit and not lit.get(edge.lamp):
                found.append(place)
            lit[edge.lamp] = edge.lit
        return found

    def _begin(self) -> None:
        self._next = {name: max(0, ring.count() - KEPT) for name, ring in self._rings.items()}
        self._entries: tuple[Entry, ...] = ()
        self._faults: tuple[FaultSwitched, ...] = ()
        self._light = Shining()
        self._told_ns = -1
        self._shown: list[Edge] = []
        self._dark: list[bool] = []
        """Whether all is dark after each."""

    def _look(self) -> None:
        if not self._take():
            self._begin()  # an earlier event came later to light
            self._take()

    def _take(self) -> bool:
        """Take in what is new; return False where it is older than what was taken in before."""
        edges: list[Edge] = []
        for name, ring in self._rings.items():
            found, self._next[name] = ring.since(self._next[name])
            edges += [Edge(at, lit, name) for at, lit in found]
        entries, known = self._log.entries(), len(self._faults)
        if entries is not self._entries:
            faults = tuple(entry for entry in entries if isinstance(entry, FaultSwitched))
            if faults[:known] != self._faults:
                return False
            self._entries, self._faults = entries, faults
        story = in_order(edges, self._faults[known:])
        if story and story[0].at_ns < self._told_ns:
            return False
        for event in story:
            self._told_ns = event.at_ns
            for edge in self._light.tell(event):
                self._shown.append(edge)
                self._dark.append(self._light.dark)
        if len(self._shown) > 2 * KEPT:
            del self._shown[:-KEPT], self._dark[:-KEPT]
        return True
