"""What the phone may put right, sheets and filters, and the keeper's loss: rules beyond the table's single cells."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tools.foot_bench import MS, FootBench, flash_plan, greeting, lost, one_step, rhythm_plan, sheet_plan, standing
from tools.short_spans import scaled

from controller.foot import acts
from controller.foot.effects import File
from controller.foot.events import (
    Asked,
    Chosen,
    KeeperCame,
    KeeperWent,
)
from controller.foot.places import ChangeFilter, Fault, Finished, Focus, LeadIn, Light, Ready, Settling
from controller.foot.state import Given, Last
from controller.foot.table import decide, settled
from controller.store.entries import LightCame, NoLightCame
from hardware.wire import Cancel, Dark, Sound


@pytest.fixture
def bench() -> FootBench:
    return FootBench(sheet_plan(one_step(), one_step(2, 8000)))


# ---- what the phone may put right


def test_call_it_given_settles_a_step_at_any_dark_moment(bench: FootBench) -> None:
    """“Call it given” settles the present step as it is and goes on; in light it is refused."""
    bench.light(2000)
    assert bench.do(acts.CallGiven()) == "foot.not-now"
    bench.press()
    bench.run(100)
    assert bench.do(acts.CallGiven()) is None
    standing(bench, Ready)
    assert bench.sheet.steps[0].called_given


def test_the_next_step_can_be_left_out(bench: FootBench) -> None:
    """“Leave out the next step” settles it without light."""
    bench.give()
    assert bench.do(acts.LeaveOut()) is None
    standing(bench, Finished)
    assert bench.sheet.steps[1].left_out
    assert bench.do(acts.LeaveOut()) == "foot.nothing-to-do"


def test_a_step_that_was_left_out_can_be_put_back_while_the_sheet_is_open() -> None:
    """The last of those left out is wanted again, and comes before what is still to come; nothing is given twice."""
    bench = FootBench(sheet_plan(*(one_step(number, 3000) for number in range(1, 5))))
    assert bench.do(acts.PutBack()) == "foot.not-now"
    bench.give()
    assert bench.do(acts.PutBack()) == "foot.nothing-to-do"
    bench.do(acts.LeaveOut())
    bench.do(acts.LeaveOut())
    assert bench.do(acts.PutBack()) is None
    assert bench.state.loaded.step.number == 3
    bench.give()
    bench.give()
    standing(bench, Finished)
    assert bench.do(acts.PutBack()) is None
    standing(bench, Ready)
    assert bench.state.loaded.step.number == 2
    bench.give()
    standing(bench, Finished)
    assert bench.do(acts.PutBack()) == "foot.nothing-to-do"
    assert [(step.given_most_ms, step.left_out) for step in bench.sheet.steps] == [(3000, False)] * 4
    bench.do(acts.CloseSheet())
    assert bench.do(acts.PutBack()) == "foot.not-now"


def test_a_step_is_not_put_back_in_light(bench: FootBench) -> None:
    """While a light is on or announced nothing is put back."""
    bench.give()
    bench.do(acts.LeaveOut())
    bench.do(acts.MoreBurn(filter="soft", seconds=3.0))
    bench.press()
    assert bench.do(acts.PutBack()) == "foot.not-now"


def test_a_finished_sheet_is_reopened_for_one_more_burn_only() -> None:
    """“One more burn” reopens a finished sheet for that burn alone; its light is by foot."""
    bench = FootBench(sheet_plan(one_step(1, 3000)))
    bench.give()
    assert bench.do(acts.MoreBurn(filter="soft", seconds=1.0)) is None
    standing(bench, Ready)
    assert len(bench.lights()) == 1
    bench.give()
    standing(bench, Finished)
    assert bench.sheet.steps[1].given_most_ms == 1000
    assert bench.sheet.steps[1].added


def test_no_light_came_strikes_the_last_light(bench: FootBench) -> None:
    """“No light came” strikes the last light: the step wants its whole light again, once."""
    bench.give()
    assert bench.do(acts.NoLight()) is None
    standing(bench, Ready)
    assert bench.state.work is not None
    assert bench.state.work.index == 0
    assert bench.sheet.steps[0].given_most_ms == 0
    assert bench.do(acts.NoLight()) == "foot.nothing-to-do"
    bench.give()
    assert bench.sheet.steps[0].given_most_ms == 10_000


def test_what_the_phone_asks_waits_until_an_order_s_end_is_known(bench: FootBench) -> None:
    """While it is not known what became of an order, nothing of the sheet can be changed on a page."""
    bench.hold_step()
    bench.run(1000)
    state, wanted = decide(replace(bench.state, outstanding="v-9"), Asked(acts.CloseSheet(), bench.now_ns))
    assert [type(effect).__name__ for effect in wanted] == ["Refuse"]
    assert state.sheet_open


def test_loading_while_a_sheet_is_open_is_refused(bench: FootBench) -> None:
    """Loading something else while a sheet is open is refused; with none open its filter has to be said."""
    bench.hold_step()
    assert bench.ask(Chosen(sheet_plan(one_step(1, 5000)), bench.now_ns)) == "foot.sheet-open"
    bench.do(acts.CloseSheet())
    assert bench.ask(Chosen(sheet_plan(one_step(1, 5000)), bench.now_ns)) is None
    standing(bench, ChangeFilter)
    assert bench.state.filter_in == ""


def test_a_new_version_of_what_is_loaded_keeps_the_filter(bench: FootBench) -> None:
    """A new version of what is loaded becomes the next sheet's, and the filter in the drawer stays known."""
    assert bench.ask(Chosen(sheet_plan(one_step(1, 5000)), bench.now_ns, again=True)) is None
    standing(bench, Ready)


