"""Gestures and their windows, lights, held steps and remainders: rules beyond the table's single cells."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tools.foot_bench import MS, FootBench, greeting, long_plan, lost, one_step, rhythm_plan, sheet_plan, standing

from controller.foot import acts
from controller.foot.events import KeeperCame, KeeperWent
from controller.foot.places import AskClose, AskWhite, Held, LeadIn, Ready
from controller.foot.state import Given
from controller.foot.table import decide, settled
from controller.recipe.plan import StepKind
from controller.store.entries import Intent


@pytest.fixture
def bench() -> FootBench:
    return FootBench(sheet_plan(one_step(), one_step(2, 8000)))


# ---- gestures and their windows


def test_a_press_before_a_light_s_end_is_not_a_start_after_it(bench: FootBench) -> None:
    """A press whose first contact falls in a light, but which is known only after its end, starts nothing."""
    bench.light()
    on = bench.now_ms
    bench.run_to(on + 9990)
    first = bench.press()
    assert bench.lights()[0][1] == on + 10_000
    assert bench.cues(first)[-1] == "wait"
    bench.run(10_000)
    assert len(bench.lights()) == 1


@pytest.mark.parametrize(("after_ms", "starts"), [(499, False), (501, True)])
def test_a_press_within_half_a_second_of_a_planned_end_waits(after_ms: int, starts: bool, bench: FootBench) -> None:
    """For 0.5 s after a light that ended by plan a press starts nothing."""
    bench.light()
    on = bench.now_ms
    bench.run_to(on + 10_000 + after_ms)
    bench.press()
    assert isinstance(bench.place, LeadIn) is starts


@pytest.mark.parametrize(("after_ms", "starts"), [(999, False), (1001, True)])
def test_a_press_within_a_second_of_a_stop_waits(after_ms: int, starts: bool, bench: FootBench) -> None:
    """For 1.0 s after a light that ended any other way a press starts nothing."""
    bench.light(3000)
    bench.stop()
    stopped = bench.now_ms
    bench.run_to(stopped + after_ms)
    bench.press()
    assert isinstance(bench.place, LeadIn) is starts


@pytest.mark.parametrize(("after_ms", "starts"), [(390, False), (410, True)])
def test_a_press_soon_after_a_cancelled_lead_in_waits(after_ms: int, starts: bool, bench: FootBench) -> None:
    """For 0.4 s after a cancelled lead-in a press starts nothing."""
    bench.press()
    bench.run(1000)
    bench.stop()
    cancelled = bench.now_ms
    bench.run_to(cancelled + after_ms)
    bench.press()
    assert isinstance(bench.place, LeadIn) is starts


def test_a_hold_still_counts_while_presses_wait(bench: FootBench) -> None:
    """A hold whose first contact falls into the waiting after a light asks to close all the same."""
    bench.light()
    bench.run(10_100)
    bench.hold()
    standing(bench, AskClose)


@pytest.mark.parametrize(("open_ms", "double"), [(349, True), (351, False)])
def test_a_double_is_a_press_within_0_35_s_of_the_release(open_ms: int, double: bool, bench: FootBench) -> None:
    """The next first contact within 0.35 s of a short press's release makes a double, and only then."""
    bench.move(True)
    bench.run(100)
    bench.move(False)
    bench.run(open_ms)
    bench.press(100)
    assert (bench.cues()[-1] == "lead-in") is double  # the step is said again


def test_after_a_hold_no_press_makes_a_double(bench: FootBench) -> None:
    """A press soon after a hold is a press: at the hold's question it means no."""
    bench.hold()
    standing(bench, AskWhite)
    bench.run(50)
    bench.press(100)
    standing(bench, Ready)


def test_a_contact_that_bounces_apart_is_one_press(bench: FootBench) -> None:
    """Closures less than 60 ms apart are one press: a lead-in is begun once."""
    bench.move(True)
    for _ in range(4):
        bench.run(30)
        bench.move(False)
        bench.run(50)
        bench.move(True)
    bench.run(30)
    bench.move(False)
    bench.run(100)
    standing(bench, LeadIn)
    assert len(bench.journal.of(Intent)) == 1


# ---- lights, held steps, remainders


def test_a_step_held_again_and_again_adds_up_to_its_plan(bench: FootBench) -> None:
    """However often a step is held, its parts add up to the plan, to the millisecond."""
    for _ in range(4):
        bench.light(1500)
        bench.press()
        bench.run(2000)
    bench.give()
    assert sum(off - on for on, off in bench.lights()) == 10_000
    assert len(bench.sheet.steps[0].parts) == 5


def test_a_remainder_too_short_to_light_is_never_offered(bench: FootBench) -> None:
    """A step stopped less than 0.2 s short counts as given, by rule, and the next one comes."""
    bench.light(9850 - 25)
    bench.press()
    bench.run(2000)
    assert bench.state.work is not None
    assert bench.state.work.index == 1
    assert bench.sheet.steps[0].called_given


def test_a_remainder_shorter_than_the_lamp_s_lag_is_never_offered() -> None:
    """With a lag of 0.4 s a step stopped 0.35 s short of full light counts as given."""
    bench = FootBench(sheet_plan(one_step(), one_step(2)), lag_ms=400)
    bench.light(9650 - 25)
    bench.press()
    bench.run(2000)
    assert bench.state.work is not None
    assert bench.state.work.index == 1


