"""A light that is found wrong from its start: it ends, its share is counted, and the usual press gives the rest."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.foot_bench import FootBench, one_step, rhythm_plan, sheet_plan, standing

from controller.foot.acts import Assume, NoLight
from controller.foot.events import LevelWrong
from controller.foot.places import ChangeFilter, Finished, Held, Light, Ready
from controller.foot.snapshot import Facts, describe
from controller.foot.status import Status
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan
from controller.recipe.set_up import SetUp
from controller.store.entries import Trouble
from controller.store.levels import WrongLight


def found(bench: FootBench, what: str, stops: float | None = None, filter_: str = "") -> None:
    """Let the watch find the light wrong now."""
    place = bench.place
    assert isinstance(place, Light)
    bench.ask(LevelWrong(place.order, what, stops, filter_, bench.now_ns))  # type: ignore[arg-type]


def said(bench: FootBench) -> Status:
    return describe(bench.state, Facts(), bench.now_ns)


def twelve_seconds(lag_ms: int = 0, at_f: str = "8") -> FootBench:
    plan: Plan = sheet_plan(one_step(planned_ms=12_000), one_step(2, 8000, "hard"))
    return set_up(FootBench(plan.model_copy(update={"wants": SetUp(aperture=float(at_f))}), lag_ms=lag_ms))


def set_up(bench: FootBench) -> FootBench:
    """Say by foot that the lens stands as it is asked for."""
    bench.press()
    bench.run(4000)
    return bench


def test_three_stops_open_count_eightfold() -> None:
    """3 stops open, lit 0.5 s, lag 0: 4.0 of 12 s are given, 3.5 to 4.6 of them for sure; a press gives 8.0 s more.

    Source: the design's own example; a stop is a doubling.
    """
    bench = twelve_seconds()
    bench.light(500)
    found(bench, "open", 3.0)
    assert not bench.lit
    assert bench.cues()[-1] == "alarm"
    standing(bench, Held)
    status = said(bench)
    assert status.headline == (
        "Far too strong: the lens stands open? Stop down to f/8, then press for the rest, 8.0 s."
    )
    assert "had 4.0 s of its light already" in status.just_given
    step = bench.sheet.steps[0]
    assert (step.given_least_ms, step.given_most_ms) == (3482, 4595)
    assert step.parts[0].why == "level"
    bench.run(2000)
    bench.give()
    assert [round(off - on) for on, off in bench.lights()] == [500, 8000]
    standing(bench, ChangeFilter)
    assert not bench.sheet.lamp_failed


@given(stops=st.floats(1.51, 6), lit_ms=st.integers(400, 600), lag_ms=st.sampled_from([0, 60, 250]))
def test_what_counts_and_the_rest_are_the_whole(stops: float, lit_ms: int, lag_ms: int) -> None:
    """Whatever the stops and the lag, light counted and light given are the plan, or the step is over at once."""
    bench = twelve_seconds(lag_ms)
    bench.light(lit_ms)
    found(bench, "open", stops)
    counts_s = (lit_ms - lag_ms) / 1000 * 2**stops
    plan_s = 12 - lag_ms / 1000
    bench.run(2000)
    if plan_s - counts_s < 0.25:
        standing(bench, ChangeFilter)
        return
    bench.give()
    on, off = bench.lights()[-1]
    assert counts_s + (off - on - lag_ms) / 1000 == pytest.approx(plan_s, abs=0.002)


def test_more_than_the_whole_is_said_in_stops() -> None:
    """Five stops open for half a second is 16 s of 12: 0.4 stop too much; nothing is left, and the sheet goes on."""
    bench = twelve_seconds()
    bench.light(500)
    found(bench, "open", 5.0)
    standing(bench, ChangeFilter)
    assert f"{math.log2(16 / 12):.1f} stops more than it should" in said(bench).just_given


def test_another_filters_light_is_not_this_steps() -> None:
    """It is on record as the other filter's, the step has had nothing, and the right filter is asked for."""
    bench = twelve_seconds()
    bench.light(450)
    found(bench, "filter", 2.7, "hard")
    standing(bench, ChangeFilter)
    assert "that looks like the hard filter" in said(bench).just_given
    step = bench.sheet.steps[0]
    assert (step.parts[0].filter, step.given_most_ms, step.lit_ms) == ("hard", 0, 450)
    bench.run(2000)
    bench.press()  # it is in
    bench.run(bench.timing.settle_ms + 100)
    standing(bench, Ready)
    bench.give()
    assert [round(off - on) for on, off in bench.lights()] == [450, 12_000]


