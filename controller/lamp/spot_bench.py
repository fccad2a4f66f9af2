"""The spots of readings at the easel, counted: which light was ended by which press, and what the sensor says of it.

The runner tells of lights, the sensor's own thread of readings; rows and words go through the runner's thread. What a
hold has taken back by the time its dark is counted leaves no row. Here it is also known which gain the sensor counts
with meanwhile, and how its gains compare.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from controller import wall
from controller.easel.gains import Gains, gain_for, gains_of
from controller.easel.last_second import DARK_TO_NS, counted
from controller.easel.plan import ReadingsName, readings_of
from controller.errors import Impossible
from controller.foot.effects import Effect, File
from controller.foot.events import SpotTold
from controller.foot.places import Light
from controller.foot.state import State
from controller.lamp.check_plans import check_of
from controller.lamp.gain_check import GainTurn
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.easel_rows import SpotRead
from controller.store.entries import Entry, LightCame
from controller.store.levels import GainsMeasured
from controller.store.rows import Reader, Row
from controller.words import say
from hardware.light_sensor import Gain, Reading

DIM: Final = 8.0
"""Of empty light, what is weaker than the first place by so many times is dark: three stops."""
MOST: Final = 200
"""Spots that are remembered: readings are of an evening, and the journal has the rest."""
DOWN_NS: Final = 60_000_000
"""A foot-down is known, and the light dark, at the latest this long after the first contact."""
_FEW: Final = 10
"""Cycles by which a gain is chosen."""
_LOOKED_BACK: Final = 5_000
"""Rows of the journal that are looked through for them at the start."""


@dataclass(frozen=True, slots=True)
class SpotNeeds:
    """What the spots need of the darkroom around them."""

    note: Callable[[Entry], object]
    """File a row; on the runner's thread."""
    tell: Callable[[SpotTold], object]
    """Tell the grammar; on the runner's thread."""
    call: Callable[[Callable[[], object]], Any]
    """Have something done on the runner's thread."""
    filter_in: Callable[[], str]
    """Return the filter in the drawer, as it was said."""


@dataclass(frozen=True, slots=True)
class _Due:
    """A light that a press has ended, until its dark is counted."""

    light: str
    readings: str
    what: ReadingsName
    spot: str
    on_ns: int
    dark_ns: int
    filter: str
    bench: AtEnlarger
    press_ns: int
    """The first contact of the press that ended it; until that is heard, the earliest that it can have been."""


@dataclass(frozen=True, slots=True)
class Through:
    """The gain that readings begin with, and those that compare with it, the weakest first."""

    first: Gain
    allowed: tuple[Gain, ...]


