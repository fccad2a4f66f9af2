"""The probe on the practice baseboard through the whole of a darkroom in virtual time: foot, keeper, lamp, rows."""

from __future__ import annotations

import random
from dataclasses import replace

from controller.easel.plan import reference_plan, spots_plan
from controller.foot import acts
from controller.foot.events import Chosen, SpotTold
from controller.lamp.spot_bench import SpotBench, SpotNeeds
from controller.recipe.plan import Plan
from controller.store.easel_rows import SpotRead
from controller.store.journal import Journal, Stamp
from hardware.clock import ManualClock
from hardware.light_sensor import CYCLE_NS, FULL, Gain, Reading
from hardware.practice.meter import light_ns
from hardware.practice.sensor import SAFELIGHT_PER_S, Laid, counted
from tools.foot_bench import MS, FootBench


class Darkroom:
    """A bench of the foot with a practice sensor beside it, whose cycles pass as time does."""

    def __init__(self, seed: int = 3) -> None:
        self.bench = FootBench(chosen=False)
        self.laid = Laid(0.0, SAFELIGHT_PER_S)
        self.dice = random.Random(seed)
        self.gone = False
        self.now: Gain = "high"
        self.set: Gain = "high"
        self.seen: list[Reading] = []
        runner, world = self.bench.world.runner, self.bench.world
        needs = SpotNeeds(
            note=self.bench.journal.append,
            tell=self._tell,
            call=lambda do: do(),
            filter_in=lambda: "soft",
        )
        self.spots = SpotBench(needs, Journal.in_memory(ManualClock(), Stamp.here()))
        runner.watchers = replace(runner.watchers, changed=self.spots.changed)
        self.end_ns = world.clock.now_ns()
        self.presses = 0
        assert self.bench.do(acts.PaperAway()) is None

    def _tell(self, event: SpotTold) -> None:
        self.bench.ask(event)

    def load(self, *, reference: bool = False, plan: Plan | None = None) -> None:
        plan = plan or (reference_plan() if reference else spots_plan())
        assert self.bench.ask(Chosen(plan, self.bench.world.clock.now_ns())) is None
        self.run(100)

    def run(self, ms: float) -> None:
        """Let time pass, cycle by cycle of the sensor."""
        until = self.bench.world.clock.now_ns() + round(ms * MS)
        while self.end_ns + CYCLE_NS <= until:
            start, self.end_ns = self.end_ns, self.end_ns + CYCLE_NS
            self.bench.world.run_until(max(self.end_ns, self.bench.world.clock.now_ns()))
            lit = light_ns(self.bench.world.room.edges(), start, self.end_ns) / 1e9
            at_high = lit * self.laid.lamp + self.laid.stray * CYCLE_NS / 1e9
            if not self.gone:
                counts = counted(at_high, self.now, self.dice)
                full = counts >= FULL
                self.seen.append(Reading(start, self.end_ns, float(min(counts, FULL)), full=full, gain=self.now))
                seen = tuple(self.seen[-100:])
                self.spots.hear(self.seen[-1], seen, f"practice {self.now}")
                self.now = self.spots.gain(seen) or self.set
        self.bench.world.run_until(until)

    def press(self, ms: float = 150) -> None:
        self.presses += 1
        self.bench.move(True)
        self.run(ms)
        self.bench.move(False)
        self.run(70)

    def measure(self, lamp: float, *, stray: float = SAFELIGHT_PER_S, lit_ms: float = 4000) -> SpotRead | None:
        """Press, lay the probe half a second after light, press; return the row, or None."""
        before = len(self.spots.read())
        self.press()
        self.run(2500)
        self.laid = Laid(lamp, stray)
        self.run(lit_ms - 500)
        self.press()
        self.run(2300)
        return self.spots.read()[-1] if len(self.spots.read()) > before else None