def test_of_a_dazzled_sensor_nothing_is_known() -> None:
    """Least is what the time stands for, most the whole: the page asks what counts, and no press lights before."""
    bench = twelve_seconds()
    bench.light(450)
    found(bench, "dazzled")
    standing(bench, Held)
    status = said(bench)
    assert status.doubt is not None
    assert (status.doubt.least_ms, status.doubt.most_ms) == (450, 12_000)
    bench.run(2000)
    bench.press()
    assert not bench.lit
    assert bench.do(Assume(light=status.doubt.light, which="middle")) is None
    bench.run(2000)
    bench.give()
    on, off = bench.lights()[-1]
    assert off - on == pytest.approx(12_000 - (450 + 12_000) / 2, abs=2)


@pytest.mark.parametrize(
    ("what", "stops", "filter_"), [("weak", -1.0, ""), ("filter", -1.2, "hard"), ("filter", 1.2, "00")]
)
def test_what_is_not_far_too_strong_only_sounds(what: str, stops: float, filter_: str) -> None:
    """A card or a dodger may shade the sensor: the light goes on to its plan, with a sound and a line of the record."""
    bench = twelve_seconds()
    bench.light(450)
    found(bench, what, stops, filter_)
    assert bench.lit
    assert bench.cues()[-1] == "weak light"
    bench.run(13_000)
    assert [round(off - on) for on, off in bench.lights()] == [12_000]
    assert not bench.journal.of(WrongLight)
    assert [row.what for row in bench.journal.of(Trouble)] in (["lamp.weak-light"], ["lamp.weak-filter"])


def test_a_foot_that_is_quicker_takes_nothing_away() -> None:
    """A press in the very moment ends the light first; what it was counts all the same, and once."""
    bench = twelve_seconds()
    bench.light(500)
    place = bench.place
    assert isinstance(place, Light)
    bench.world.room.foot.feed(bench.now_ns, True)
    bench.run(24)
    bench.ask(LevelWrong(place.order, "open", 3.0, "", bench.now_ns))
    bench.run(200)
    bench.world.room.foot.feed(bench.now_ns, False)
    bench.run(2000)
    assert bench.sheet.steps[0].reckoned_ns[1] == pytest.approx(8 * 524e6, rel=0.01)
    assert len(bench.journal.of(WrongLight)) == 1


def test_of_a_light_that_is_over_nothing_is_taken_back() -> None:
    """What is found too late, or of another light, ends nothing."""
    bench = twelve_seconds()
    bench.light(450)
    place = bench.place
    assert isinstance(place, Light)
    bench.press()
    bench.ask(LevelWrong(place.order, "open", 3.0, "", bench.now_ns))
    assert not bench.journal.of(WrongLight)
    bench.run(2000)
    bench.light(450)
    bench.ask(LevelWrong(place.order, "open", 3.0, "", bench.now_ns))
    assert bench.lit


def test_a_rhythm_waits_after_a_wrong_light() -> None:
    """The next band does not follow by itself; the rest of the band is given by a press, and then it does."""
    bench = FootBench(rhythm_plan(each_ms=8000))
    bench.light(500)
    found(bench, "open", 2.0)
    bench.run(20_000)
    assert len(bench.lights()) == 1
    bench.give()
    assert [round(off - on) for on, off in bench.lights()][:2] == [500, 6000]
    bench.run(6000)
    assert len(bench.lights()) == 3


def test_the_printer_may_say_that_none_came() -> None:
    """A light that the printer strikes counts nothing, whatever the sensor said of it."""
    bench = twelve_seconds()
    bench.light(500)
    found(bench, "open", 3.0)
    bench.run(2000)
    assert bench.do(NoLight()) is None
    assert bench.sheet.steps[0].full_ns == (0, 0)
    standing(bench, Ready)


def test_the_f_number_at_the_enlarger_is_named() -> None:
    """Where the recipe does not say how far to stop down, what stands at the enlarger does."""
    plan = sheet_plan(one_step(planned_ms=12_000)).standing(AtEnlarger(aperture=11.0))
    bench = set_up(FootBench(plan))
    bench.light(500)
    found(bench, "open", 3.0)
    assert "Stop down to f/11, then press for the rest" in said(bench).headline
    bench.run(2000)
    bench.give()
    standing(bench, Finished)
