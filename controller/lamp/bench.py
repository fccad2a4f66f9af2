"""The lamp's bench: checks are begun, watched and weighed here, beside the runner and never in light's way.

Three threads meet under one lock that nobody holds for long: pages ask, the runner tells of lights, the sensor's
own thread tells of readings. Rows, sounds and troubles go through the runner's thread.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Final, Literal

from controller.errors import Impossible, WrongMoment
from controller.foot.effects import Effect, File, PlaceOrder
from controller.foot.places import Focus, LeadIn, Light
from controller.foot.state import State
from controller.foot.status import Status
from controller.lamp import check_plans as plans
from controller.lamp.check_plans import CheckName, PaperTest
from controller.lamp.history import LampView, history
from controller.lamp.level_watch import LOOK_BACK, LevelWatch, watched
from controller.lamp.lookout import BenchNeeds, Lookout, Warmth, Watched
from controller.lamp.measure import Due, Span, weighed
from controller.lamp.sensor import SensorWatch
from controller.lamp.spot_bench import SpotBench
from controller.recipe.plan import Plan
from controller.store.entries import (
    Closed,
    Entry,
    LagFound,
    LampChecked,
    LampWarmed,
    LightCame,
    PaperTestGiven,
    Struck,
    Trouble,
)
from controller.store.levels import Dose, GainsMeasured
from controller.store.rows import Reader
from controller.store.settings import Settings
from controller.words import say
from hardware.clock import NS_PER_MS, Clock
from hardware.light_sensor import LightSensor, Reading

_BY_SENSOR: Final = {"sensor": plans.sensor_plan, "reference": plans.reference_plan, "gains": plans.gains_plan}


class LampBench:
    """Safe from any thread. `open_sensor` is asked for anew whenever the sensor was gone."""

    def __init__(
        self,
        needs: BenchNeeds,
        reader: Reader,
        clock: Clock,
        open_sensor: Callable[[Settings], LightSensor],
        *,
        relay_ms: tuple[float, float] = (0.0, 0.0),
        longest_ms: Callable[[], int] = lambda: 600_000,
        cut: bool = False,
        spots: SpotBench | None = None,
    ) -> None:
        """`cut` says that the last daemon ended within a check's light."""
        self._needs, self._reader, self._clock, self._open_sensor = needs, reader, clock, open_sensor
        self._operate_ms, self._release_ms = relay_ms
        self._longest_ms, self._spots = longest_ms, spots
        self._lock = threading.RLock()
        self._fitted: tuple[str, str] = ("none", "")
        self._watch: SensorWatch | None = None
        self._test: PaperTest | None = None
        self._spans: list[Span] = []
        self._due: Due | None = None
        self._answers = True
        """Whether the sensor answered when it was asked last; of one that was never asked nothing is said."""
        self._lookout = Lookout(needs)
        self._levels = LevelWatch(needs, self._on_file)
        self._warmth = Warmth()
        self._cut = cut
        """Said on every page until the next light."""
        self._outcome = say("lamp.cut") if cut else ""

    # ---- the sensor comes and goes with its setting

    def fit(self, settings: Settings) -> None:
        """Take up the sensor that the settings name, or let it go."""
        wanted = (settings.light_sensor, settings.sensor_gain)
        with self._lock:
            if wanted == self._fitted:
                return
            old, self._watch, self._fitted = self._watch, None, wanted
            self._due = None
        self._lookout.forget()
        self._levels.forget()
        if old is not None:
            old.close()
        if settings.light_sensor != "none":
            watch = SensorWatch(lambda: self._open_sensor(settings), self._told)
            with self._lock:
                self._watch, self._answers = watch, True
            watch.start()

    def close(self) -> None:
        """Let the sensor go."""
        with self._lock:
            old, self._watch = self._watch, None
        if old is not None:
            old.close()

    # ---- what a page asks for

    def begin_paper_test(self, number: int, **figures: int) -> Status:
        """Load a paper test; `figures` are those of `plans.paper_test`. Raises `Impossible` and `WrongMoment`."""
        test = plans.paper_test(**figures)
        status = self._load(plans.paper_plan(test), number)
        with self._lock:
            self._test = test
        return status

    def begin_by_sensor(self, name: Literal["sensor", "reference", "gains"], number: int) -> Status:
        """Load what the sensor counts by itself. Raises `WrongMoment`, also where no sensor answers."""
        self._need_sensor()
        return self._load(_BY_SENSOR[name](), number)

    def begin_warm_up(self, number: int) -> Status:
        """Load the light that warms the lamp, of the length that is set. Raises `Impossible` where none is set."""
        seconds = self._needs.settings().warm_up_seconds
        if not seconds:
            raise Impossible(say("lamp.warm-not-set"))
        return self._load(plans.warm_plan(seconds), number)

    def begin_readings(self, plan: Plan, number: int, *, by_eye: bool = False) -> Status:
        """Load readings at the easel; `by_eye` without a sensor. Raises as `begin_by_sensor`, and `Impossible`."""
        if not by_eye:
            self._need_sensor()
        return self._load(plan, number)

    def sensor_ready(self) -> bool:
        """Tell whether a sensor is fitted and answers."""
        with self._lock:
            return self._watch is not None and self._watch.state == "ready"

    def take_paper(self, band: int, *, between: bool = False) -> float:
        """Take the lag of the band that matches band 1 of the last paper test; return it in ms, relay included.

        Raises:
            Impossible: no paper test was given, or it has no such band.
        """
        test = self.view().test
        if test is None:
            raise Impossible(say("lamp.no-test"))
        return self._take("paper", float(test.lag_of(band, between=between)), 0.0)

    def take_found(self) -> float:
        """Take the lag that the sensor found; return it in ms. Raises `Impossible` where none waits."""
        found = self.view().found
        if found is None:
            raise Impossible(say("lamp.nothing-found"))
        return self._take("sensor", found.lag_ms, found.uncertain_ms)

    def take_typed(self, lag_s: float) -> float:
        """Take a lag that was found elsewhere; return it in ms. Raises `Impossible` out of limits."""
        if not 0.0 <= lag_s <= 0.5:
            raise Impossible(say("lamp.typed-limits", value=f"{lag_s:g}"))
        return self._take("typed", lag_s * 1000, 0.0)

    def new_bulb(self) -> None:
        """Take the last lamp check as the reference from here on. Raises `Impossible` where there is none."""
        if not (checks := self.view().checks):
            raise Impossible(say("lamp.no-check"))
        last = checks[0]
        row = LampChecked(level=last.level, sensor=last.sensor, new_bulb=True)
        self._levels.checked(row)
        self._note(row)

    def view(self) -> LampView:
        """Return everything the page shows."""
        past, settings, work = history(self._reader.of_the_lamp()), self._needs.settings(), self._needs.state().work
        with self._lock:
            watch, outcome = self._watch, self._outcome
        newest = next(iter(past.lags), None)
        return LampView(
            lag_ms=self._in_force(settings),
            operate_ms=self._operate_ms,
            release_ms=self._release_ms,
            sensor="none" if watch is None else watch.state,
            sensor_trouble="" if watch is None else watch.trouble,
            running=None if work is None else plans.check_of(work.plan),
            outcome=outcome,
            found=newest if newest is not None and newest.way == "sensor" and not newest.taken else None,
            test=past.test,
            lags=past.lags,
            checks=past.checks,
            gains=past.gains,
            warmed=past.warmed,
            warm_up_s=settings.warm_up_seconds,
            cold=self._cold(),
        )

    def sentences(self) -> tuple[str, ...]:
        """Return what every page should say now: lamp cold, sensor gone, lamp that did not go out."""
        with self._lock:
            watch = self._watch
        found = [say("lamp.cut") if self._cut else "", self._cold()]
        if watch is not None and watch.state == "gone":
            found.append(say("lamp.sensor-gone"))
        found += (*self._lookout.sentences(), *self._levels.sentences())
        return tuple(sentence for sentence in found if sentence)

    # ---- what the runner tells, on its thread

    def changed(self, before: State, after: State, wanted: Sequence[Effect]) -> None:
        """Take note of lights that came and of a sheet that begins on a cold lamp."""
        place = after.place
        if self._spots is not None:
            self._spots.changed(before, after, wanted)
        if isinstance(place, Light | Focus):
            self._cut = False
            self._warmth.light_on()
            step = isinstance(place, Light) and after.work is not None and not after.work.check
            self._lookout.light_on(place.on_ns, sheet=step)
            if isinstance(place, Light) and step and self._watch is not None:
                self._levels.light_on(watched(after, place))
        if isinstance(place, LeadIn) and not before.sheet_open:
            for effect in wanted:
                if isinstance(effect, PlaceOrder) and effect.order.kind == "step" and self._cold():
                    minutes = self._warmth.dark_minutes(self._clock.now_ns())
                    detail = "" if minutes is None else str(minutes)
                    self._note(Trouble(sheet=effect.order.sheet, what="lamp.cold", detail=detail))
        for effect in wanted:
            match effect:
                case File(LightCame() as came):
                    self._light(came, before, after)
                case File(Struck() | Closed()):
                    self._lookout.settled()
                case _:
                    pass

    def _light(self, came: LightCame, before: State, after: State) -> None:
        span = Span(came.on_ns, came.on_ns + came.most_ns)
        name = plans.check_of(before.work.plan) if before.work is not None else None
        self._warmth.light_over(span.dark_ns)
        wrong = after.wrong is not None and after.wrong.light == came.light
        self._levels.light_over(came, wrong=wrong)
        with self._lock:
            on_sheet = before.sheet_open or after.sheet_open
            watched = Watched(came.light, after.sheet if on_sheet else "", span)
            measuring = before.work is not None and before.work.readings
            # where spots are measured the sensor is in a hand, and no paper is out
            self._lookout.light_over(watched, looking=self._watch is not None and not measuring)
            if name is None or isinstance(before.place, Focus):
                return
            self._spans.append(span)
            over = after.work is None or before.work is None or after.work.sheet != before.work.sheet
            spans, self._spans = tuple(self._spans), [] if over else self._spans
            if over and came.why != "complete":
                self._outcome = say("lamp.stopped")
            elif over:
                self._complete(name, spans)

    def _complete(self, name: CheckName, spans: tuple[Span, ...]) -> None:
        match name:
            case "paper" if self._test is not None:
                test = self._test
                self._outcome = say("lamp.paper-given")
                self._note(PaperTestGiven(long_ms=test.long_ms, pulses=test.pulses, each_ms=test.each_ms))
            case "warm":
                self._outcome = say("lamp.warmed")
                self._note(LampWarmed(lit_ms=(spans[-1].dark_ns - spans[0].on_ns) // NS_PER_MS))
            case "sensor" | "reference" | "gains":
                self._outcome = say("lamp.weighing")
                self._due = Due(name, spans)

    # ---- what the sensor tells, on its thread

    def _told(self, reading: Reading | None) -> None:
        with self._lock:
            watch, due = self._watch, self._due
        answered, self._answers = self._answers, reading is not None
        if reading is None and due is not None:
            self._weighed(say("lamp.sensor-went"))
        if answered is not self._answers or (reading is None and due is not None):
            self._needs.call(self._needs.publish)
        if reading is None and self._spots is not None:
            self._spots.gone(self._clock.now_ns())
        if reading is None or watch is None:
            return
        seen = watch.readings()
        if due is not None and reading.end_ns >= due.by_ns:
            row, words = weighed(due, seen, watch.name)
            if row is not None:
                self._note(row)
            if isinstance(row, LampChecked):
                self._levels.checked(row)
            if isinstance(row, GainsMeasured) and self._spots is not None:
                self._spots.learned(row)
            self._weighed(words)
        self._levels.hear(seen, watch.name)
        self._lookout.hear(reading, seen)
        if self._spots is not None:
            self._spots.hear(reading, seen, watch.name)
            watch.use_gain(self._spots.gain(seen) or self._needs.settings().sensor_gain)

    def _on_file(self) -> list[Dose | LampChecked]:
        """Return what the journal knows of good levels and of how the lamp comes up, in the order in which it was."""
        after = max(0, self._reader.last() - LOOK_BACK)
        rows = (*self._reader.of_the_lamp(), *self._reader.rows(after=after, kinds=("dose",)))
        entries = [row.entry for row in sorted(rows, key=lambda row: row.number)]
        return [entry for entry in entries if isinstance(entry, Dose | LampChecked)]

    def _weighed(self, words: str) -> None:
        with self._lock:
            self._due, self._outcome = None, words

    # ---- little helps

    def _load(self, plan: Plan, number: int) -> Status:
        if not plans.fits_longest(plan, self._longest_ms()):
            raise Impossible(say("lamp.longest"))
        status: Status = self._needs.ask(lambda: self._needs.load(plan, number))
        with self._lock:
            self._spans, self._due, self._outcome = [], None, ""
        return status

    def _need_sensor(self) -> None:
        with self._lock:
            watch = self._watch
        if watch is None:
            raise WrongMoment(say("lamp.no-sensor"))
        if watch.state != "ready":
            raise WrongMoment(say("lamp.sensor-gone"))

    def _in_force(self, settings: Settings) -> float:
        return settings.lamp_lag_seconds * 1000 + self._operate_ms - self._release_ms

    def _take(self, way: str, lag_ms: float, uncertain_ms: float) -> float:
        """Take a lag over: what was measured has the relay's delays in it, and the setting is the lamp's own."""
        own_ms = lag_ms - self._operate_ms + self._release_ms
        if own_ms < 0:
            raise Impossible(say("lamp.relay-more", lag=f"{lag_ms / 1000:.3f}"))
        self._needs.change({"lamp_lag_seconds": round(own_ms / 1000, 4)})
        row = LagFound.model_validate({"way": way, "lag_ms": lag_ms, "uncertain_ms": uncertain_ms, "taken": True})
        self._note(row)
        return lag_ms

    def _note(self, entry: Entry) -> None:
        self._needs.call(lambda: self._needs.note(entry))

    def _cold(self) -> str:
        return self._warmth.cold(self._needs.settings(), self._clock.now_ns())
