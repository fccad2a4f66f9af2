"""Spots counted through the whole of a darkroom in virtual time: foot, keeper, lamp, probe on the baseboard, rows."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from tools.fitted_papers import demo
from tools.probe_places import even_place
from tools.spot_darkroom import Darkroom

from controller.easel.gains import NOMINAL
from controller.easel.keeps import level_against, reference_of
from controller.easel.spots import Measured, density
from controller.easel.two_tones import reckon
from controller.errors import Impossible
from controller.foot.events import Chosen
from controller.lamp import gain_check
from controller.lamp.check_plans import gains_plan
from controller.lamp.spot_bench import Through
from controller.paper.paper import Box
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import light_at
from controller.picture.tray import developed
from controller.practice.board import bare_scene
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.practice.probe import COUNTS, HOLE_MM
from controller.store.easel_rows import SpotRead
from controller.store.entries import LightCame
from hardware.light_sensor import GAINS
from hardware.practice.sensor import SAFELIGHT_PER_S, TIMES, Laid

SOFT_UNITS, HARD_UNITS = (0.012648, 1.054), (0.161, 0.000322)
"""Blue and green of a second through soft and hard, as `controller.picture.light` has them."""
LIES = InCarrier(name="crane", magnification=2.0, aperture=8.0)


def _share(carrier: str, x: float = 0.5, y: float = 0.5) -> float:
    return light_at(bare_scene(_negatives(), PracticeScene(), LIES), carrier, x, y, HOLE_MM)  # type: ignore[arg-type]


def _negatives():  # type: ignore[no-untyped-def]
    from controller.picture.scene import negatives_named

    return negatives_named("crane")


def _even_place(wanted: float) -> tuple[float, float, float]:
    return even_place(bare_scene(_negatives(), PracticeScene(), LIES), wanted)


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
        ((kept, "practice", "max", "soft"), "nobody measured how these compare"),
        ((kept, "practice", "high", "hard"), "hard is in"),
        ((newer, "practice", "high", "soft"), "not of this box"),
    ):
        with pytest.raises(Impossible, match=says):
            level_against(*asked)


def _gains_measured(room: Darkroom, lamp: float) -> str:
    """Give the check's light on the probe, and take in what it tells; return why it tells nothing."""
    room.laid = Laid(lamp, SAFELIGHT_PER_S)
    assert room.bench.ask(Chosen(gains_plan(), room.bench.world.clock.now_ns())) is None
    room.run(100)
    room.press()
    room.run(19_000)
    came = room.bench.journal.of(LightCame)[-1]
    assert came.why == "complete"
    try:
        row = gain_check.measured(room.seen[-400:], came.on_ns, came.on_ns + came.most_ns, "practice high")
    except Impossible as problem:
        return str(problem)
    room.spots.learned(row)
    return ""


def test_gains_are_measured_on_this_sensor() -> None:
    """Three lights tell all three steps: the practice sensor's own ratios, which are not the data sheet's.

    Its own are invented (`TIMES` of hardware/practice/sensor.py) and lie 2 % off the data sheet's at high to max;
    what is measured is within 0.3 % of them, and within four of its own standard deviations.
    """
    room = Darkroom()
    for lamp in (3_000.0, 40_000.0, 1_300_000.0):
        assert _gains_measured(room, lamp) == ""
        assert room.now == "high", "the gain that is set counts again"
    known = room.spots.gains("practice")
    for low, high in pairwise(GAINS):
        step, true = known.between(low, high), TIMES[high] / TIMES[low]
        assert step is not None
        assert step.ratio == pytest.approx(true, rel=0.01 if low == "low" else 0.003)
        assert abs(step.ratio / true - 1.0) <= 4.0 * step.uncertain
    nominal, found = NOMINAL["max"] / NOMINAL["high"], known.between("high", "max")
    assert found is not None
    assert abs(nominal / found.ratio - 1.0) > 0.015
    assert room.spots.gains("tsl2591").between("high", "max") is None, "another sensor's are not known"


def test_a_light_that_tells_no_step_says_what_to_do() -> None:
    """Too much for any two gains, and too little."""
    assert "Too much light" in _gains_measured(Darkroom(), 400_000_000.0)
    assert "Too little light" in _gains_measured(Darkroom(), 5.0)


def test_a_dense_spot_goes_through_a_higher_gain_by_the_measured_ratio() -> None:
    """Highlight and shadow through max by itself; densities by this sensor's ratio, and the error that it has.

    Both spots are within 0.01 of the truth, less than the data sheet's ratio is off by; a spot whose ratio nobody
    measured is refused.
    """
    room, paper = Darkroom(), demo()
    soft = 48_000.0
    room.load(reference=True)
    room.spots.go_through(Through("high", GAINS))
    empty = room.measure(soft)
    assert empty is not None
    assert empty.gain == "high"
    kept = paper.model_copy(update={"reference": reference_of(empty, paper.box.label, paper.box.dated)})
    room.bench.hold()
    room.run(2000)
    assert _gains_measured(room, 3_000.0) == ""
    known = room.spots.gains("practice")
    room.load()
    room.spots.go_through(Through("high", known.linked("high")))
    for name, true in (("highlight", 2.25), ("shadow", 0.95)):
        read = room.measure(soft * 10.0**-true, stray=10.0, lit_ms=5000)
        assert read is not None, room.spots.outcome()
        assert (read.spot, read.gain) == (name, "max")
        found = density(level_against(kept, "practice", "max", "soft", known), read.level)
        assert found == pytest.approx(true, abs=0.006)
        assert read.doubt < 0.005
        step = known.between("high", "max")
        assert step is not None
        assert step.uncertain < 0.005
        by_the_sheet = math.log10(empty.level * NOMINAL["max"] / NOMINAL["high"] / read.level)
        assert abs(by_the_sheet - found) == pytest.approx(abs(math.log10(step.ratio * 428 / 9876)), abs=1e-6)
        assert abs(by_the_sheet - true) > abs(found - true), "the data sheet's would have been worse"
        with pytest.raises(Impossible, match="nobody measured"):
            level_against(kept, "practice", "max", "soft")
    assert room.now == "max", "one gain for all spots"
    room.bench.hold()
    room.run(2000)
    assert room.now == "high"


def test_a_spot_that_dazzles_takes_a_lower_gain_where_it_compares() -> None:
    """Brighter than the reference's gain can count: the next lower one, if its ratio is known; else it is refused."""
    room = Darkroom()
    room.load()
    room.spots.go_through(Through("high", ("high",)))
    assert room.measure(500_000.0, lit_ms=4500) is None
    assert "dazzled" in room.spots.outcome()
    room.spots.go_through(Through("high", ("medium", "high")))
    read = room.measure(500_000.0, lit_ms=4500)
    assert read is not None
    assert read.gain == "medium"
    assert read.level == pytest.approx(500_000.0 * TIMES["medium"], rel=0.002)


def test_the_probe_sees_what_the_paper_gets() -> None:
    """Through a negative and without, the probe's share of the light is the print's own map (ISO 5-2: 10^−D)."""
    x, y, true = _even_place(0.8)
    ratio = _share("empty", x, y) / _share("negative", x, y)
    assert math.log10(ratio) == pytest.approx(true, abs=0.02)
    larger = LIES.model_copy(update={"magnification": 4.0})
    there = light_at(bare_scene(_negatives(), PracticeScene(), larger), "empty", 0.5, 0.5, HOLE_MM)
    assert math.log10(_share("empty") / there) == pytest.approx(0.4437, abs=0.003)
