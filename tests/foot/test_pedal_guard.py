"""The paper guard: rules of the foot switch, the phone and the lid that keep paper and white light apart."""

from __future__ import annotations

import pytest
from tools.foot_bench import MS, FootBench, one_step, rhythm_plan, sheet_plan, standing

from controller.foot import acts
from controller.foot.acts import StandAtEnlarger
from controller.foot.places import AskWhite, ChangeFilter, Finished, Gap, Held, LeadIn, Ready, WhiteWarning
from controller.foot.snapshot import headline
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp
from controller.store.entries import FilterSaid, Intent, LightCame, NoLightCame
from hardware.wire import Order, Trouble


@pytest.fixture
def bench() -> FootBench:
    return FootBench(sheet_plan(one_step(), one_step(2, 8000)))


@pytest.mark.parametrize("ms", [26, 150, 799, 801, 3000, 9000, 30_000])
def test_no_single_gesture_makes_untimed_light(ms: int) -> None:
    """At rest one foot-down, however long, never makes untimed light: white light needs two holds."""
    for make in (lambda: FootBench(), lambda: FootBench(filter_in=""), lambda: FootBench(chosen=False)):
        bench = make()
        bench.press(ms)
        bench.run(400_000)
        assert {entry.light_kind for entry in bench.journal.of(Intent)} <= {"step"}
        assert all(off - on <= 10_000 for on, off in bench.lights())


def test_white_light_does_not_exist_while_a_sheet_is_open(bench: FootBench) -> None:
    """From its first light until it is closed a sheet keeps white light away, by foot and by phone."""
    bench.light(1000)
    assert bench.ask_focus() == "foot.sheet-open"
    bench.press()
    bench.run(2000)
    for _ in range(2):
        bench.hold()
        assert not isinstance(bench.place, AskWhite | WhiteWarning)
    assert bench.ask_focus() == "foot.paper-away-first"


def test_turning_focus_light_off_arms_the_guard_and_says_stop_down() -> None:
    """After focus light the filter is unknown again and “stop down” is to be said, however it went dark."""
    bench = FootBench()
    bench.focus()
    bench.stop()
    standing(bench, ChangeFilter)
    assert bench.state.stop_down
    assert bench.state.filter_in == ""
    assert bench.journal.of(FilterSaid)[-1].filter == ""
    bench.run(2000)
    bench.press()
    assert not bench.state.stop_down


@pytest.mark.parametrize(
    ("aperture", "asked"), [("8", "Stop down to f/8. "), ("5.6", "Stop down to f/5.6. "), ("", "Stop down. ")]
)
def test_stop_down_names_the_f_number_that_the_recipe_knows(aperture: str, asked: str) -> None:
    """Who has to stop down is told to what, where the recipe says it, or else what stands at the enlarger."""
    said = float(aperture) if aperture else None
    bench = FootBench(sheet_plan(one_step()).model_copy(update={"wants": SetUp(aperture=said)}))
    bench.focus()
    bench.stop()
    assert headline(bench.state).startswith(asked)
    bench = FootBench(sheet_plan(one_step()))
    bench.do(StandAtEnlarger(bench=AtEnlarger(aperture=said)))
    bench.focus()
    bench.stop()
    assert headline(bench.state).startswith(asked)


def test_without_a_sounder_focus_light_is_refused_and_the_lead_in_is_four_seconds() -> None:
    """No working sounder: focus light by foot and by phone is refused, and the lead-in lasts 4 s."""
    bench = FootBench(sounder=False)
    assert bench.ask_focus() == "foot.no-sounder"
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
    assert bench.ask_focus() == "foot.no-sounder"
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
    first = bench.state.sheet
    bench.hold()
    bench.light()
    assert len(bench.lights()) == 2
    assert bench.state.sheet not in ("", first)
    assert bench.state.number == 2


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
    order = next(e for e in bench.journal.of(Intent))
    bench.stop()
    late = Order(f"{order.light}x", "step", "s", 1, 1, "lamp", 1, bench.now_ns + 1900 * MS, 1000)
    bench.world.hear(late)
    bench.run(10_000)
    assert not bench.edges


def test_the_phone_may_close_a_sheet_and_ask_for_focus_light_with_none_open(bench: FootBench) -> None:
    """The phone closes a sheet; for focus light it gets the same question, warning and sounds as the foot."""
    bench.hold_step()
    assert bench.do(acts.CloseSheet()) is None
    assert not bench.state.sheet_open
    assert bench.ask_focus() == "foot.paper-away-first"
    bench.run(10_000)
    first = bench.now_ms
    assert bench.ask_focus() is None
    standing(bench, AskWhite)
    assert bench.cues(first) == ["question"]
    bench.hold()
    standing(bench, WhiteWarning)


def test_a_hold_begun_before_the_phone_s_question_is_no_answer() -> None:
    """A contact that had closed when the phone asked, though not yet known to be down, does not answer it."""
    bench = FootBench()
    bench.move(True)
    bench.run(10)
    assert bench.ask_focus() is None
    bench.run(900)
    standing(bench, AskWhite)
    bench.move(False)
    bench.run(100)
    bench.run(5000)
    assert not bench.edges


def test_the_phone_starts_a_step_only_where_that_is_switched_on(bench: FootBench) -> None:
    """“Start from the phone” is off unless set; then it begins the same lead-in, which any press cancels."""
    assert bench.do(acts.StartStep()) == "foot.start-by-foot"
    bench = FootBench(start_from_phone=True)
    assert bench.do(acts.StartStep()) is None
    standing(bench, LeadIn)
    bench.run(1000)
    bench.press()
    standing(bench, Ready)
    bench.run(5000)
    assert not bench.edges
    assert bench.do(acts.StartStep()) is None
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
    assert bench.do(acts.StartStep()) == "foot.wait"
    bench.move(False)
    bench.run(100)
    assert bench.do(acts.StartStep()) is None


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
    assert not [entry for entry in bench.journal.of(Intent) if entry.light not in _told(bench)]


def _told(bench: FootBench) -> set[str]:
    """Return the lights of which an outcome is on file, and the one that is on."""
    filed = {entry.light for entry in (*bench.journal.of(LightCame), *bench.journal.of(NoLightCame))}
    return filed | {bench.state.outstanding or ""}


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
