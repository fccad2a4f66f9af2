"""The practice darkroom as a person finds it: a foot switch, a lid, a lamp, a filter drawer, a card, fault switches.

Any number of processes may stand in one room: the page, the tests, a benchmark. The keeper holds its lines.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from hardware.practice.contact import FOOT, LID, contact_ring, ring_doorbell
from hardware.practice.faults import Faults, PracticeFault
from hardware.practice.lately import Lately, Log
from hardware.practice.log import (
    CardMoved,
    DodgerMoved,
    Entry,
    FaultSwitched,
    FilterPlaced,
    GlowSwitched,
    NegativeMoved,
    OpalMoved,
    PaperMoved,
    ProbeLaid,
    append,
)
from hardware.practice.meter import IDEAL, Edge, LampLight, LampModel, light_ns, lights, shining
from hardware.practice.outputs import lamp_path, outlet_path
from hardware.practice.ring import Ring
from hardware.wiring_tables import OUTLETS

_BOUNCE_SECONDS: Final = 0.001


class PracticeDarkroom:
    """The practice darkroom that lives in the folder `runtime`."""

    def __init__(
        self,
        runtime: Path,
        *,
        lamps: tuple[str, ...] = ("lamp",),
        now: Callable[[], int] = time.monotonic_ns,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        """Enter the room, or furnish it where nobody has been.

        Raises:
            LineError: the folder cannot be written.
        """
        self.runtime = runtime
        self._now, self._wait = now, wait
        self._log_path = runtime / "room.log"
        self._log = Log(self._log_path)
        self._lamps: dict[str, Ring] = {}
        self._outlets: dict[str, Ring] = {}
        self._contacts: dict[str, Ring] = {}
        self._faults = Faults(runtime)
        try:
            for name in lamps:
                self._lamps[name] = Ring(lamp_path(runtime, name))
            for name in OUTLETS:
                self._outlets[name] = Ring(outlet_path(runtime, name))
            for name in (FOOT, LID):
                self._contacts[name] = contact_ring(runtime, name)
            self.lately = Lately(self._lamps, self._log)
            """The last lights, for whoever looks often."""
        except Exception:
            self.close()
            raise

    # ---- foot and lid

    def contact(self, closed: bool, at_ns: int | None = None, *, bounces: int = 0) -> int:
        """Close or open the foot contact and return the time of its edge, in monotonic ns.

        With `bounces` the contact opens and closes so many times more, 1 ms apart, before it rests. What it
        already is, it stays; the time is then that of the edge before.
        """
        first = self._move(FOOT, closed, at_ns)
        for _ in range(bounces):
            for level in (not closed, closed):
                self._wait(_BOUNCE_SECONDS)
                self._move(FOOT, level, None)
        return first

    def press(self, ms: float, *, bounces: int = 0) -> int:
        """Close the foot contact for `ms` milliseconds and return the time of its first contact."""
        first = self.contact(True, bounces=bounces)
        self._wait(max(0.0, ms / 1000 - (self._now() - first) / 1e9))
        self.contact(False, bounces=bounces)
        return first

    def pressed(self) -> bool:
        """Tell whether the foot is down, whatever the contact's fault switches say."""
        return self._contacts[FOOT].level()

    def lid(self, open: bool) -> int:  # noqa: A002 - the lid's own word
        """Open or shut the lid of the paper box and return the time of its edge."""
        return self._move(LID, not open, None)

    def lid_open(self) -> bool:
        """Tell whether the lid is open."""
        return not self._contacts[LID].level()

    def _move(self, name: str, closed: bool, at_ns: int | None) -> int:
        ring = self._contacts[name]
        with ring.turn():
            now = self._now()
            last_ns, level = ring.last() or (0, ring.level())
            if level == closed:
                return last_ns
            at = now if at_ns is None else at_ns
            if not last_ns <= at <= now:
                raise ValueError(f"an edge at {at} ns must lie between the last one, {last_ns}, and now, {now}")
            ring.append(at, closed)
        ring_doorbell(self.runtime, name)
        return at

    # ---- lamp and meter

    def edges(self, lamp: str | None = None) -> tuple[Edge, ...]:
        """Return what the lamp lines did, in order of time, as far back as the rings reach; of one lamp if named."""
        names = self._lamps if lamp is None else (lamp,)
        found = [Edge(at, lit, name) for name in names for at, lit in self._lamps[name].since(0)[0]]
        return tuple(sorted(found))

    def shining(self, *, filtered: bool = True) -> tuple[Edge, ...]:
        """Return when there really was light and how strong, dead bulbs, welded relays and the lens reckoned in.

        It is as a light sensor beside the easel sees it, or else `filtered` is false: the lamp's own, as the paper's
        doses begin with.
        """
        log = self.log()
        faults = [entry for entry in log if isinstance(entry, FaultSwitched)]
        filters = [entry for entry in log if isinstance(entry, FilterPlaced)] if filtered else []
        return tuple(shining(self.edges(), faults, filters))

    def outlet_edges(self, outlet: str) -> tuple[tuple[int, bool], ...]:
        """Return what the outlet's line did, (monotonic ns, active), in order of time, as far back as it reaches."""
        return tuple(self._outlets[outlet].since(0)[0])

    def active(self, outlet: str) -> bool:
        """Tell whether the outlet's line is driven active: white light, the LED alight, the safelight dark."""
        ring = self._outlets[outlet]
        return ring.level() and (not self._faults.on(PracticeFault.DROPS_WHEN_OWNER_DIES) or ring.owned())

    def safelight(self) -> bool:
        """Tell whether there is safelight, as there is wherever nobody drives its line."""
        return not self.active("safelight")

    def driven(self, lamp: str | None = None) -> bool:
        """Tell whether the lamp line is driven lit; any of them where none is named."""
        drops = self._faults.on(PracticeFault.DROPS_WHEN_OWNER_DIES)
        rings = self._lamps.values() if lamp is None else (self._lamps[lamp],)
        return any(ring.level() and (not drops or ring.owned()) for ring in rings)

    def lit(self) -> bool:
        """Tell whether there is lamp light in the room."""
        if self._faults.on(PracticeFault.BULB_DEAD):
            return False
        if not self._faults.on(PracticeFault.RELAY_WELDED):
            return self.driven()
        shown = {edge.lamp: edge.lit for edge in self.shining()}
        return any(shown.values())

    def owned(self, lamp: str = "lamp") -> bool:
        """Tell whether a process holds the lamp line."""
        return self._lamps[lamp].owned()

    def light_ns(self, start_ns: int, end_ns: int, model: LampModel = IDEAL) -> int:
        """Return the light received between two times, in ns of full light."""
        return light_ns(self.shining(filtered=False), start_ns, end_ns, model)

    def lights(self, model: LampModel = IDEAL) -> tuple[LampLight, ...]:
        """Return every light with the full light it gave so far."""
        return lights(self.shining(filtered=False), self._now(), model)

    # ---- filter, card, tools, faults

    def log_filter(self, name: str, at_ns: int | None = None) -> None:
        """Put the filter `name` into the drawer; empty takes it out."""
        self._add(FilterPlaced(self._when(at_ns), name))

    def log_card(self, way: str, place: int, at_ns: int | None = None) -> None:
        """Move the card to `place`; `way` is "cover", "uncover" or "window"."""
        self._add(CardMoved(self._when(at_ns), way, place))

    def log_dodger(self, area: str, inside: bool, act: str = "dodge", at_ns: int | None = None) -> None:
        """Take the tool for `area` into the light or out of it; `act` is "dodge", "burn" or "edge burn"."""
        self._add(DodgerMoved(self._when(at_ns), area, act, inside))

    def log_negative(self, inside: bool, at_ns: int | None = None, which: str = "A") -> None:
        """Put the negative in, or take it out; `which` carrier it is in, A or B."""
        self._add(NegativeMoved(self._when(at_ns), inside, which))

    def log_opal(self, inside: bool, at_ns: int | None = None) -> None:
        """Put the opal glass under the lens, or take it out."""
        self._add(OpalMoved(self._when(at_ns), inside))

    def log_paper(self, out: bool, at_ns: int | None = None) -> None:
        """Lay a sheet of paper on the easel, or take it away."""
        self._add(PaperMoved(self._when(at_ns), out))

    def log_glow(self, source: str, on: bool, at_ns: int | None = None) -> None:
        """Switch a light of the room: "safelight", "room light" or "phone"."""
        self._add(GlowSwitched(self._when(at_ns), source, on))

    def log_probe(self, x: float, y: float, at_ns: int | None = None) -> None:
        """Lay the light sensor on the baseboard, at shares of its picture; below 0 back beside the easel."""
        self._add(ProbeLaid(self._when(at_ns), x, y))

    def probe(self) -> tuple[float, float] | None:
        """Return where the light sensor lies on the baseboard; None beside the easel."""
        laid = next((entry for entry in reversed(self.log()) if isinstance(entry, ProbeLaid)), None)
        return None if laid is None or laid.x < 0.0 else (laid.x, laid.y)

    def fault(self, fault: PracticeFault, on: bool = True) -> None:
        """Switch a fault on or off."""
        if self._faults.on(fault) != on:
            self._add(FaultSwitched(self._now(), fault, on))
            self._faults.switch(fault, on)
            ring_doorbell(self.runtime, FOOT)

    def faults(self) -> frozenset[PracticeFault]:
        """Return the faults that are switched on."""
        return self._faults.all_on()

    def log(self) -> tuple[Entry, ...]:
        """Return everything that was logged, in order of time."""
        return self._log.entries()

    def filter(self) -> str | None:
        """Return the filter in the drawer, empty for none, or None where nobody has said."""
        return next((entry.name for entry in reversed(self.log()) if isinstance(entry, FilterPlaced)), None)

    def _add(self, entry: Entry) -> None:
        append(self._log_path, entry)

    def _when(self, at_ns: int | None) -> int:
        return self._now() if at_ns is None else at_ns

    def close(self) -> None:
        """Leave the room, and everything in it as it is; leaving twice does nothing."""
        for ring in (*self._lamps.values(), *self._outlets.values(), *self._contacts.values()):
            ring.close()
        self._faults.close()

    def __enter__(self) -> PracticeDarkroom:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
