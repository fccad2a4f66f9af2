"""Evenness and alignment by foot: lights of no sheet, place by place, told in their own words, ended by a hold."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench

from controller.foot import acts
from controller.foot.events import Chosen
from controller.foot.places import Finished, Light, NothingChosen, Ready
from controller.foot.snapshot import headline
from controller.recipe.plan import Plan
from controller.store.entries import Intent, LightCame, SheetPlanned
from controller.trials.easel_lights import corners_plan, places_plan


def _bench(plan: Plan) -> FootBench:
    bench = FootBench(chosen=False)
    assert bench.do(acts.PaperAway()) is None
    assert bench.ask(Chosen(plan, bench.world.clock.now_ns())) is None
    bench.run(1)
    return bench


def _look(bench: FootBench) -> str:
    """Press for light, look, press; return what was looked at."""
    name = bench.state.loaded.step.name
    bench.press()
    bench.run(6000)
    assert isinstance(bench.state.place, Light)
    bench.press()
    bench.run(2500)
    return name


def test_the_corners_are_looked_at_in_twelve_presses() -> None:
    """Centre, four corners, centre again: each light ended by foot sounds as done, and no sensor is waited for."""
    bench = _bench(corners_plan())
    assert headline(bench.state) == "Press for light, then look through the grain focuser: centre. Hold when done."
    names, heard = [], len(bench.cues(0))
    for _ in range(6):
        assert isinstance(bench.state.place, Ready)
        names.append(_look(bench))
    assert names[1:5] == ["far left corner", "far right corner", "near right corner", "near left corner"]
    assert (names[0], names[-1]) == ("centre", "centre again")
    assert list(bench.cues(0)[heard:]).count("done") == 6
    assert isinstance(bench.state.place, Finished)
    assert "Hold when done, then put in the heights" in headline(bench.state)
    bench.hold()
    bench.run(1000)
    assert isinstance(bench.state.place, NothingChosen)
    assert {intent.light_kind for intent in bench.journal.of(Intent)} == {"check"}
    assert not bench.journal.of(SheetPlanned)


def test_a_minute_is_the_longest_look() -> None:
    """Dark by itself after a minute, and the same corner again."""
    bench = _bench(corners_plan())
    bench.press()
    bench.run(63_000)
    assert bench.journal.of(LightCame)[-1].why == "complete"
    assert isinstance(bench.state.place, Ready)
    assert bench.state.loaded.step.name == "centre"


@pytest.mark.parametrize("plan", [corners_plan(), places_plan()])
def test_no_light_is_longer_than_the_keeper_allows(plan: Plan) -> None:
    """With a longest light of ten seconds every one of them is ten seconds at the most; without, a minute."""
    make = corners_plan if plan.source.endswith("alignment") else places_plan
    assert {step.planned_ms for step in make(10_000).steps} == {10_000}
    assert {step.planned_ms for step in plan.steps} == {60_000}
    assert plan.of_no_sheet
    assert not plan.on_paper
