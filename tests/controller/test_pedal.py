"""The paper guard, the sheet, the filter and the sounds: rules of the foot switch beyond the table's single cells."""

from __future__ import annotations

from dataclasses import replace

import pytest
from foot_bench import MS, FootBench, flash_plan, long_plan, lost, one_step, rhythm_plan, sheet_plan

from controller.effects import (
    Chosen,
    Its,
    KeeperCame,
    KeeperWent,
    SaidAssume,
    SaidClose,
    SaidFocus,
    SaidGiven,
    SaidLeaveOut,
    SaidMore,
    SaidNoLight,
    SaidStart,
    TakeBack,
)
from controller.entries import FilterSaid, Intent, LightCame, NoLightCame
from controller.pedal import decide, settled
from controller.sheet import Act
from controller.standing import (
    AskClose,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Focus,
    Gap,
    Given,
    Held,
    LeadIn,
    Light,
    Ready,
    Settling,
    WhiteWarning,
)
from hardware.timing import Timing
from hardware.wire import Dark, Order, Sound, Trouble


def standing(bench: FootBench, kind: type) -> None:
    assert isinstance(bench.place, kind), f"stands at {bench.place}"


@pytest.fixture
def bench() -> FootBench:
    return FootBench(sheet_plan(one_step(), one_step(2, 8000)))


# ---- paper guard


@pytest.mark.parametrize("ms", [26, 150, 799, 801, 3000, 9000, 30_000])
def test_no_single_gesture_makes_untimed_light(ms: int) -> None:
    """At rest one foot-down, however long, never makes untimed light: white light needs two holds."""
    for make in (lambda: FootBench(), lambda: FootBench(filter_in=""), lambda: FootBench(chosen=False)):
        bench = make()
        bench.press(ms)
        bench.run(400_000)
        assert {entry.light_kind for entry in bench.paper.of(Intent)} <= {"step"}
        assert all(off - on <= 10_000 for on, off in bench.lights())


def test_white_light_does_not_exist_while_a_sheet_is_open(bench: FootBench) -> None:
    """From its first light until it is closed a sheet keeps white light away, by foot and by phone."""
    bench.light(1000)
    assert bench.ask(SaidFocus(bench.now_ns)) == "foot.sheet-open"
    bench.press()
    bench.run(2000)
    for _ in range(2):
        bench.hold()
        assert not isinstance(bench.place, AskWhite | WhiteWarning)
    assert bench.ask(SaidFocus(bench.now_ns)) == "foot.paper-away-first"


def test_turning_focus_light_off_arms_the_guard_and_says_stop_down() -> None:
    """After focus light the filter is unknown again and “stop down” is to be said, however it went dark."""
    bench = FootBench()
    bench.focus()
    bench.stop()
    standing(bench, ChangeFilter)
    assert bench.state.stop_down
    assert bench.state.filter_in == ""
    assert bench.paper.of(FilterSaid)[-1].filter == ""
    bench.run(2000)
    bench.press()
    assert not bench.state.stop_down


def test_without_a_sounder_focus_light_is_refused_and_the_lead_in_is_four_seconds() -> None:
    """No working sounder: focus light by foot and by phone is refused, and the lead-in lasts 4 s."""
    bench = FootBench(sounder=False)
    assert bench.ask(SaidFocus(bench.now_ns)) == "foot.no-sounder"
    bench.hold()
    standing(bench, Ready)
    bench.run(1000)
    first = bench.press()
    bench.run_to(first + 3999)
    assert not bench.lit
    bench.run_to(first + 4000)
    assert bench.lit


def test_a_sounder_that_fails_while_running_counts_as_none() -> None:
    """Where the sounder fails later on, focus light is refused from then on, and the lead-in lasts 4 s."""
    bench = FootBench()
    bench.world.runner.take(Trouble("keeper.sounder", bench.now_ns), bench.now_ns)
    assert bench.ask(SaidFocus(bench.now_ns)) == "foot.no-sounder"
    first = bench.press()
    bench.run_to(first + 3999)
    assert not bench.lit
    bench.run_to(first + 4000)
    assert bench.lit


def test_no_release_starts_light(bench: FootBench) -> None:
    """Release after release, with nothing pressed, starts nothing."""
    bench.move(True)
    bench.run(11_000)
    bench.move(False)
    bench.run(30_000)
    assert not bench.edges


def test_a_finished_sheet_must_be_closed_before_another_begins() -> None:
    """At a finished sheet no gesture but the closing hold leads on; a full step is never given twice."""
    bench = FootBench(sheet_plan(one_step(1, 3000)))
    bench.give()
    for _ in range(5):
        bench.press()
        bench.run(3000)
    bench.double()
    bench.run(5000)
    standing(bench, Finished)
    assert len(bench.lights()) == 1
    bench.hold()
    bench.light()
    assert len(bench.lights()) == 2
    assert bench.state.work is not None
    assert bench.state.work.sheet == 2


