"""Spots counted through the whole of a darkroom in virtual time: foot, keeper, lamp, probe on the baseboard, rows."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from tools.fitted_papers import demo
from tools.foot_bench import MS, FootBench

from controller.easel.keeps import level_against, reference_of
from controller.easel.plan import reference_plan, spots_plan
from controller.easel.spots import Measured, density
from controller.easel.two_tones import reckon
from controller.errors import Impossible
from controller.foot import acts
from controller.foot.events import Chosen, SpotTold
from controller.lamp.spot_bench import SpotBench, SpotNeeds
from controller.paper.paper import Box
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import light_at, raster
from controller.picture.tray import developed
from controller.practice.board import bare_scene
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.practice.probe import COUNTS, HOLE_MM
from controller.store.entries import SpotRead
from controller.store.journal import Journal, Stamp
from hardware.clock import ManualClock
from hardware.light_sensor import CYCLE_NS, Reading
from hardware.practice.meter import light_ns
from hardware.practice.sensor import SAFELIGHT_PER_S, Laid, counted

SOFT_UNITS, HARD_UNITS = (0.012648, 1.054), (0.161, 0.000322)
"""Blue and green of a second through soft and hard, as `controller.picture.light` has them."""
LIES = InCarrier(name="crane", magnification=2.0, aperture=8.0)


class Darkroom:
    """A bench of the foot with a practice sensor beside it, whose cycles pass as time does."""

    def __init__(self, seed: int = 3) -> None:
        self.bench = FootBench(chosen=False)
        self.laid = Laid(0.0, SAFELIGHT_PER_S)
        self.dice = random.Random(seed)
        self.gone = False
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
        assert self.bench.do(acts.PaperAway()) is None

    def _tell(self, event: SpotTold) -> None:
        self.bench.ask(event)

    def load(self, *, reference: bool = False) -> None:
        plan = reference_plan() if reference else spots_plan()
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
                self.seen.append(Reading(start, self.end_ns, float(counted(at_high, "high", self.dice)), gain="high"))
                self.spots.hear(self.seen[-1], tuple(self.seen[-100:]), "practice high")
        self.bench.world.run_until(until)

    def press(self, ms: float = 150) -> None:
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


def _share(carrier: str, x: float = 0.5, y: float = 0.5) -> float:
    return light_at(bare_scene(_negatives(), PracticeScene(), LIES), carrier, x, y, HOLE_MM)  # type: ignore[arg-type]


def _negatives():  # type: ignore[no-untyped-def]
    from controller.picture.scene import negatives_named

    return negatives_named("crane")


def _even_place(wanted: float) -> tuple[float, float, float]:
    """Return an even place of about this density on the baseboard's picture, as shares, and its density."""
    image = raster(bare_scene(_negatives(), PracticeScene(), LIES)).image
    height, width = image.shape
    found = []
    for row in range(30, height - 30, 4):
        for column in range(30, width - 30, 4):
            patch = image[row - 3 : row + 4, column - 3 : column + 4]
            if patch.min() > 0.001:
                tone, uneven = -math.log10(float(patch.mean())), float(np.log10(patch.max() / patch.min()))
                found.append((abs(tone - wanted) / 4 + uneven, (column + 0.5) / width, (row + 0.5) / height, tone))
    return min(found)[1:]


def test_the_print_is_as_the_spots_promise() -> None:
    """Reference and two spots by foot on the practice baseboard; the pair prints both tones within tolerance.

    What the tray makes of the pair is reckoned by the practice paper alone, which knows nothing of readings; the
    tolerances, 0.04 and 0.08, are those of docs/explanation/paper-economy.md.
    """
    room, paper = Darkroom(), demo()
    soft = COUNTS * sum(SOFT_UNITS)
    room.load(reference=True)
    empty = room.measure(soft * _share("empty"))
    assert empty is not None
    kept = paper.model_copy(update={"reference": reference_of(empty, paper.box.label, paper.box.dated)})
    room.bench.hold()
    room.run(2000)
    room.load()
    tones = {}
    for name, wanted in (("highlight", 1.25), ("shadow", 0.35)):
        x, y, true = _even_place(wanted)
        read = room.measure(soft * _share("negative", x, y))
        assert read is not None, room.spots.outcome()
        assert (read.spot, read.gain, read.sensor, read.filter) == (name, "high", "practice", "soft")
        found = density(level_against(kept, read.sensor, read.gain, read.filter), read.level)
        assert found == pytest.approx(true, abs=0.02)
        tones[name] = found, true
    pair = reckon(
        kept, [Measured("highlight", tones["highlight"][0], 0.14), Measured("shadow", tones["shadow"][0], 1.9)]
    ).pair
    soft_s, hard_s = round(pair.soft_seconds, 1), round(pair.hard_seconds, 1)
    for (_, true), wished, within in zip(tones.values(), (0.14, 1.9), (0.04, 0.08), strict=True):
        blue, green = (
            np.full((1, 1), (soft_s * s + hard_s * h) * 10.0**-true, dtype=np.float32)
            for s, h in zip(SOFT_UNITS, HARD_UNITS, strict=True)
        )
        assert float(developed(blue, green, practice_paper("one"))[0][0, 0]) == pytest.approx(wished, abs=within)


