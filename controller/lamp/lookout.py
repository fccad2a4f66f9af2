"""The lookout: whether each light came and went, by the sensor, and whether the lamp is warm; it tells the runner.

A light that stays after its line is dark fogs paper: alarm. One that does not come leaves a sheet that counts light it
never had: a sentence, and the printer says on the page that none came.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Final

from controller.foot.events import DoseTold, LevelWrong
from controller.foot.state import State
from controller.foot.status import Status
from controller.lamp import measure as readings
from controller.lamp.measure import AFTER_NS, RISE_NS, Span
from controller.recipe.plan import Plan
from controller.store.entries import Entry, LightSeen, Trouble
from controller.store.settings import Settings
from controller.words import say
from hardware.light_sensor import Reading

_LOST_NS: Final = 4_000_000_000
"""A sensor that has said nothing for so long after a light will say nothing of it any more."""
_ALARM_AGAIN_NS: Final = 5_000_000_000
_MINUTE_NS: Final = 60_000_000_000


@dataclass(frozen=True, slots=True)
class BenchNeeds:
    """What the bench needs of the darkroom around it; each but the last four runs on the runner's thread."""

    load: Callable[[Plan, int], Status]
    """Load a check that was decided on snapshot `number`; raises `WrongMoment`."""
    judged: Callable[[LevelWrong | DoseTold], object]
    """Take in that the light that is on is wrong, or when it has its dose: the grammar ends it, or has it end."""
    note: Callable[[Entry], object]
    """File a row; while a light is on it waits."""
    alarm: Callable[[], object]
    """Sound the alarm, and publish a new snapshot."""
    publish: Callable[[], object]
    """Publish a new snapshot: what the pages should say has changed."""
    state: Callable[[], State]
    """Return the grammar's state."""
    call: Callable[[Callable[[], object]], Future[Any]]
    """Have something done on the runner's thread."""
    ask: Callable[[Callable[[], object]], Any]
    """Have something done there and return its answer; raises `KeeperGone`, and then it is not done later."""
    settings: Callable[[], Settings]
    """Return the settings in force."""
    change: Callable[[dict[str, object]], Settings]
    """Change settings; raises `Unreadable`."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A light that the sensor is to be asked about; `sheet` is empty for one of no sheet."""

    light: str
    sheet: str
    span: Span


