"""The practice darkroom's own switches and its view, for the page with the foot switch."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING, Final

from controller.model import Frozen
from controller.practice.in_carrier import InCarrier
from controller.practice.prints import PracticePrints
from controller.practice.stage import Stage, next_place, stage_of
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.wiring_tables import TABLES

if TYPE_CHECKING:
    from controller.foot.status import Status
    from hardware.practice.log import Entry

_LIGHTS: Final = 12


class PracticeView(Frozen):
    """What can be seen in the simulated darkroom."""

    lit: bool
    contact_closed: bool
    filter_in_drawer: str
    lid_open: bool
    light_s: float
    """Full light received since the sheet was opened, through whatever was in the way."""
    outlets: tuple[tuple[str, bool], ...] = ()
    """What of safelight, room light and status LED is fitted, and whether it gives light."""
    lights: tuple[tuple[int, int], ...] = ()
    """The last lights: (on, dark) in monotonic ns."""


class PracticeSwitches:
    """Safe from any thread: the room lives in files. `opened_ns` tells when the present sheet was opened."""

    def __init__(
        self,
        room: PracticeDarkroom,
        now_ns: Callable[[], int],
        opened_ns: Callable[[], int | None],
        outlets: Collection[str] = (),
        prints: PracticePrints | None = None,
    ) -> None:
        self._room, self._now_ns, self._opened_ns = room, now_ns, opened_ns
        self._prints = prints
        self._staged: tuple[tuple[Entry, ...], int, Stage] | None = None
        self._outlets = [name for name in outlets if TABLES[name].shines is not None]

    def contact(self, closed: bool) -> None:
        """Close or open the foot contact."""
        self._room.contact(closed)

    def put_filter(self, name: str) -> None:
        """Put a filter into the drawer of the simulated lamphouse."""
        self._room.log_filter(name)

    def lid(self, open_: bool) -> None:
        """Open or shut the paper box."""
        self._room.lid(open_)

    def prints(self) -> PracticePrints | None:
        """Return the tray, where this darkroom has one."""
        return self._prints

    def faults(self) -> tuple[tuple[str, bool], ...]:
        """Return every fault switch by its name, and whether it is on."""
        on = self._room.faults()
        return tuple((fault.value, fault in on) for fault in PracticeFault)

    def fault(self, name: str, on: bool) -> None:
        """Switch a fault on or off.

        Raises:
            ValueError: there is none of that name.
        """
        self._room.fault(PracticeFault(name), on)

    def paper(self, out: bool) -> None:
        """Lay a sheet of paper on the easel, or take it away."""
        self._room.log_paper(out)

    def negative(self, inside: bool, which: str = "A") -> None:
        """Put a negative carrier in, A or B, or take it out."""
        self._room.log_negative(inside, which=which)

    def opal(self, inside: bool) -> None:
        """Put the opal glass under the lens, or take it out."""
        self._room.log_opal(inside)

    def card(self, way: str, place: int) -> None:
        """Move a strip's card; see `PracticeDarkroom.log_card`."""
        self._room.log_card(way, place)

    def move_card_on(self, status: Status) -> None:
        """Move the strip's card on by a band, from where it lies at `status`."""
        self._room.log_card(*next_place(self.stage(status), status.plan.strip if status.plan else None))

    def tool(self, area: str, act: str, inside: bool) -> None:
        """Take the tool for an area into the light or out of it."""
        self._room.log_dodger(area, inside, act)

    def phone_lies_lit(self, on: bool) -> None:
        """Lay a phone beside the easel, its screen lit, or put it away."""
        self._room.log_glow("phone", on)

    def lay_probe(self, x: float, y: float) -> None:
        """Lay the light sensor on the baseboard, at shares of its picture; below 0 back beside the easel."""
        self._room.log_probe(x, y)

    def probe(self) -> tuple[float, float] | None:
        """Return where the light sensor lies on the baseboard; None beside the easel."""
        return self._room.probe()

    def stage(self, status: Status) -> Stage:
        """Return how the baseboard stands at `status`; cheap where neither it nor the log has changed."""
        log, known = self._room.log(), self._staged
        moves_within = (
            status.lit is not None and any(step.marks for step in status.plan.steps) if status.plan else False
        )
        lies = self._prints.lies(status) if self._prints is not None else InCarrier()
        still = known is not None and known[0] is log and known[1] == status.number and not moves_within
        if known is not None and still and known[2].lies == lies:
            return known[2]
        stage = stage_of(log, status, self._opened_ns(), self._now_ns()).model_copy(update={"lies": lies})
        self._staged = (log, status.number, stage)
        return stage

    def view(self) -> PracticeView:
        """Return what can be seen in the simulated darkroom."""
        now_ns, opened_ns = self._now_ns(), self._opened_ns()
        lately = self._room.lately
        lights = lately.lights(_LIGHTS, now_ns)
        return PracticeView(
            lit=self._room.lit(),
            contact_closed=self._room.pressed(),
            filter_in_drawer=self._room.filter() or "",
            lid_open=self._room.lid_open(),
            outlets=tuple((name, self._room.active(name) == TABLES[name].shines) for name in self._outlets),
            light_s=0.0 if opened_ns is None else lately.light_ns(opened_ns, now_ns) / 1e9,
            lights=tuple((light.on_ns, now_ns if light.dark_ns is None else light.dark_ns) for light in lights),
        )
