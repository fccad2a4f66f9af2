"""The watch over each step's light: judged in its first half second, its dose told afterwards, good levels learned.

It drives nothing: it tells the runner what it found, and from there a light can only be ended.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from controller.foot.events import DoseTold, LevelWrong
from controller.foot.places import Light
from controller.foot.state import State, Work
from controller.lamp.dose import DosePlan, dose_plan, next_word
from controller.lamp.first_half_second import (
    BY_NS,
    Levels,
    Rise,
    Verdict,
    first_cycle,
    judge,
    level_of,
    rate,
    share_at,
)
from controller.lamp.lookout import BenchNeeds
from controller.lamp.measure import AFTER_NS, Span, dark_level, stops_between
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Hands
from controller.store.entries import LampChecked, LightCame
from controller.store.levels import Dose, LevelKey
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.light_sensor import Reading

LOOK_BACK: Final = 4000
"""Rows that are looked through for good levels when a sensor is taken up: some evenings of them."""
_BARE: Final = frozenset(
    {"", "recipe.card-none", "recipe.card-away", "recipe.card-dodgers-out", "recipe.card-dodger-ready"}
)
"""First places of card and dodger in which neither is in the light."""
_MOST_PENDING: Final = 50
_NEVER_NS: Final = 2**62


@dataclass(frozen=True, slots=True)
class Watched:
    """A step's light that is on: which, of which sheet, what it is compared with, and until when no hand is in it."""

    order: str
    sheet: str
    on_ns: int
    key: LevelKey
    bare_until_ns: int | None
    """None where a card or a dodger is in it from the start."""
    plan: DosePlan | None = None
    """What it is to give, where its dose is asked for."""


@dataclass(frozen=True, slots=True)
class _Over:
    """A light that is over."""

    light: Watched
    span: Span
    complete: bool


def watched(state: State, place: Light) -> Watched:
    """Return what is to be watched of a step's light."""
    work = state.loaded
    step = work.step
    passed_ms = work.given[work.index].most_ns // NS_PER_MS
    marks = [place.on_ns + (mark.at_ms - passed_ms) * NS_PER_MS for mark in step.marks if mark.at_ms > passed_ms]
    bare = step.card in _BARE and not (step.marks and passed_ms)
    return Watched(
        order=place.order,
        sheet=state.sheet,
        on_ns=place.on_ns,
        key=key_of(work, work.plan.bench or state.bench),
        bare_until_ns=min(marks, default=_NEVER_NS) if bare else None,
        plan=dose_plan(state),
    )


def key_of(work: Work, bench: AtEnlarger) -> LevelKey:
    """Return by what the present step's level is kept: what is in the carrier, the filter, and how the lens stands."""
    hands = [step.hands for step in work.steps[: work.index + 1] if step.hands is not None]
    carrier = bench.negative_format
    laid = [each for each in hands if each not in (Hands.TWO_STOPS_DOWN, Hands.TWO_STOPS_OPEN)]
    if laid and laid[-1] in (Hands.NEGATIVE_OUT, Hands.OPAL_IN):
        carrier = laid[-1].value
    marked = work.plan.aperture if bench.aperture is None else f"{bench.aperture:g}"
    lens = [each for each in hands if each in (Hands.TWO_STOPS_DOWN, Hands.TWO_STOPS_OPEN)]
    if lens and lens[-1] is Hands.TWO_STOPS_DOWN:
        marked = f"{marked}, {lens[-1].value}"
    return LevelKey(
        negative=bench.negative or bench.negative_title,
        carrier=carrier,
        filter=work.step.filter,
        f_number=marked,
        head_height_mm=bench.head_height_mm,
    )