# ---- sheets and filters


def test_light_opens_a_sheet_and_a_lead_in_without_light_leaves_nothing(bench: FootBench) -> None:
    """A lead-in that brought no light leaves no sheet and uses no number; the first light does both."""
    bench.press()
    bench.run(500)
    bench.press()
    bench.run(2000)
    assert bench.sheets() == ()
    bench.give()
    assert [sheet.number for sheet in bench.sheets()] == [1]
    bench.hold()
    bench.hold()
    bench.run(12_000)
    bench.light(100)
    bench.press()
    assert [sheet.number for sheet in bench.sheets()] == [1, 2]


def test_a_rhythm_waits_at_a_filter_change() -> None:
    """A rhythm goes on by itself only through the same filter and where nothing is asked of the hands."""
    plan = rhythm_plan(2)
    steps = (plan.steps[0], plan.steps[1].model_copy(update={"filter": "hard"}))
    bench = FootBench(plan.model_copy(update={"steps": steps}))
    bench.light()
    bench.run(10_000)
    standing(bench, ChangeFilter)
    assert len(bench.lights()) == 1


def test_hands_come_before_the_filter_is_asked_for() -> None:
    """After a flash the negative goes back first, then the filter is asked for where it is another."""
    plan = flash_plan()
    steps = (plan.steps[0], plan.steps[1].model_copy(update={"filter": "hard"}))
    bench = FootBench(plan.model_copy(update={"steps": steps}))
    bench.press()
    bench.run(4000)
    bench.give()
    bench.press()
    standing(bench, Settling)
    bench.run(3001)
    standing(bench, ChangeFilter)


# ---- the keeper's loss


def test_focus_light_lost_with_its_keeper_is_never_a_step_s(bench: FootBench) -> None:
    """Focus light in which the keeper was lost, even twice in a row, is filed as that, and opens no sheet."""
    bench.focus()
    found = lost(bench, before_ns=10 * MS)
    bench.world.keeper.end("keeper", bench.now_ns)
    state = bench.state
    for _ in range(2):
        state, _ = decide(state, KeeperWent(bench.now_ns, "gone"))
    state, _ = decide(state, KeeperCame(greeting(bench), found))
    assert not state.sheet_open
    assert isinstance(state.place, ChangeFilter)
    assert state.work is not None
    assert state.work.given[0].most_ns == 0


