"""Steps without light: asked one after the other, answered by presses, never a light before its asks are answered."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from tools.foot_bench import FootBench, standing
from tools.written_files import recipe_from

from controller.daemon.recovery import reopen
from controller.easel.plan import reference_plan
from controller.foot import acts
from controller.foot.asks import answered, next_ask
from controller.foot.events import Chosen
from controller.foot.places import AskClose, AskWhite, ChangeFilter, Finished, HandsAsked, LeadIn, Ready, Settling
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.plan import Plan
from controller.store.said_of_sheets import HandsDone

TOOLS = [
    {"letter": "M", "kind": "mask", "name": "sky mask"},
    {"letter": "N", "kind": "mask", "name": "shore mask"},
]
HANDS = [
    {"before": 1, "words": "sky mask in"},
    {"before": 2, "words": "change to the clouds", "carrier": "B"},
    {"before": 2, "words": "sky mask out, shore mask in"},
    {"before": "end", "words": "turn the fan on"},
]
IN_A, IN_B = "carrier A in, check registration", "carrier B in, check registration"
OUT_N = "mask N, shore mask: out"
SETTLE = 3001


def plan_of(**more: Any) -> Plan:
    made = recipe_from(format="treadle/recipe/2", **more)
    return compile_recipe(made, source="clouds", version=1)


def two_negatives(**more: Any) -> FootBench:
    """Return a bench with two negatives through one filter, a mask for each."""
    light = [{"filter": "soft", "seconds": seconds, "carrier": carrier} for seconds, carrier in ((3, "A"), (4, "B"))]
    return FootBench(plan_of(light=light, tools=TOOLS, hands=HANDS, **more))


def asked(bench: FootBench) -> str:
    """Return what is asked of the hands now; empty where nothing is."""
    if not isinstance(bench.place, HandsAsked):
        return ""
    ask = next_ask(bench.state.loaded)
    assert ask is not None
    return ask.words


def answer(bench: FootBench) -> str:
    """Say that it is done, wait until the hands are back, and return what was asked."""
    words = asked(bench)
    assert words, f"stands at {bench.place}"
    bench.press()
    standing(bench, Settling)
    bench.run(SETTLE)
    return words


def answer_all(bench: FootBench) -> list[str]:
    found = []
    while asked(bench):
        found.append(answer(bench))
    return found


def test_a_composite_is_worked_from_end_to_end_by_one_foot() -> None:
    """Eight presses answer six asks and start two lights; a hold closes; nothing was lit but the two."""
    bench = two_negatives()
    assert answer_all(bench) == ["sky mask in", IN_A]
    assert not bench.state.sheet_open
    standing(bench, Ready)
    bench.give()
    assert bench.state.sheet_open
    assert answer_all(bench) == ["change to the clouds", "sky mask out, shore mask in"]
    bench.give()
    assert answer_all(bench) == ["turn the fan on", OUT_N]
    standing(bench, Finished)
    bench.hold()
    sheet = bench.sheet
    assert (sheet.outcome, [round(off - on) for on, off in bench.lights()]) == ("complete", [3000, 4000])
    assert [(row.step, row.ask.words) for row in sheet.hands] == [
        *((1, "sky mask in"), (1, IN_A)),
        *((2, "change to the clouds"), (2, "sky mask out, shore mask in")),
        *((0, "turn the fan on"), (0, OUT_N)),
    ]
    assert asked(bench) == "sky mask in"


def test_asks_alone_open_no_sheet_and_leave_none() -> None:
    """A sheet whose asks were all answered, and that had no light, is none."""
    bench = two_negatives()
    answer_all(bench)
    assert bench.sheets() == ()
    assert bench.state.number == 1
    assert bench.journal.of(HandsDone)


def test_an_ask_sounds_like_what_it_asks_for() -> None:
    """Something in, the negative changed, one out and another in: each with its own sound of the hands' family."""
    bench = two_negatives()
    start = bench.now_ms
    bench.run(800)
    assert bench.cues(start) == ["dodger in"]
    bench.run(20_000)
    assert bench.cues(start) == ["dodger in", "dodger in"]
    answer(bench)
    since = bench.now_ms
    bench.run(800)
    assert bench.cues(since) == ["hands"]
    bench.double()
    assert bench.state.loaded.asked.count == 1
    standing(bench, HandsAsked)


def test_a_double_undoes_the_answer_and_a_hold_too() -> None:
    """What was said by mistake is asked again, and taken back on file."""
    bench = two_negatives()
    bench.double()
    assert asked(bench) == "sky mask in"
    bench.run(1000)
    bench.hold()
    standing(bench, AskWhite)
    bench.run(6000)
    assert asked(bench) == "sky mask in"
    assert [row.undone for row in bench.journal.of(HandsDone)] == [False, True, False, True]
    answer_all(bench)
    bench.give()
    bench.double()
    assert asked(bench) == "change to the clouds"
    bench.run(1000)
    bench.hold()
    standing(bench, AskClose)
    bench.run(6000)
    assert asked(bench) == "change to the clouds"
    assert [row.ask.words for row in bench.sheet.hands] == ["sky mask in", IN_A]