class SpotBench:
    """Safe from any thread."""

    def __init__(self, needs: SpotNeeds, reader: Reader) -> None:
        self._needs = needs
        self._lock = threading.Lock()
        self._due: _Due | None = None
        self._outcome = ""
        self._turn = GainTurn()
        self._through: Through | None = None
        self._kept_to: Gain | None = None
        """The gain that the spots before went through, in the readings that go on."""
        self._dim: tuple[float, Gain] | None = None
        """The level under which a place of empty light is dark, once its first is known."""
        self._lit_ns: int | None = None
        self._what: ReadingsName | None = None
        """The readings that go on."""
        told = ((row.entry, row.wall[:10] if row.synchronised else "") for row in reader.of_the_lamp())
        self._ratios = [(entry, day) for entry, day in told if isinstance(entry, GainsMeasured)]
        rows = reader.rows(after=max(0, reader.last() - _LOOKED_BACK), kinds=("read",))
        self._read: deque[SpotRead] = deque((entry for entry in map(_spot, rows) if entry is not None), maxlen=MOST)

    def read(self) -> tuple[SpotRead, ...]:
        """Return what was measured of late, oldest first; of a spot that was measured twice both."""
        with self._lock:
            return tuple(self._read)

    def outcome(self) -> str:
        """Return why the last spot could not be measured; empty where it was."""
        with self._lock:
            return self._outcome

    # ---- gains

    def gains(self, sensor: str) -> Gains:
        """Return what was measured of this sensor's gains."""
        with self._lock:
            return gains_of(self._ratios, sensor)

    def learned(self, row: GainsMeasured) -> None:
        """Take in that gains were measured just now."""
        with self._lock:
            self._ratios.append((row, wall.now().date().isoformat()))

    def go_through(self, through: Through) -> None:
        """Let the readings that begin now go through these gains."""
        with self._lock:
            self._through, self._kept_to, self._dim = through, None, None

    def gain(self, seen: Sequence[Reading]) -> Gain | None:
        """Return the gain that is to count from here on, on the sensor's thread; None for the one that is set."""
        with self._lock:
            turn = self._turn.wanted(seen[-1].end_ns)
            through, now = self._through, seen[-1].gain
            if turn is not None or self._what is None or through is None or not now:
                return turn
            if self._due is not None:
                return now  # its dark is counted with the gain of its light
            if self._lit_ns is None:
                return self._kept_to or through.first
            lit = [each for each in seen[-_FEW:] if each.start_ns >= self._lit_ns]
            wanted = gain_for(lit, through.allowed, self._kept_to, brightest=self._what != "spots")
            return wanted or now

    # ---- what the runner tells, on its thread

    def changed(self, before: State, after: State, wanted: Sequence[Effect]) -> None:
        """Take note of a light that a press has ended, and of readings that are over."""
        work = before.work
        what = None if work is None else readings_of(work.plan)
        goes_on = after.work is not None and work is not None and after.work.sheet == work.sheet
        place = after.place if isinstance(after.place, Light) and after.work is not None else None
        with self._lock:
            self._what = None if after.work is None else readings_of(after.work.plan)
            self._lit_ns = None if place is None else place.on_ns
            if place is not None and after.work is not None and check_of(after.work.plan) == "gains":
                self._turn.light_on(place.on_ns)
            elif work is not None and check_of(work.plan) == "gains":
                for effect in wanted:
                    if isinstance(effect, File) and isinstance(effect.entry, LightCame):
                        self._turn.light_over(effect.entry.on_ns + effect.entry.most_ns)
            if self._due is not None and (after.work is None or after.work.sheet != self._due.readings):
                self._due = None  # its hold has taken it back
            if work is None or what is None:
                return
            for effect in wanted:
                if isinstance(effect, File) and isinstance(effect.entry, LightCame) and effect.entry.why == "foot":
                    came = effect.entry
                    self._due = _Due(
                        light=came.light,
                        readings=work.sheet,
                        what=what,
                        spot=work.step.name,
                        on_ns=came.on_ns,
                        press_ns=came.on_ns + came.most_ns - DOWN_NS,
                        dark_ns=came.on_ns + came.most_ns,
                        filter=work.step.filter or work.step.what or self._needs.filter_in(),
                        bench=after.bench,
                    )
            if not goes_on:
                self._due = None
            due = self._due
            if due is not None and due.on_ns < after.foot.first_ns <= due.dark_ns:
                self._due = replace(due, press_ns=after.foot.first_ns)  # the keeper tells of the dark first

    # ---- what the sensor tells, on its thread

    def hear(self, reading: Reading, seen: Sequence[Reading], sensor: str) -> None:
        """Weigh the light that is due, once its dark is counted; `seen` ends with `reading`."""
        with self._lock:
            due = self._due
            if due is None or reading.end_ns < due.dark_ns + DARK_TO_NS:
                return
            self._due = None
            dim = self._dim if due.what == "evenness" else None
        try:
            found = counted(seen, due.on_ns, due.press_ns, due.dark_ns, dim=dim)
        except Impossible as problem:
            self._over(due, str(problem), reading.end_ns)
            return
        row = SpotRead(
            readings=due.readings,
            what=due.what,
            spot=due.spot,
            level=found.level,
            dark=found.dark,
            gain=found.gain,
            sensor=sensor.split(" ")[0],
            doubt=round(found.doubt, 5),
            filter=due.filter,
            bench=due.bench,
        )
        with self._lock:
            self._read.append(row)
            self._kept_to = self._kept_to or found.gain
            self._dim = self._dim or (found.level / DIM, found.gain)
        self._needs.call(lambda: self._needs.note(row))
        self._over(due, "", reading.end_ns)

    def gone(self, at_ns: int) -> None:
        """The sensor went: what is due cannot be told."""
        with self._lock:
            due, self._due = self._due, None
        if due is not None:
            self._over(due, say("lamp.sensor-went"), at_ns)

    def _over(self, due: _Due, why: str, at_ns: int) -> None:
        with self._lock:
            self._outcome = why
        self._needs.call(lambda: self._needs.tell(SpotTold(due.light, not why, at_ns)))


def _spot(row: Row) -> SpotRead | None:
    return row.entry if isinstance(row.entry, SpotRead) else None