def test_the_phone_s_stop_does_what_a_press_does_and_nothing_at_rest(bench: FootBench) -> None:
    """STOP cancels a lead-in, ends a light, and does nothing where nothing is lit or announced."""
    bench.press()
    bench.stop()
    standing(bench, Ready)
    bench.run(3000)
    assert not bench.edges
    bench.stop()
    standing(bench, Ready)
    bench.light(2000)
    bench.stop()
    standing(bench, Held)
    assert bench.sheet.steps[0].parts[0].why == "page"
    bench.run(500)
    bench.stop()
    standing(bench, Held)


def test_the_phone_s_stop_in_a_gap_holds_before_the_band() -> None:
    """STOP in a gap holds before the next band."""
    bench = FootBench(rhythm_plan())
    bench.light()
    bench.run(3500)
    standing(bench, Gap)
    bench.stop()
    standing(bench, Held)
    bench.run(20_000)
    assert len(bench.lights()) == 1


def test_the_phone_s_stop_cancels_the_white_light_warning() -> None:
    """STOP cancels a warning."""
    bench = FootBench()
    bench.hold()
    bench.hold()
    standing(bench, WhiteWarning)
    bench.stop()
    standing(bench, Ready)
    bench.run(10_000)
    assert not bench.edges


def test_a_stop_on_its_way_past_an_order_wins(bench: FootBench) -> None:
    """An order that was decided on before a stop was heard of is refused by its number, and no light comes."""
    bench.press()
    order = next(e for e in bench.paper.of(Intent))
    bench.stop()
    late = Order(f"{order.light}x", "step", "s", 1, 1, "lamp", 1, bench.now_ns + 1900 * MS, 1000)
    bench.world.hear(late)
    bench.run(10_000)
    assert not bench.edges


def test_the_phone_may_close_a_sheet_and_ask_for_focus_light_with_none_open(bench: FootBench) -> None:
    """The phone closes a sheet; for focus light it gets the same question, warning and sounds as the foot."""
    bench.hold_step()
    assert bench.ask(SaidClose(bench.now_ns)) is None
    assert not bench.state.sheet_open
    assert bench.ask(SaidFocus(bench.now_ns)) == "foot.paper-away-first"
    bench.run(10_000)
    first = bench.now_ms
    assert bench.ask(SaidFocus(bench.now_ns)) is None
    standing(bench, AskWhite)
    assert bench.cues(first) == ["question"]
    bench.hold()
    standing(bench, WhiteWarning)


def test_a_hold_begun_before_the_phone_s_question_is_no_answer() -> None:
    """A contact that had closed when the phone asked, though not yet known to be down, does not answer it."""
    bench = FootBench()
    bench.move(True)
    bench.run(10)
    assert bench.ask(SaidFocus(bench.now_ns)) is None
    bench.run(900)
    standing(bench, AskWhite)
    bench.move(False)
    bench.run(100)
    bench.run(5000)
    assert not bench.edges


def test_the_phone_starts_a_step_only_where_that_is_switched_on(bench: FootBench) -> None:
    """“Start from the phone” is off unless set; then it begins the same lead-in, which any press cancels."""
    assert bench.ask(SaidStart(bench.now_ns)) == "foot.start-by-foot"
    bench = FootBench(start_from_phone=True)
    assert bench.ask(SaidStart(bench.now_ns)) is None
    standing(bench, LeadIn)
    bench.run(1000)
    bench.press()
    standing(bench, Ready)
    bench.run(5000)
    assert not bench.edges
    assert bench.ask(SaidStart(bench.now_ns)) is None
    bench.run(2000)
    assert bench.lit


def test_the_phone_does_not_start_a_step_while_a_foot_is_down() -> None:
    """A start from the phone is refused while the contact is closed: the foot's gesture is not yet decided."""
    bench = FootBench(sheet_plan(one_step(), one_step(2)), start_from_phone=True)
    bench.light()
    bench.run(10_450)
    bench.move(True)  # it only waits: the light has just ended
    bench.run(200)
    standing(bench, Ready)
    assert bench.ask(SaidStart(bench.now_ns)) == "foot.wait"
    bench.move(False)
    bench.run(100)
    assert bench.ask(SaidStart(bench.now_ns)) is None


