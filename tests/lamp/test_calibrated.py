"""The lamp's lag worked through: measured by check lights, set, and the same light on paper however it was parted."""

from __future__ import annotations

import json
import math
from importlib.resources import files

import pytest
from tools.foot_bench import MS, START_MS, BenchJournal, one_step, sheet_plan

from controller.daemon.world import World
from controller.foot.places import Finished, Held, NothingChosen, Ready
from controller.foot.state import Habits, State, Work
from controller.lamp.check_plans import paper_plan, paper_test, sensor_plan
from controller.lamp.measure import Span, fit_lag, total
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.plan import Plan
from controller.store.entries import Intent, SheetPlanned
from hardware.light_sensor import Reading
from hardware.practice.meter import LampModel, light_ns
from hardware.timing import Timing

LAGGING = LampModel(lag_ms=120)
TUNGSTEN = LampModel(tau_up_ms=120, tau_down_ms=15, operate_ms=8, release_ms=5)
HUNDREDTH = 0.01


def worked(plan: Plan, lag_ms: int, *, holds: bool = False) -> tuple[World, BenchJournal]:
    """Give every step of a plan; with `holds` each is stopped on the way and carried on."""
    journals: list[BenchJournal] = []

    def journal(clock: object) -> BenchJournal:
        journals.append(BenchJournal(clock.now_ns))  # type: ignore[attr-defined]
        return journals[0]

    state = State(
        Ready(), Habits(Timing(), lag_ms=lag_ms), Work.fresh(plan), filter_in=plan.steps[0].filter, stop_down=False
    )
    world = World(state, journal)
    world.run_until(START_MS * MS)
    world.runner.ask_again(START_MS * MS)
    held: set[int] = set()
    for _ in range(400):
        place, work = world.runner.state.place, world.runner.state.work
        if isinstance(place, Finished | NothingChosen) or work is None:
            break
        _press(world)
        now = world.clock.now_ns()
        if holds and work.step.number not in held and isinstance(place, Ready):
            held.add(work.step.number)
            world.run_until(now + (2000 + work.step.planned_ms // 2) * MS)
            _press(world)
            assert isinstance(world.runner.state.place, Held), "the step was not held"
        world.run_until(world.clock.now_ns() + 15_000 * MS)
        while world.runner.state.place.__class__.__name__ not in _DARK and world.step_to_next():
            pass
        world.run_until(world.clock.now_ns() + 1_500 * MS)
    assert not holds or held == {step.number for step in plan.steps}
    return world, journals[0]


_DARK = {"Ready", "Held", "Finished", "NothingChosen", "ChangeFilter", "HandsAsked"}


def _press(world: World) -> None:
    now = world.clock.now_ns()
    world.room.foot.feed(now + 10 * MS, True)
    world.room.foot.feed(now + 90 * MS, False)
    world.run_until(now + 200 * MS)


def metered(world: World, model: LampModel) -> int:
    """Return the light that fell, in ns of full light."""
    return light_ns(world.room.edges(), 0, world.clock.now_ns() + 5_000 * MS, model)


def stops(one: float, other: float) -> float:
    return abs(math.log2(one / other))


def train() -> Plan:
    """Eight bands of a second: the last one gets all eight."""
    tree = {
        "format": "treadle/strip/1", "title": "Train", "filter": "soft", "card": "uncover", "pace": "press",
        "times": {"kind": "seconds", "step": 1, "bands": 8},
    }  # fmt: skip
    tree["card"] = "cover"
    return compile_any(read_recipe(json.dumps(tree), "train"), source="t", version=1, longest_ms=600_000)


def sensor_lag(model: LampModel) -> float:
    """Work the sensor's check lights, read the meter in cycles of 100 ms, and return the lag found, in s."""
    world, journal = worked(sensor_plan(), 0)
    assert not journal.of(SheetPlanned)
    assert {intent.light_kind for intent in journal.of(Intent)} == {"check"}
    assert {intent.sheet for intent in journal.of(Intent)} == {""}
    edges = world.room.edges()
    spans = [Span(edges[n].at_ns, edges[n + 1].at_ns) for n in range(0, len(edges), 2)]
    assert len(spans) == 6
    cycle = 100 * MS
    seen = [
        Reading(at, at + cycle, 6 + round(light_ns(edges, at, at + cycle, model) / 25_000))
        for at in range(spans[0].on_ns - 1_037 * MS, spans[-1].dark_ns + 1_500 * MS, cycle)
    ]
    return fit_lag([total(seen, span) for span in spans]).lag_s


@pytest.mark.parametrize(("model", "about"), [(LAGGING, 0.12), (TUNGSTEN, 0.108)], ids=["simple", "tungsten"])
def test_a_train_equals_one_long_light_after_calibration(model: LampModel, about: float) -> None:
    """8 × 1 s equals one 8 s light within 1/100 stop with the lag the sensor found, and is 0.1 stop off before.

    Source: derived; with d = 0.12 s the uncorrected train is 0.16 stop short.
    """
    found = sensor_lag(model)
    assert found == pytest.approx(about, abs=0.006)
    lag_ms = round(found * 1000)
    light = {
        lag: [metered(worked(plan, lag)[0], model) for plan in (train(), sheet_plan(one_step(1, 8000)))]
        for lag in (0, lag_ms)
    }
    assert stops(*light[0]) >= 0.1
    if model is LAGGING:
        assert stops(*light[0]) == pytest.approx(0.16, abs=0.01)
    assert stops(*light[lag_ms]) <= HUNDREDTH


def crane() -> Plan:
    """The harbour crane's split-grade sheet, as the shelf is given it at first."""
    text = (files("controller") / "samples" / "5-harbour-crane.recipe.json").read_text(encoding="utf-8")
    return compile_any(read_recipe(text, "crane"), source="c", version=1, longest_ms=600_000)


def test_a_crane_sheet_held_in_every_step_equals_the_unheld_one() -> None:
    """Held once in each step the sheet gets the same light within 1/100 stop after calibration, 0.1 stop off before.

    Source: derived; five further switchings of 0.12 s on 32.9 s, felt most by the shortest step.
    """
    plan = crane()
    assert [step.act.value for step in plan.steps] == ["base", "burn", "dodged part", "open part", "burn"]
    by_lag = {}
    for lag_ms in (0, 120):
        held, unheld = worked(plan, lag_ms, holds=True), worked(plan, lag_ms)
        by_lag[lag_ms] = [_by_step(world, journal) for world, journal in (held, unheld)]
        assert {row.lag_ms for row in held[1].of(Intent)} == {lag_ms}
    worst = {lag: max(stops(a, b) for a, b in zip(*steps, strict=True)) for lag, steps in by_lag.items()}
    assert worst[120] <= HUNDREDTH
    assert worst[0] >= 0.1


def _by_step(world: World, journal: BenchJournal) -> list[int]:
    edges, intents = world.room.edges(), journal.of(Intent)
    lights = [light_ns(edges[n : n + 2], 0, edges[n + 1].at_ns + 500 * MS, LAGGING) for n in range(0, len(edges), 2)]
    found: dict[int, int] = {}
    for intent, light in zip(intents, lights, strict=True):
        found[intent.step] = found.get(intent.step, 0) + light
    return [found[number] for number in sorted(found)]


def test_a_paper_test_is_given_as_it_stands_whatever_lag_is_set() -> None:
    """57 check lights, a press a band, no sheet opened; the train for the lamp's lag gives the long light's light."""
    world, journal = worked(paper_plan(paper_test()), 80)
    assert not journal.of(SheetPlanned)
    intents, edges = journal.of(Intent), world.room.edges()
    assert [intent.lit_ms for intent in intents] == [step.planned_ms for step in paper_plan(paper_test()).steps]
    lights = [light_ns(edges[n : n + 2], 0, edges[n + 1].at_ns + 500 * MS, LAGGING) for n in range(0, len(edges), 2)]
    bands = [lights[0], *(sum(lights[at : at + 8]) for at in range(1, 57, 8))]
    differences = [abs(math.log2(band / bands[0])) for band in bands[1:]]
    assert differences.index(min(differences)) == 3  # band 5, which stands for 0.12 s
    assert min(differences) < 0.001
    assert isinstance(world.runner.state.place, NothingChosen)


def test_a_press_ends_a_check_and_nothing_of_it_is_kept() -> None:
    """A press in a check light makes it dark and puts the check down; what was loaded before is loaded again."""
    plan = sheet_plan()
    work = Work.fresh(sensor_plan())
    journals: list[BenchJournal] = []

    def journal(clock: object) -> BenchJournal:
        journals.append(BenchJournal(clock.now_ns))  # type: ignore[attr-defined]
        return journals[0]

    from dataclasses import replace

    world = World(State(Ready(), Habits(Timing()), replace(work, aside=plan), stop_down=False), journal)
    world.run_until(START_MS * MS)
    _press(world)
    world.run_until(world.clock.now_ns() + 2_300 * MS)
    assert world.keeper.lit
    _press(world)
    assert not world.keeper.lit
    world.run_until(world.clock.now_ns() + 20_000 * MS)
    assert len(world.room.edges()) == 2
    assert world.runner.state.work is not None
    assert world.runner.state.work.plan is plan
    assert not world.runner.state.sheet_open