def test_no_press_of_an_ask_begins_light() -> None:
    """Pressed as fast as a foot can, asks are answered or wait; a light has its own press and lead-in."""
    bench = two_negatives()
    for _ in range(2):
        bench.press()
        bench.run(400)
        bench.press()  # too soon: the hands are not back
        standing(bench, Settling)
        bench.run(SETTLE)
    standing(bench, Ready)
    assert bench.lights() == []
    bench.press()
    standing(bench, LeadIn)
    bench.press()
    bench.run(5000)
    standing(bench, Ready)  # a lead-in that is taken back asks for nothing again
    assert bench.lights() == []


def test_asks_come_before_the_filter() -> None:
    """Carriers and masks first, then the filter, then light: what is under the lamp last was looked at last."""
    light = [{"filter": "soft", "seconds": 3}, {"filter": "hard", "seconds": 4, "carrier": "B"}]
    bench = FootBench(plan_of(light=light))
    assert answer_all(bench) == [IN_A]
    bench.give()
    assert answer_all(bench) == [IN_B]
    standing(bench, ChangeFilter)


def test_a_held_step_asks_for_nothing_again() -> None:
    """What was put in place for a step stays for its remainder."""
    bench = two_negatives()
    answer_all(bench)
    bench.hold_step(1000)
    assert not asked(bench)
    bench.give()
    assert bench.sheet.steps[0].given_most_ms == 3000


def test_a_step_that_is_left_out_leaves_its_asks_to_the_next() -> None:
    """The negative is changed all the same; or the next light would go through the wrong one."""
    light = [{"filter": "soft", "seconds": s, "carrier": c} for s, c in ((3, "A"), (4, "B"))]
    burn = {"area": "S", "act": "burn", "filter": "soft", "stops": "1"}
    hands = [*HANDS, {"before": 3, "words": "clouds stay in", "carrier": "B"}]
    bench = FootBench(plan_of(light=light, tools=TOOLS, hands=hands, local=[burn]))
    answer_all(bench)
    bench.give()
    assert bench.do(acts.LeaveOut()) is None
    assert answer_all(bench) == ["change to the clouds", "sky mask out, shore mask in", "clouds stay in"]
    bench.give()
    assert [step.step.carrier for step in bench.sheet.steps if step.given_most_ms] == ["A", "B"]


def test_what_was_answered_for_a_step_that_is_then_left_out_is_not_asked_twice() -> None:
    """Only what is still to be done is."""
    bench = two_negatives(local=[{"area": "S", "act": "burn", "filter": "4", "seconds": 3}])
    answer_all(bench)
    bench.give()
    answer_all(bench)
    bench.do(acts.LeaveOut())
    assert answer_all(bench) == []
    standing(bench, ChangeFilter)


def test_a_step_that_is_put_back_has_its_own_negative_and_mask_again() -> None:
    """Put back after the negative was changed, its carrier and mask are asked for, and afterwards the others."""
    bench = two_negatives(local=[{"area": "S", "act": "burn", "filter": "soft", "seconds": 2}])
    answer_all(bench)
    bench.give()  # the base through A
    bench.do(acts.LeaveOut())  # its burn
    answer_all(bench)
    bench.do(acts.PutBack())
    assert answer_all(bench) == [IN_A, "mask M, sky mask: in", OUT_N]
    bench.give()
    assert answer_all(bench) == ["change to the clouds", "sky mask out, shore mask in"]
    bench.give()
    assert answer_all(bench) == ["turn the fan on", OUT_N]


def test_one_more_burn_on_a_finished_sheet_asks_for_no_end_twice() -> None:
    """A sheet that is open again for a burn has a free easel, and is finished after it."""
    bench = two_negatives()
    for _ in range(2):
        answer_all(bench)
        bench.give()
    answer_all(bench)
    assert bench.do(acts.MoreBurn(filter="soft", stops="1")) is None
    standing(bench, Ready)
    bench.give()
    standing(bench, Finished)
    assert bench.sheet.steps[-1].given_most_ms == 4000  # one stop of B's base


def test_a_burn_before_the_mask_is_out_asks_it_out_first() -> None:
    """What is still in from the last light is not in the way of a burn that was added."""
    bench = two_negatives()
    for _ in range(2):
        answer_all(bench)
        bench.give()
    assert asked(bench) == "turn the fan on"
    bench.do(acts.MoreBurn(filter="soft", stops="1"))
    assert answer_all(bench) == [OUT_N]
    bench.give()
    assert answer_all(bench) == ["turn the fan on"]
    standing(bench, Finished)