@pytest.mark.parametrize(
    ("lamp", "stray", "lit_ms", "says"),
    [
        (5000.0, 60.0, 1500.0, "Too soon"),
        (300.0, 10.0, 4000.0, "counts, and 400 are needed"),
        (5000.0, 4000.0, 4000.0, "phone over"),
    ],
)
def test_a_refused_spot_leaves_no_row_and_comes_again(lamp: float, stray: float, lit_ms: float, says: str) -> None:
    """The no is heard, the sentence says the remedy, and the same spot is measured after it."""
    room = Darkroom()
    room.load()
    assert room.measure(lamp, stray=stray, lit_ms=lit_ms) is None
    assert says in room.spots.outcome()
    assert room.bench.cues(0)[-1] == "no"
    read = room.measure(5000.0)
    assert read is not None
    assert read.spot == "highlight"
    assert room.spots.outcome() == ""
    assert [row.spot for row in room.bench.journal.of(SpotRead)] == ["highlight"]


def test_a_hold_takes_its_own_reading_back() -> None:
    """The light that a hold ended is weighed by nobody: no row, whatever the sensor saw."""
    room = Darkroom()
    room.load()
    assert room.measure(5000.0) is not None
    room.press()
    room.run(6000)
    room.press(900)
    room.run(5000)
    assert [row.spot for row in room.bench.journal.of(SpotRead)] == ["highlight"]
    assert room.bench.state.work is None


def test_a_sensor_that_goes_takes_the_spot_with_it() -> None:
    """Gone before the dark was counted: the spot is asked for again, and says why."""
    room = Darkroom()
    room.load()
    room.press()
    room.run(2500)
    room.laid = Laid(5000.0, SAFELIGHT_PER_S)
    room.run(3500)
    room.press()
    room.gone = True
    room.spots.gone(room.bench.world.clock.now_ns())
    room.run(2300)
    assert room.spots.read() == ()
    assert room.spots.outcome()
    assert room.bench.state.loaded.step.name == "highlight"


def test_each_spot_s_row_says_what_stood_at_the_enlarger() -> None:
    """Level, dark, gain, sensor, filter and the whole of the enlarger's standing, by readings of one name."""
    room = Darkroom()
    room.load()
    one, two = room.measure(5000.0), room.measure(20_000.0)
    assert one is not None
    assert two is not None
    assert one.readings == two.readings != ""
    assert one.bench == room.bench.state.bench
    assert one.dark == pytest.approx(SAFELIGHT_PER_S, abs=15)
    assert one.level == pytest.approx(5000.0, rel=0.005)


def test_a_reference_is_of_one_box_sensor_gain_and_filter() -> None:
    """Anything else is refused by its own sentence."""
    room = Darkroom()
    room.load(reference=True)
    read = room.measure(48_210.0)
    assert read is not None
    paper = demo()
    kept = paper.model_copy(update={"reference": reference_of(read, paper.box.label, paper.box.dated)})
    assert level_against(kept, "practice", "high", "soft") == read.level
    newer = kept.model_copy(update={"box": Box(label=paper.box.label, dated=paper.box.dated.replace(year=2027))})
    for asked, says in (
        ((paper, "practice", "high", "soft"), "has no reference yet"),
        ((kept, "tsl2591", "high", "soft"), "Measure both alike"),
        ((kept, "practice", "max", "soft"), "Measure both alike"),
        ((kept, "practice", "high", "hard"), "hard is in"),
        ((newer, "practice", "high", "soft"), "not of this box"),
    ):
        with pytest.raises(Impossible, match=says):
            level_against(*asked)


def test_the_probe_sees_what_the_paper_gets() -> None:
    """Through a negative and without, the probe's share of the light is the print's own map (ISO 5-2: 10^−D)."""
    x, y, true = _even_place(0.8)
    ratio = _share("empty", x, y) / _share("negative", x, y)
    assert math.log10(ratio) == pytest.approx(true, abs=0.02)
    larger = LIES.model_copy(update={"magnification": 4.0})
    there = light_at(bare_scene(_negatives(), PracticeScene(), larger), "empty", 0.5, 0.5, HOLE_MM)
    assert math.log10(_share("empty") / there) == pytest.approx(0.4437, abs=0.003)