class Lookout:
    """Safe from any thread: the runner tells of lights, the sensor's thread of readings."""

    def __init__(self, needs: BenchNeeds) -> None:
        self._needs = needs
        self._lock = threading.Lock()
        self._watched: deque[Watched] = deque(maxlen=50)
        self._lit_ns: int | None = None
        self._on_sheet = False
        self._unseen = ""
        """The light that was not seen; "?" while it is on."""
        self._alarm: tuple[Span, int] | None = None

    def forget(self) -> None:
        """Look no more: another sensor, or none."""
        with self._lock:
            self._alarm, self._unseen = None, ""
            self._watched.clear()

    def sentences(self) -> tuple[str, ...]:
        """Return what every page should say now."""
        with self._lock:
            alarm, unseen = self._alarm is not None, bool(self._unseen)
        return (*((say("lamp.alarm"),) if alarm else ()), *((say("lamp.unseen"),) if unseen else ()))

    # ---- what the runner tells

    def light_on(self, on_ns: int, *, sheet: bool) -> None:
        """A light is on; `sheet` tells whether it is a step's."""
        with self._lock:
            self._lit_ns, self._on_sheet = on_ns, sheet

    def light_over(self, one: Watched, *, looking: bool) -> None:
        """A light's line is dark again; `looking` tells whether there is a sensor to be asked."""
        with self._lock:
            self._lit_ns = None
            if looking:
                self._watched.append(one)
            if self._unseen == "?":
                self._unseen = one.light

    def settled(self) -> None:
        """The printer has struck a light, or closed the sheet: what was not seen is dealt with."""
        with self._lock:
            self._unseen = ""

    # ---- what the sensor tells, on its thread

    def hear(self, reading: Reading, seen: Sequence[Reading]) -> None:
        """Judge the lights that were, and the one that is, by a new reading; `seen` ends with it."""
        self._look_back(reading, seen)
        self._look_at_light(reading, seen)
        self._look_at_alarm(reading, seen)

    def _look_back(self, reading: Reading, seen: Sequence[Reading]) -> None:
        """Say of each light, half a second after its dark, whether it came and whether it went."""
        while True:
            with self._lock:
                if not self._watched or reading.start_ns < self._watched[0].span.dark_ns + AFTER_NS:
                    return
                one, lit_ns = self._watched.popleft(), self._lit_ns
            came = readings.seen(seen, one.span)
            if came is None or reading.start_ns > one.span.dark_ns + _LOST_NS:
                continue  # the sensor was not looking
            lit_again = lit_ns is not None and lit_ns < reading.end_ns
            stayed = not lit_again and readings.still_there(seen, one.span, reading)
            self._note(LightSeen(sheet=one.sheet, light=one.light, came=came, stayed=stayed))
            if came:
                self._found("")
            elif one.sheet and one.span.dark_ns - one.span.on_ns >= RISE_NS:
                self._note(Trouble(sheet=one.sheet, what="lamp.unseen"))
                self._found(one.light)
            if stayed:
                with self._lock:
                    self._alarm = (one.span, reading.end_ns + _ALARM_AGAIN_NS)
                self._note(Trouble(sheet=one.sheet, what="lamp.alarm"))
                self._needs.call(self._needs.alarm)

    def _look_at_light(self, reading: Reading, seen: Sequence[Reading]) -> None:
        """Say of a step's light that is on, once a lamp would have come up, whether it is there."""
        with self._lock:
            on_ns, on_sheet = self._lit_ns, self._on_sheet
        if on_ns is None or not on_sheet or reading.end_ns < on_ns + RISE_NS:
            return
        came = readings.seen(seen, Span(on_ns, reading.end_ns))
        if came is not None:
            self._found("" if came else "?")

    def _found(self, unseen: str) -> None:
        with self._lock:
            changed, self._unseen = bool(unseen) != bool(self._unseen), unseen
        if changed:
            self._needs.call(self._needs.publish)

    def _look_at_alarm(self, reading: Reading, seen: Sequence[Reading]) -> None:
        with self._lock:
            alarm = self._alarm
        if alarm is None:
            return
        span, again_ns = alarm
        if not readings.still_there(seen, span, reading):
            with self._lock:
                self._alarm = None
            self._needs.call(self._needs.publish)
        elif reading.end_ns >= again_ns:
            with self._lock:
                self._alarm = (span, reading.end_ns + _ALARM_AGAIN_NS)
            self._needs.call(self._needs.alarm)

    def _note(self, entry: Entry) -> None:
        self._needs.call(lambda: self._needs.note(entry))


class Warmth:
    """When the lamp was last lit, against what its warming up wants. Safe from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._lit = False
        self._dark_ns: int | None = None

    def light_on(self) -> None:
        """The lamp is lit."""
        with self._lock:
            self._lit = True

    def light_over(self, dark_ns: int) -> None:
        """The lamp went dark."""
        with self._lock:
            self._lit, self._dark_ns = False, dark_ns

    def dark_minutes(self, now_ns: int) -> int | None:
        """Return for how many minutes the lamp has been dark; None where it was never lit since the start."""
        with self._lock:
            return None if self._dark_ns is None else (now_ns - self._dark_ns) // _MINUTE_NS

    def cold(self, settings: Settings, now_ns: int) -> str:
        """Return a sentence where the lamp should be warmed before a sheet; empty else."""
        if not settings.warm_up_seconds or self._lit:
            return ""
        minutes = self.dark_minutes(now_ns)
        if minutes is None:
            return say("lamp.cold-first", seconds=f"{settings.warm_up_seconds:g}")
        if minutes < settings.warm_up_pause_minutes:
            return ""
        return say("lamp.cold", minutes=minutes, seconds=f"{settings.warm_up_seconds:g}")