def test_an_open_lid_ends_focus_light_and_refuses_the_rest() -> None:
    """With the paper box open: no focus light, and a step is refused; opening it darkens focus light at once."""
    bench = FootBench(lid=True)
    bench.focus()
    opened = bench.now_ms
    bench.lid(shut=False)
    assert bench.lights()[0][1] - opened <= 50
    bench.run(2000)
    bench.press()
    bench.run(4000)
    standing(bench, Ready)
    bench.press()
    standing(bench, Ready)
    bench.run(5000)
    assert len(bench.lights()) == 1
    bench.hold()
    standing(bench, Ready)
    bench.lid(shut=True)
    bench.run(100)
    bench.hold()
    standing(bench, AskWhite)
    bench.lid(shut=False)
    standing(bench, Ready)


def test_a_lid_opened_in_a_step_s_light_leaves_it_lit() -> None:
    """A step that is lit goes on when the lid is opened: its paper is out of the box already."""
    bench = FootBench(lid=True)
    bench.light(1000)
    bench.lid(shut=False)
    assert bench.lit
    bench.run(9000)
    assert bench.sheet.steps[0].given_most_ms == 10_000


def test_with_a_shut_lid_one_hold_may_be_enough() -> None:
    """Where the setting allows it and the lid is shut, one hold begins the warning; with it open, none does."""
    bench = FootBench(lid=True, lid_single_hold=True)
    bench.hold()
    standing(bench, WhiteWarning)
    bench.run(2000)
    assert bench.lit
    assert not [entry for entry in bench.paper.of(Intent) if entry.light not in _told(bench)]


def _told(bench: FootBench) -> set[str]:
    """Return the lights of which an outcome is on file, and the one that is on."""
    filed = {entry.light for entry in (*bench.paper.of(LightCame), *bench.paper.of(NoLightCame))}
    return filed | {bench.world.performer.id_of(bench.state.orders)}


def test_every_hold_is_refused_for_ten_seconds_after_a_close(bench: FootBench) -> None:
    """For 10 s after a close every hold is refused, and takes back what its own foot-down began all the same."""
    bench.hold_step()
    bench.hold()
    first = bench.hold()
    standing(bench, Ready)
    closed = first + 800
    bench.run_to(closed + 3000)
    bench.hold()
    standing(bench, Ready)
    assert bench.cues(closed + 3000) == ["lead-in", "no"]
    bench.run_to(closed + 9990)
    bench.hold()
    standing(bench, Ready)
    bench.run_to(closed + 12_000)
    assert len(bench.lights()) == 1
    bench.hold()
    standing(bench, AskWhite)


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
    assert len(bench.paper.of(Intent)) == 1


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
    state, _ = decide(bench.state, KeeperWent(bench.now_ns))
    assert state.outstanding is not None
    state, _ = decide(state, KeeperCame(bench.now_ns, True, found.on_ns, found.least_ns, found.most_ns))
    assert state.work is not None
    assert state.work.given[0].settled
    assert state.work.index == 1


def test_a_doubt_is_settled_by_the_printer_s_word_before_it_goes_on(bench: FootBench) -> None:
    """Where least and most differ by over 1/12 stop, carry on is refused until the printer has said what to assume."""
    bench.light(6000)
    found = lost(bench, before_ns=2000 * MS)
    bench.world.keeper.end("keeper", bench.now_ns)
    state, _ = decide(bench.state, KeeperWent(bench.now_ns))
    state, _ = decide(state, KeeperCame(bench.now_ns, True, found.on_ns, found.least_ns, found.most_ns))
    bench.world.runner.state = state
    standing(bench, Held)
    assert state.work is not None
    assert (state.work.given[0].least_ns, state.work.given[0].most_ns) == (4000 * MS, 6000 * MS)
    assert state.work.doubt(0) == 0
    bench.world.runner.state = replace(state, wait_until_ns=0)
    assert bench.ask(SaidAssume("middle", bench.now_ns)) is None
    assert bench.state.work is not None
    assert bench.state.work.given[0].most_ns == 5000 * MS
    assert bench.state.work.doubt(0) is None
    assert bench.ask(SaidAssume("middle", bench.now_ns)) == "foot.nothing-to-do"


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
    bench = FootBench(sheet_plan(one_step(1, 6000, act=Act.BURN, card="recipe.card-burn")))
    bench.light()
    assert bench.cues()[:2] == ["hands", "lead-in"]


def test_a_running_dodge_s_cues_sound_in_its_light() -> None:
    """“Dodger in” and “dodger out” sound at their moments of the light."""
    marks = ({"at_ms": 2000, "cue": "dodger in"}, {"at_ms": 5000, "cue": "dodger out"})
    bench = FootBench(sheet_plan(one_step(1, 9000, act=Act.RUNNING, marks=marks)))
    bench.light()
    on = bench.now_ms
    bench.run(9000)
    told = [(str(c.cue), c.at_ns / MS - 20_000 - on) for c in bench.world.cues if "dodger" in c.cue]
    assert told == [("dodger in", 2000), ("dodger out", 5000)]


# ---- what the phone may put right