def test_a_sheet_closed_with_a_mask_in_has_it_asked_out_for_the_next() -> None:
    """A spoiled sheet ends at once; what lies on the easel does not go by itself."""
    plan = plan_of(tools=TOOLS, hands=[{"before": 2, "words": "sky mask in"}], light=_two_filters())
    bench = FootBench(plan)
    bench.give()
    answer_all(bench)
    bench.hold()
    bench.hold()
    assert bench.sheet.outcome == "spoiled"
    assert answer_all(bench) == ["mask M, sky mask: out"]


def test_a_mask_of_another_recipe_is_not_taken_for_one_that_is_in() -> None:
    """Whatever was read between the two: a recipe that is loaded anew has its first mask asked in."""
    bench, clouds = two_negatives(), two_negatives().state.loaded.plan
    assert answer(bench) == "sky mask in"
    other = plan_of(light=_two_filters()).model_copy(update={"source": "quay"})
    for plan in (reference_plan(), other, reference_plan(), clouds):
        assert bench.ask(Chosen(plan, bench.world.clock.now_ns())) is None
        bench.run(100)
    assert asked(bench) == "sky mask in"


@pytest.mark.parametrize(
    "between", [(), (None,), (reference_plan(),), (None, reference_plan()), (reference_plan(), None)]
)
def test_a_mask_that_is_in_is_asked_out_of_another_recipes_light(between: tuple[Plan | None, ...]) -> None:
    """Loaded at once, or after the first was put down or a reading: its own asks come after, and its light is clear."""
    bench = two_negatives()
    assert answer(bench) == "sky mask in"
    other = [TOOLS[0] | {"name": "quay mask"}]
    quay = plan_of(light=_two_filters(), tools=other, hands=[{"before": 1, "words": "quay mask in"}])
    for plan in (*between, quay.model_copy(update={"source": "quay"})):
        assert bench.ask(Chosen(plan, bench.world.clock.now_ns())) is None
        bench.run(100)
    bench.double()  # not yet
    assert asked(bench) == "mask M, sky mask: out"
    since = bench.now_ms
    bench.run(20_000)
    assert set(bench.cues(since)) == {"dodger out"}
    assert answer_all(bench) == ["mask M, sky mask: out", "quay mask in"]
    assert bench.state.loaded.asked.in_place == {"M"}


def test_the_same_mask_of_another_recipe_is_looked_at() -> None:
    """Where both recipes have it just so, it stays if it is wanted and somebody looked, and else goes out."""
    for before, words in ((1, "sky mask in"), (2, "mask M, sky mask: out")):
        bench = two_negatives()
        answer(bench)
        plan = plan_of(light=_two_filters(), tools=TOOLS[:1], hands=[{"before": before, "words": "sky mask in"}])
        copy = plan.model_copy(update={"source": "copy"})
        assert bench.ask(Chosen(copy, bench.world.clock.now_ns())) is None
        bench.run(100)
        assert answer_all(bench)[0] == words
        assert bench.state.loaded.asked.left == ()


def test_a_mask_stays_in_while_the_lamp_is_read() -> None:
    """The same recipe after a reading has it lying there still."""
    bench, clouds = two_negatives(), two_negatives().state.loaded.plan
    assert answer(bench) == "sky mask in"
    for plan in (reference_plan(), clouds):
        assert bench.ask(Chosen(plan, bench.world.clock.now_ns())) is None
        bench.run(100)
    assert asked(bench) == IN_A


def _two_filters() -> list[dict[str, Any]]:
    return [{"filter": "soft", "seconds": 3}, {"filter": "hard", "seconds": 3}]


def test_after_a_restart_the_present_steps_asks_come_again() -> None:
    """Nobody has looked meanwhile: carrier and masks of the present step are asked for, those answered before too."""
    bench = two_negatives()
    answer_all(bench)
    bench.give()
    answer_all(bench)
    bench.light(1000)
    bench.press()
    bench.run(2000)
    again = reopen(bench.sheet, 0, "virtual").work
    asks = []
    for _ in range(10):
        ask = next_ask(again)
        if ask is None:
            break
        asks.append(ask.words)
        again = replace(again, asked=answered(again))
    assert asks == ["change to the clouds", "sky mask out, shore mask in"]
    assert again.asked.carrier == "B"
    assert again.asked.in_place == {"N"}


def test_after_a_restart_a_finished_sheet_asks_its_end_again() -> None:
    """The mask that lay there is still to be taken out."""
    bench = two_negatives()
    for _ in range(2):
        answer_all(bench)
        bench.give()
    answer(bench)
    again = reopen(bench.sheet, 0, "virtual").work
    ask = next_ask(again)
    assert again.finished
    assert ask is not None
    assert ask.words == "turn the fan on"


def test_after_focus_light_the_carrier_is_asked_again() -> None:
    """Who composed and focused may have had another negative in."""
    bench = two_negatives()
    answer_all(bench)
    bench.focus()
    bench.press()
    bench.run(2000)
    assert asked(bench) == IN_A