class LevelWatch:
    """Safe from any thread: the runner tells of lights, the sensor's thread of readings.

    `past` gives what is on file: good levels, and the lamp's checks; it is asked once a sensor, on its thread.
    """

    def __init__(self, needs: BenchNeeds, past: Callable[[], Iterable[Dose | LampChecked]]) -> None:
        self._needs, self._past = needs, past
        self._lock = threading.Lock()
        self._lit: Watched | None = None
        self._told_ms: int | None = None
        """When the light that is on is to end, as it was told last."""
        self._judged = ""
        """The light that has been judged."""
        self._over: deque[_Over] = deque(maxlen=_MOST_PENDING)
        self._said = ""
        """What the page says of the light that is on, or was last."""
        self._levels = Levels()
        self._rises: dict[str, Rise] = {}
        self._knows = False

    def forget(self) -> None:
        """Another sensor, or none: what is on file is asked for anew."""
        with self._lock:
            self._lit, self._said, self._knows = None, "", False
            self._over.clear()
            self._levels.forget()
            self._rises.clear()

    def checked(self, check: LampChecked) -> None:
        """The lamp was checked: it teaches how it comes up; a new bulb has new levels."""
        with self._lock:
            self._check(check)

    def sentences(self) -> tuple[str, ...]:
        """Return what every page should say now."""
        with self._lock:
            return (self._said,) if self._said else ()

    # ---- what the runner tells

    def light_on(self, light: Watched) -> None:
        """A step's light is on."""
        with self._lock:
            if self._lit is None or self._lit.order != light.order:
                self._lit, self._said, self._told_ms = light, "", None

    def light_over(self, came: LightCame, *, wrong: bool) -> None:
        """A light is over; `wrong` tells that it was far too strong, or came through another filter."""
        with self._lock:
            lit, self._lit = self._lit, None
            if lit is None or lit.order != came.light:
                return
            span = Span(came.on_ns, came.on_ns + came.most_ns)
            self._over.append(_Over(lit, span, came.why == "complete" and not wrong and came.least_ns == came.most_ns))

    # ---- what the sensor tells, on its thread

    def hear(self, seen: Sequence[Reading], sensor: str) -> None:
        """Judge the light that is on, and tell the doses of those that are over; `seen` ends with the newest."""
        with self._lock:
            wrong = self._look_at_light(seen, sensor)
            dose = self._dose_of_light(seen, sensor)
            doses = self._look_back(seen, sensor)
        if wrong is not None:
            self._needs.call(lambda: self._needs.judged(wrong))
        if dose is not None:
            self._needs.call(lambda: self._needs.judged(dose))
        for row in doses:
            self._note(row)

    def _note(self, row: Dose) -> None:
        self._needs.call(lambda: self._needs.note(row))

    def _dose_of_light(self, seen: Sequence[Reading], sensor: str) -> DoseTold | None:
        """Return when the light that is on has its dose, where that is to be told now."""
        light = self._lit
        if light is None or light.plan is None or self._judged != light.order:
            return None
        good = self._levels.good(sensor, light.key)
        if good is None:
            return None
        lit_ms = next_word(seen, light.on_ns, good, light.plan, self._told_ms)
        if lit_ms is None:
            return None
        self._told_ms = lit_ms
        return DoseTold(light.order, lit_ms, seen[-1].end_ns)

    def _look_at_light(self, seen: Sequence[Reading], sensor: str) -> LevelWrong | None:
        light, reading = self._lit, seen[-1]
        if light is None or self._judged == light.order or reading.end_ns < light.on_ns:
            return None
        self._learn_past()
        cycle = first_cycle(seen, light.on_ns)
        if cycle is None:
            if reading.start_ns > light.on_ns + BY_NS:
                self._judged = light.order  # the sensor was not looking
            return None
        self._judged = light.order
        dark = dark_level(seen, light.on_ns)
        if dark is None:
            return None
        share = max(0.1, share_at(self._rises.get(sensor, ()), cycle, light.on_ns))
        good, others = self._levels.good(sensor, light.key), self._levels.others(sensor, light.key)
        counts = (good or 0.0) * share * (cycle.end_ns - cycle.start_ns) / 1e9
        verdict = judge(rate(cycle, dark) / share, good, others, dazzled=cycle.full, counts=counts)
        return self._wrong(light, verdict, reading.end_ns)

    def _wrong(self, light: Watched, verdict: Verdict, at_ns: int) -> LevelWrong | None:
        found = verdict.found
        if found in ("good", "unwatched"):
            return None
        less = verdict.stops is not None and verdict.stops < 0
        if less and light.bare_until_ns is None:
            return None  # the tool that belongs in it is before the sensor
        word = LevelWrong(light.order, found, verdict.stops, verdict.filter, at_ns)  # type: ignore[arg-type]
        if found == "weak" or not word.too_much:
            self._said = say("lamp.weak-light" if found == "weak" else "lamp.weak-filter", filter=verdict.filter)
        return word

    def _look_back(self, seen: Sequence[Reading], sensor: str) -> list[Dose]:
        doses: list[Dose] = []
        while self._over and seen[-1].start_ns >= self._over[0].span.dark_ns + AFTER_NS:
            self._learn_past()
            dose = self._dose(self._over.popleft(), seen, sensor)
            if dose is not None:
                doses.append(dose)
        return doses

    def _dose(self, over: _Over, seen: Sequence[Reading], sensor: str) -> Dose | None:
        light, key = over.light, over.light.key
        level = level_of(seen, over.span, self._rises.get(sensor, ()), bare_until_ns=light.bare_until_ns)
        if level is None:
            return None
        before = self._levels.good(sensor, key)
        teaches = over.complete and light.bare_until_ns is not None
        return Dose(
            sheet=light.sheet,
            light=light.order,
            sensor=sensor,
            level=level,
            at=key,
            stops=None if before is None else stops_between(level, before),
            good=teaches and self._levels.learn(sensor, key, level),
        )

    def _learn_past(self) -> None:
        if self._knows:
            return
        self._knows = True
        for entry in self._past():
            if isinstance(entry, LampChecked):
                self._check(entry)
            elif entry.good:
                self._levels.learn(entry.sensor, entry.at, entry.level)

    def _check(self, check: LampChecked) -> None:
        if check.new_bulb:
            self._levels.forget()
        if check.rise:
            self._rises[check.sensor] = check.rise