def test_a_dark_that_was_found_on_the_slate_starts_nothing() -> None:
    """A rhythm's light that ended by plan just as its keeper was lost is counted, and no gap begins."""
    bench = FootBench(rhythm_plan())
    bench.light(1000)
    order, on_ns = bench.state.outstanding, bench.edges[-1].at_ns
    assert order is not None
    state, _ = decide(bench.state, KeeperWent(bench.now_ns, "gone"))
    state, wanted = decide(state, Dark(order, on_ns, on_ns + 3000 * MS, "complete"))
    assert isinstance(state.place, Fault)
    (effect,) = wanted
    assert isinstance(effect, File)
    assert isinstance(effect.entry, LightCame)
    state, wanted = decide(state, KeeperCame(greeting(bench)))
    assert isinstance(state.place, Ready)
    assert state.work is not None
    assert state.work.given[0].done
    assert wanted == ()


def test_a_light_taken_back_as_it_came_on_is_darkened_and_counted(bench: FootBench) -> None:
    """A light that comes on although its order was taken back is made dark at once, and counts."""
    bench.press()
    bench.run(1000)
    place = bench.place
    assert isinstance(place, LeadIn)
    bench.world.runner.state = settled(replace(bench.state, place=Ready()))  # as after a hold that was read late
    bench.run(1100)
    assert not bench.lit
    assert [light.why for light in bench.journal.of(LightCame)] == ["fault"]
    assert bench.state.outstanding is None


def test_a_keeper_that_comes_back_remembers_nothing_of_the_foot(bench: FootBench) -> None:
    """A new keeper counts foot-downs from the start, and so does the grammar with it."""
    bench.press()
    bench.run(500)
    bench.press()
    state, _ = decide(bench.state, KeeperWent(bench.now_ns, "gone"))
    state, _ = decide(state, KeeperCame(greeting(bench)))
    assert state.foot.seq == 0


def test_taking_an_order_back_is_said_once(bench: FootBench) -> None:
    """A cancelled lead-in is taken back once, and the record says that it brought no light."""
    bench.press()
    bench.run(500)
    bench.press()
    assert sum(isinstance(effect, Cancel) for effect in bench.effects) == 1
    assert [entry.why for entry in bench.journal.of(NoLightCame)] == ["foot"]


def test_time_scaled_short_keeps_the_table() -> None:
    """With every span but the contact's scaled to a twentieth, a sheet goes the same way."""
    bench = FootBench(sheet_plan(one_step(1, 500), one_step(2, 500)), timing=scaled(0.05))
    bench.press(35)
    bench.run(700)
    assert bench.lights() == [(100, 600)]
    assert isinstance(bench.place, Ready)


def test_a_sound_by_the_daemon_is_heard_at_once(bench: FootBench) -> None:
    """What the grammar says is sounded at the moment of the gesture, not later."""
    bench.world.hear(Sound("question", 0))
    bench.world.run_until(bench.now_ns)
    assert bench.cues()[-1] == "question"
    assert not isinstance(bench.place, Focus | Light)


@pytest.mark.parametrize(("which", "least_ms", "most_ms"), [("least", 0, 1), ("middle", 200, 201), ("most", 400, 401)])
def test_what_is_assumed_is_of_the_last_light_alone(which: str, least_ms: int, most_ms: int) -> None:
    """Of two lights in doubt only the last is settled: what the first may have given is counted on."""
    bench = FootBench(sheet_plan(one_step(1, 900)))
    bench.hold_step(300)
    work = bench.state.loaded
    before, now = Given(0, 1 * MS, parts=1), Given(0, 401 * MS, parts=2)
    work = replace(work.with_given(0, now), last=Last("v-2", 0, before))
    bench.world.runner.state = replace(bench.state, work=work)
    assert bench.do(acts.Assume.model_validate({"light": "v-2", "which": which})) is None
    given = bench.state.loaded.given[0]
    assert (given.least_ns, given.most_ns) == (least_ms * MS, most_ms * MS)