def test_call_it_given_settles_a_step_at_any_dark_moment(bench: FootBench) -> None:
    """“Call it given” settles the present step as it is and goes on; in light it is refused."""
    bench.light(2000)
    assert bench.ask(SaidGiven(bench.now_ns)) == "foot.not-now"
    bench.press()
    bench.run(100)
    assert bench.ask(SaidGiven(bench.now_ns)) is None
    standing(bench, Ready)
    assert bench.sheet.steps[0].called_given


def test_the_next_step_can_be_left_out(bench: FootBench) -> None:
    """“Leave out the next step” settles it without light."""
    bench.give()
    assert bench.ask(SaidLeaveOut(bench.now_ns)) is None
    standing(bench, Finished)
    assert bench.sheet.steps[1].left_out
    assert bench.ask(SaidLeaveOut(bench.now_ns)) == "foot.nothing-to-do"


def test_a_finished_sheet_is_reopened_for_one_more_burn_only() -> None:
    """“One more burn” reopens a finished sheet for that burn alone; its light is by foot."""
    bench = FootBench(sheet_plan(one_step(1, 3000)))
    bench.give()
    burn = one_step(2, 1000, act=Act.BURN, name="one more", base_ms=3000)
    assert bench.ask(SaidMore(burn, bench.now_ns)) is None
    standing(bench, Ready)
    assert len(bench.lights()) == 1
    bench.give()
    standing(bench, Finished)
    assert bench.sheet.steps[1].given_most_ms == 1000
    assert bench.sheet.steps[1].added


def test_no_light_came_strikes_the_last_light(bench: FootBench) -> None:
    """“No light came” strikes the last light: the step wants its whole light again, once."""
    bench.give()
    assert bench.ask(SaidNoLight(bench.now_ns)) is None
    standing(bench, Ready)
    assert bench.state.work is not None
    assert bench.state.work.index == 0
    assert bench.sheet.steps[0].given_most_ms == 0
    assert bench.ask(SaidNoLight(bench.now_ns)) == "foot.nothing-to-do"
    bench.give()
    assert bench.sheet.steps[0].given_most_ms == 10_000


def test_what_the_phone_asks_waits_until_an_order_s_end_is_known(bench: FootBench) -> None:
    """While it is not known what became of an order, nothing of the sheet can be changed on a page."""
    bench.hold_step()
    bench.run(1000)
    state, wanted = decide(replace(bench.state, outstanding=bench.state.orders), SaidClose(bench.now_ns))
    assert [type(effect).__name__ for effect in wanted] == ["Refuse"]
    assert state.sheet_open


def test_loading_while_a_sheet_is_open_is_refused(bench: FootBench) -> None:
    """Loading something else while a sheet is open is refused; with none open its filter has to be said."""
    bench.hold_step()
    assert bench.ask(Chosen(sheet_plan(one_step(1, 5000)), bench.now_ns)) == "foot.sheet-open"
    bench.ask(SaidClose(bench.now_ns))
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
        state, _ = decide(state, KeeperWent(bench.now_ns))
    state, _ = decide(state, KeeperCame(bench.now_ns, True, found.on_ns, found.least_ns, found.most_ns))
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
    state, _ = decide(bench.state, KeeperWent(bench.now_ns))
    word = Dark(bench.world.performer.id_of(order), on_ns, on_ns + 3000 * MS, "complete")
    state, wanted = decide(state, Its(order, word))
    assert isinstance(state.place, Fault)
    assert {type(effect).__name__ for effect in wanted} == {"FileLight"}
    state, wanted = decide(state, KeeperCame(bench.now_ns, True))
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
    assert [light.why for light in bench.paper.of(LightCame)] == ["fault"]
    assert bench.state.outstanding is None


def test_a_keeper_that_comes_back_remembers_nothing_of_the_foot(bench: FootBench) -> None:
    """A new keeper counts foot-downs from the start, and so does the grammar with it."""
    bench.press()
    bench.run(500)
    bench.press()
    state, _ = decide(bench.state, KeeperWent(bench.now_ns))
    state, _ = decide(state, KeeperCame(bench.now_ns, True))
    assert state.foot.seq == 0


def test_taking_an_order_back_is_said_once(bench: FootBench) -> None:
    """A cancelled lead-in is taken back once, and the record says that it brought no light."""
    bench.press()
    bench.run(500)
    bench.press()
    assert sum(isinstance(effect, TakeBack) for effect in bench.effects) == 1
    assert [entry.why for entry in bench.paper.of(NoLightCame)] == ["foot"]


def test_time_scaled_short_keeps_the_table() -> None:
    """With every span but the contact's scaled to a twentieth, a sheet goes the same way."""
    bench = FootBench(sheet_plan(one_step(1, 500), one_step(2, 500)), timing=Timing().scaled(0.05))
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
