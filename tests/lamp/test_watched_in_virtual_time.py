"""Foot, grammar, keeper, watch and a sensor in virtual time: what the paper gets of lights that are wrong, or weak.

The sensor counts the lamp line's own edges, as strong as the test says, in cycles of 100 ms heard at their end.
"""

from __future__ import annotations

import math
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

import pytest
from tools.foot_bench import FootBench, one_step, sheet_plan

from controller.foot.events import DoseTold, LevelWrong
from controller.foot.places import Held, Light
from controller.lamp.level_watch import LevelWatch, watched
from controller.store.entries import LightCame
from controller.store.levels import Dose
from hardware.light_sensor import Reading

MS = 1_000_000
CYCLE_MS = 100
PER_MS = 40.0


@dataclass
class Watched:
    """A bench with a sensor beside its easel."""

    bench: FootBench
    strength: float = 1.0
    gave_ms: float = 0.0
    """Full light that the paper has had."""
    doses: list[Dose] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.watch = LevelWatch(self, list)  # type: ignore[arg-type]
        self.readings: list[Reading] = []
        self.known = 0

    def call(self, work: Any) -> Future[Any]:
        work()
        return Future()

    def judged(self, word: LevelWrong | DoseTold) -> None:
        self.bench.ask(word)

    def note(self, row: Dose) -> None:
        self.doses.append(row)

    def run(self, ms: int) -> None:
        """Let time pass, a cycle of the sensor at a time."""
        for _ in range(ms // CYCLE_MS):
            start = self.bench.now_ns
            self.bench.run(CYCLE_MS)
            end = self.bench.now_ns
            lights = [(round((on + 20_000) * MS), round((off + 20_000) * MS)) for on, off in self.bench.lights()]
            lit_ms = sum(max(0, min(off, end) - max(on, start)) for on, off in lights) / MS
            self.gave_ms += lit_ms * self.strength
            self.readings.append(Reading(start, end, 6 + round(lit_ms * PER_MS * self.strength)))
            for came in self.bench.journal.of(LightCame)[self.known :]:
                self.known += 1
                wrong = self.bench.state.wrong
                self.watch.light_over(came, wrong=wrong is not None and wrong.light == came.light)
            if isinstance(place := self.bench.place, Light):
                self.watch.light_on(watched(self.bench.state, place))
            self.watch.hear(self.readings, "virtual")

    def give(self) -> float:
        """Press, and wait until it is dark again; return the full light that came, in ms."""
        before = self.gave_ms
        self.run(2000)
        self.bench.move(True)
        self.run(200)
        self.bench.move(False)
        self.run(20_000)
        return self.gave_ms - before


def beside(*steps_ms: int, give_dose: bool = False) -> Watched:
    bench = FootBench(sheet_plan(*(one_step(n, ms) for n, ms in enumerate(steps_ms, start=1))))
    bench.world.runner.change_habits(give_dose=give_dose)
    return Watched(bench)


@pytest.mark.parametrize("stops", [1.6, 2.0, 3.0, 4.0, 4.5])
def test_after_an_open_lens_the_step_has_its_light(stops: float) -> None:
    """Dark by 0.6 s; stopped down, the press gives the rest, and the paper has had its 12 s within 1/12 stop."""
    one = beside(12_000, 12_000)
    assert one.give() == pytest.approx(12_000, abs=1)
    one.strength = 2.0**stops
    one.give()
    on, off = one.bench.lights()[-1]
    assert off - on <= 600
    assert isinstance(one.bench.place, Held)
    had = (off - on) * one.strength
    one.strength = 1.0
    assert abs(math.log2((had + one.give()) / 12_000)) <= 1 / 12
    assert len(one.bench.lights()) == 3


def test_a_second_press_with_the_lens_still_open_ends_as_soon() -> None:
    """Nobody has stopped down: it is dark again by 0.6 s, and what came counts as well."""
    one = beside(12_000, 12_000)
    one.give()
    one.strength = 4.0
    one.give()
    one.give()
    assert all(off - on <= 600 for on, off in one.bench.lights()[1:])
    had = sum(off - on for on, off in one.bench.lights()[1:]) * 4
    one.strength = 1.0
    assert abs(math.log2((had + one.give()) / 12_000)) <= 1 / 12


@pytest.mark.parametrize("stops", [-0.25, -0.1, 0.2, 0.3])
def test_with_give_the_dose_the_paper_has_its_dose(stops: float) -> None:
    """Weaker or stronger by less than a third of a stop, the paper has the plan's light within 1/50 stop."""
    one = beside(12_000, 12_000, give_dose=True)
    assert one.give() == pytest.approx(12_000, rel=0.002)
    one.strength = 2.0**stops
    assert math.log2(one.give() / 12_000) == pytest.approx(0, abs=0.02)


def test_a_sensor_that_is_silent_leaves_the_plan() -> None:
    """Where nothing more is heard in the midst of a light, it ends by its time."""
    one = beside(12_000, 12_000, give_dose=True)
    one.give()
    one.strength = 0.84
    one.run(2000)
    one.bench.press()
    one.run(4000)
    one.bench.run(20_000)
    on, off = one.bench.lights()[-1]
    assert off - on == pytest.approx(12_000, abs=1)