def test_a_remainder_too_short_is_not_offered_after_a_lost_keeper_either(bench: FootBench) -> None:
    """A keeper lost in the last moments of a light leaves no remainder that is too short to light."""
    bench.light(9900)
    found = lost(bench, before_ns=30 * MS)
    bench.world.keeper.end("keeper", bench.now_ns)
    state, _ = decide(bench.state, KeeperWent(bench.now_ns, "gone"))
    assert state.outstanding is not None
    state, _ = decide(state, KeeperCame(greeting(bench), found))
    assert state.work is not None
    assert state.work.given[0].settled
    assert state.work.index == 1


def test_a_doubt_is_settled_by_the_printer_s_word_before_it_goes_on(bench: FootBench) -> None:
    """Where least and most differ by over 1/12 stop, carry on is refused until the printer has said what to assume."""
    bench.light(6000)
    found = lost(bench, before_ns=2000 * MS)
    bench.world.keeper.end("keeper", bench.now_ns)
    state, _ = decide(bench.state, KeeperWent(bench.now_ns, "gone"))
    state, _ = decide(state, KeeperCame(greeting(bench), found))
    bench.world.runner.state = state
    standing(bench, Held)
    assert state.work is not None
    assert (state.work.given[0].least_ns, state.work.given[0].most_ns) == (4000 * MS, 6000 * MS)
    assert state.work.doubt(0) == 0
    bench.world.runner.state = replace(state, wait_until_ns=0)
    assert bench.do(acts.Assume(light="", which="middle")) is None
    assert bench.state.work is not None
    assert bench.state.work.given[0].most_ns == 5000 * MS
    assert bench.state.work.doubt(0) is None
    assert bench.do(acts.Assume(light="", which="middle")) == "foot.nothing-to-do"


def test_a_press_in_doubt_is_refused(bench: FootBench) -> None:
    """While a step is in doubt a press brings no light."""
    bench.hold_step(4000)
    work = bench.state.work
    assert work is not None
    given = Given(1_000 * MS, 4_000 * MS, 1)
    bench.world.runner.state = settled(replace(bench.state, work=work.with_given(0, given)))
    first = bench.press()
    standing(bench, Held)
    assert bench.cues(first) == ["no"]
    bench.run(5000)
    assert len(bench.lights()) == 1


def test_a_long_strip_s_remainder_keeps_the_cues_to_come() -> None:
    """A long strip held between two totals sounds only the cues still to come, at their own light."""
    bench = FootBench(long_plan((3000, 6000), 9000))
    bench.light(4000 - 25)
    bench.press()
    bench.run(2000)
    bench.light()
    on = bench.now_ms
    bench.run(6000)
    moves = [cue.at_ns / MS - 20_000 for cue in bench.world.cues if cue.cue == "move card"]
    assert moves[1:] == [on + 2000]
    assert moves[0] == bench.lights()[0][0] + 3000


def test_cues_count_true_seconds() -> None:
    """Light comes on on the beat: ticks fall on whole seconds of light, the last three count it down."""
    bench = FootBench(sheet_plan(one_step(1, 6000)))
    bench.light()
    on = bench.now_ms
    bench.run(6100)
    told = [(str(cue.cue), round(cue.at_ns / MS - 20_000 - on)) for cue in bench.world.cues]
    assert [(cue, at) for cue, at in told if -2000 <= at <= 6000] == [
        ("lead-in", -1975),
        ("tick", -1000),
        ("tick", 1000),
        ("tick", 2000),
        ("last", 3000),
        ("last", 4000),
        ("last", 5000),
        ("done", 6000),
    ]


def test_the_hands_are_called_before_the_lead_in_s_tick() -> None:
    """Where a tool has its place under the light, its sound comes before the lead-in's tick."""
    bench = FootBench(sheet_plan(one_step(1, 6000, act=StepKind.BURN, card="recipe.card-burn")))
    bench.light()
    assert bench.cues()[:2] == ["hands", "lead-in"]


def test_a_running_dodge_s_cues_sound_in_its_light() -> None:
    """“Dodger in” and “dodger out” sound at their moments of the light."""
    marks = ({"at_ms": 2000, "cue": "dodger in"}, {"at_ms": 5000, "cue": "dodger out"})
    bench = FootBench(sheet_plan(one_step(1, 9000, act=StepKind.RUNNING, marks=marks)))
    bench.light()
    on = bench.now_ms
    bench.run(9000)
    told = [(str(c.cue), c.at_ns / MS - 20_000 - on) for c in bench.world.cues if "dodger" in c.cue]
    assert told == [("dodger in", 2000), ("dodger out", 5000)]


@pytest.mark.parametrize("gap_ms", [1500, 4000])
def test_a_rhythm_asks_for_the_card_as_soon_as_a_band_is_dark(gap_ms: int) -> None:
    """In a rhythm nobody presses: after each band but the last the card is asked for once “done” has sounded."""
    bench = FootBench(rhythm_plan(each_ms=3000, gap_ms=gap_ms, bands=3))
    bench.light()
    bench.run(40_000)
    darks = [off for _, off in bench.lights()]
    asked = [cue.at_ns / MS - 20_000 for cue in bench.world.cues if cue.cue == "move card"]
    assert asked == [dark + 450 for dark in darks[:-1]]
    ended = {"done", "move card"}
    assert [str(cue.cue) for cue in bench.world.cues if cue.cue in ended] == ["done", "move card"] * 2 + ["done"]
