"""Every cell of the foot-switch table, played through the whole of a darkroom in virtual time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from foot_bench import FootBench, flash_plan, lost, one_step, rhythm_plan, sheet_plan

from controller import table
from controller.describe import NAMES
from controller.pedal import TABLE
from controller.runner import Came, Went
from controller.standing import (
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Focus,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    Light,
    NothingChosen,
    Ready,
    Settling,
    WhiteWarning,
)
from hardware.wire import Greeting

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/reference/foot-switch-table.md"


def standing(bench: FootBench, kind: type) -> None:
    assert isinstance(bench.place, kind), f"stands at {bench.place}"


def greeting(bench: FootBench) -> Greeting:
    return Greeting(
        protocol=1,
        pid=2,
        boot="virtual",
        at_ns=bench.now_ns,
        practice=True,
        lamps=("lamp",),
        features=("sounder",),
        scheduling="other",
        locked=False,
        timing="{}",
        at_rest=True,
    )


def press_alone(bench: FootBench) -> None:
    """A press in the present place, with its release."""
    bench.press()


# ---- the documented table


def test_the_documented_table_is_the_code_s() -> None:
    """The page in the reference is the table that the code obeys, cell for cell."""
    assert PAGE.read_text("utf-8") == table.page(), "run: python -m controller.table > docs/reference/…"


def test_the_table_prints_itself() -> None:
    """`python -m controller.table` prints the page of the reference."""
    told = subprocess.run(
        [sys.executable, "-m", "controller.table"], cwd=ROOT, capture_output=True, text=True, check=True, timeout=30
    )
    assert told.stdout == table.page()


def test_every_place_has_a_row_and_every_rule_a_cell() -> None:
    """No place and no rule of the code is missing from the page."""
    text = table.page()
    assert {place for place, _ in TABLE} <= set(NAMES)
    for name in NAMES.values():
        assert f"\n| {name} | " in text
    for rule in TABLE.values():
        if rule.words != "nothing until release":
            assert rule.words in text


# ---- nothing chosen


@pytest.fixture
def bare() -> FootBench:
    return FootBench(chosen=False)


def test_a_press_with_nothing_chosen_is_refused(bare: FootBench) -> None:
    """With nothing chosen a press is refused with a sound, and stays there."""
    first = bare.press()
    standing(bare, NothingChosen)
    assert bare.cues(first) == ["no"]
    bare.run(10_000)
    assert not bare.edges


def test_a_hold_with_nothing_chosen_asks_for_white_light(bare: FootBench) -> None:
    """With nothing chosen a hold asks whether white light is wanted."""
    first = bare.hold()
    standing(bare, AskWhite)
    assert bare.cues(first) == ["no", "question"]


def test_a_double_with_nothing_chosen_has_nothing_to_say(bare: FootBench) -> None:
    """With nothing chosen a double says that there is nothing, and starts nothing."""
    bare.double()
    standing(bare, NothingChosen)
    assert bare.cues(0) == ["no", "no"]


# ---- ready


@pytest.fixture
def bench() -> FootBench:
    return FootBench()


def test_a_press_when_ready_begins_the_lead_in(bench: FootBench) -> None:
    """A press when ready begins a lead-in of 2.0 s from its first contact, with its sound at once."""
    first = bench.press()
    standing(bench, LeadIn)
    assert bench.cues(first) == ["lead-in"]
    assert bench.world.cues[-1].at_ns == bench.at(first + 25)
    bench.run_to(first + 2000)
    standing(bench, Light)
    assert bench.lights()[0][0] == first + 2000


def test_a_hold_when_ready_with_a_sheet_open_asks_to_close(bench: FootBench) -> None:
    """A hold when ready takes its own lead-in back; with a sheet open it asks to close."""
    bench = FootBench(sheet_plan(one_step(), one_step(2)))
    bench.give()
    standing(bench, Ready)
    first = bench.hold()
    standing(bench, AskClose)
    assert bench.cues(first) == ["lead-in", "question"]
    bench.run(10_000)
    standing(bench, Ready)
    assert len(bench.lights()) == 1


def test_a_hold_when_ready_with_no_sheet_open_asks_for_white_light(bench: FootBench) -> None:
    """A hold when ready takes its own lead-in back; with no sheet open it asks for white light."""
    bench.hold()
    standing(bench, AskWhite)
    bench.run(10_000)
    assert not bench.edges


def test_a_double_when_ready_says_again_and_starts_nothing(bench: FootBench) -> None:
    """A double when ready cancels the lead-in of its first press and says the step's number and family."""
    bench.double()
    standing(bench, Ready)
    assert bench.cues(0) == ["lead-in", "stopped", "lead-in"]
    assert bench.world.cues[-1].count == 1
    bench.run(10_000)
    assert not bench.edges


# ---- lead-in


def test_a_press_in_a_lead_in_cancels_it(bench: FootBench) -> None:
    """A press in a lead-in cancels it and brings no light."""
    bench.press()
    bench.run(1000)
    first = bench.press()
    standing(bench, Ready)
    assert bench.cues(first) == ["stopped"]
    bench.run(10_000)
    assert not bench.edges


def test_a_hold_in_a_lead_in_cancels_it_and_then_asks(bench: FootBench) -> None:
    """A hold in a lead-in cancels it and then asks as when ready."""
    bench.press()
    bench.run(1000)
    bench.hold()
    standing(bench, AskWhite)
    bench.run(10_000)
    assert not bench.edges


def test_a_double_in_a_lead_in_cancels_it_and_says_again(bench: FootBench) -> None:
    """The second press of a double falls into the lead-in of the first: it cancels it and says again."""
    bench.press(100)
    bench.run(50)
    standing(bench, LeadIn)
    first = bench.press(100)
    standing(bench, Ready)
    assert bench.cues(first) == ["stopped", "lead-in"]


def test_a_lead_in_that_is_over_brings_light(bench: FootBench) -> None:
    """At the end of its lead-in the step's light comes on, and the sheet is open from then on."""
    bench.light()
    standing(bench, Light)
    assert bench.state.sheet_open


# ---- light


def test_a_press_in_light_makes_it_dark_and_holds_the_step(bench: FootBench) -> None:
    """A press in a light makes it dark at the foot-down; the step stands held with what it has had."""
    bench.light(4000)
    first = bench.press()
    standing(bench, Held)
    (on, off), *_ = bench.lights()
    assert off == first + 25
    assert bench.sheet.steps[0].given_most_ms == round(off - on)


def test_a_press_in_light_with_nothing_missing_goes_on_to_the_next_step() -> None:
    """A press within the last two milliseconds of a light leaves nothing missing: the next step comes."""
    bench = FootBench(sheet_plan(one_step(1, 10_000), one_step(2)))
    bench.light(10_000 - 25 - 1)
    bench.press()
    standing(bench, Ready)
    assert bench.state.work is not None
    assert bench.state.work.index == 1
    assert [part.why for part in bench.sheet.steps[0].parts] == ["foot"]


def test_a_hold_in_light_makes_it_dark_and_then_asks_to_close(bench: FootBench) -> None:
    """A hold in a light makes it dark at its foot-down, and then asks to close."""
    bench.light(4000)
    first = bench.hold()
    standing(bench, AskClose)
    assert bench.lights()[0][1] == first + 25
    assert bench.cues(first + 1) == ["stopped", "question"]


def test_the_second_press_of_a_double_in_light_starts_nothing(bench: FootBench) -> None:
    """The first press of a double in a light makes it dark; the second starts nothing."""
    bench.light(4000)
    bench.double()
    standing(bench, Held)
    bench.run(10_000)
    assert len(bench.lights()) == 1


def test_a_light_that_reaches_its_plan_goes_on_to_the_next_step(bench: FootBench) -> None:
    """A light whose plan is reached goes dark with “done”, and the next step's wish comes."""
    bench.light()
    bench.run(10_001)
    standing(bench, ChangeFilter)
    assert bench.lights()[0][1] - bench.lights()[0][0] == 10_000
    assert bench.cues()[-1] == "done"


def test_a_band_that_reaches_its_plan_goes_on_to_the_gap() -> None:
    """In a rhythm strip the gap follows the light by itself."""
    bench = FootBench(rhythm_plan())
    bench.light()
    bench.run(3001)
    standing(bench, Gap)


# ---- gap


def in_gap(after_ms: float = 1000) -> FootBench:
    bench = FootBench(rhythm_plan())
    bench.light()
    bench.run(3000 + after_ms)
    standing(bench, Gap)
    return bench


def test_a_press_in_a_gap_holds_before_the_next_band() -> None:
    """A press in a gap cancels the next band's light and stands held before it."""
    bench = in_gap()
    bench.press()
    standing(bench, Held)
    bench.run(20_000)
    assert len(bench.lights()) == 1
    bench.light()
    assert bench.state.work is not None
    assert bench.state.work.index == 1


def test_a_hold_in_a_gap_holds_and_asks_to_close() -> None:
    """A hold in a gap cancels the next band's light and asks to close."""
    bench = in_gap()
    bench.hold()
    standing(bench, AskClose)
    bench.run(20_000)
    standing(bench, Held)
    assert len(bench.lights()) == 1


def test_a_double_in_a_gap_holds_and_says_again() -> None:
    """A double in a gap cancels the next band's light and says again."""
    bench = in_gap()
    bench.double()
    standing(bench, Held)
    bench.run(20_000)
    assert len(bench.lights()) == 1


def test_a_press_shortly_before_a_gap_makes_a_double_in_it() -> None:
    """A double whose second press alone falls into the gap holds before the band and says again."""
    bench = FootBench(rhythm_plan(each_ms=300, gap_ms=1500))
    bench.light()
    bench.run(301)
    standing(bench, Gap)
    bench.double()
    standing(bench, Held)
    assert bench.cues()[-1] == "hands"


def test_a_gap_that_is_over_brings_the_next_band() -> None:
    """At the end of a gap the next band's light comes on, exactly a gap after the last went dark."""
    bench = in_gap()
    bench.run(3001)
    standing(bench, Light)
    (_, off), (on, _) = bench.lights()
    assert on - off == 4000


# ---- held


def test_a_press_when_held_gives_the_remainder(bench: FootBench) -> None:
    """A press when held begins a lead-in, and then the remainder: the parts add up to the plan."""
    bench.hold_step(4000)
    first = bench.press()
    standing(bench, LeadIn)
    bench.run(9000)
    (on1, off1), (on2, off2) = bench.lights()
    assert on2 == first + 2000
    assert (off1 - on1) + (off2 - on2) == 10_000


def test_a_hold_when_held_asks_to_close(bench: FootBench) -> None:
    """A hold when held asks to close the sheet."""
    bench.hold_step(4000)
    bench.hold()
    standing(bench, AskClose)


@pytest.mark.parametrize(("given_ms", "asked"), [(9440, AskGiven), (9438, AskGiven), (9430, AskClose)])
def test_a_hold_when_nearly_given_asks_to_call_it_given(given_ms: int, asked: type) -> None:
    """Less than 1/12 stop short, that is from 10 s · 2^(−1/12) = 9.439 s on, a hold asks “call it given?”."""
    bench = FootBench(sheet_plan(one_step(1, 10_000), one_step(2)))
    given = given_ms if given_ms != 9438 else 9439
    bench.hold_step(given)
    bench.hold()
    standing(bench, asked)


def test_a_double_when_held_says_what_is_left(bench: FootBench) -> None:
    """A double when held says the step again and starts nothing."""
    bench.hold_step(4000)
    bench.double()
    standing(bench, Held)
    bench.run(10_000)
    assert len(bench.lights()) == 1
    assert bench.cues()[-1] == "lead-in"


def test_held_never_expires(bench: FootBench) -> None:
    """A held step waits for as long as it likes."""
    bench.hold_step(4000)
    bench.run(3_600_000)
    standing(bench, Held)


# ---- change filter


@pytest.fixture
def unknown() -> FootBench:
    return FootBench(filter_in="")


def test_a_press_says_that_the_filter_is_in(unknown: FootBench) -> None:
    """A press at change filter says that it is in: no light, but settling, and then ready."""
    unknown.press()
    standing(unknown, Settling)
    assert unknown.state.filter_in == "soft"
    unknown.run(3001)
    standing(unknown, Ready)
    assert not unknown.edges


def test_a_hold_at_change_filter_takes_its_own_word_back(unknown: FootBench) -> None:
    """A hold at change filter takes back the “in” of its own foot-down, and asks for white light with none open."""
    unknown.hold()
    standing(unknown, AskWhite)
    assert unknown.state.filter_in == ""
    unknown.run(6000)
    standing(unknown, ChangeFilter)


def test_a_hold_at_change_filter_with_a_sheet_open_asks_to_close(bench: FootBench) -> None:
    """With a sheet open a hold at change filter asks to close, and its “in” is taken back."""
    bench.give()
    standing(bench, ChangeFilter)
    bench.hold()
    standing(bench, AskClose)
    assert bench.state.filter_in == "soft"


def test_a_double_at_change_filter_undoes_the_word_of_its_first_press(unknown: FootBench) -> None:
    """A double at change filter is undone: the first press's “in” is taken back, and it is asked for again."""
    unknown.double()
    standing(unknown, ChangeFilter)
    assert unknown.state.filter_in == ""


def test_a_double_whose_first_press_was_too_soon_says_the_filter_again(bench: FootBench) -> None:
    """Where the first press of a double only waited, the second says the filter again."""
    bench.light()
    bench.run(10_050)
    standing(bench, ChangeFilter)
    first = bench.now_ms
    bench.double()
    standing(bench, ChangeFilter)
    assert bench.cues(first)[:2] == ["wait", "filter hard"]
    assert bench.state.filter_in == "soft"


def test_change_filter_is_said_again_every_twenty_seconds(unknown: FootBench) -> None:
    """The filter that is wanted sounds 0.7 s after it is wanted, and then every 20 s."""
    unknown.run_to(60_000)
    at = [cue.at_ns // 1_000_000 - 20_000 for cue in unknown.world.cues if cue.cue == "filter soft"]
    assert at == [700, 20_700, 40_700]


# ---- hands asked


@pytest.fixture
def flash() -> FootBench:
    return FootBench(flash_plan())


def test_a_press_says_that_the_hands_have_done_it(flash: FootBench) -> None:
    """A press at “negative out” says that it is done: settling, then ready."""
    standing(flash, HandsAsked)
    flash.press()
    standing(flash, Settling)
    flash.run(3001)
    standing(flash, Ready)
    assert not flash.edges


def test_a_hold_when_hands_are_asked_takes_its_own_word_back(flash: FootBench) -> None:
    """A hold when hands are asked takes its “done” back and asks for white light, no sheet being open."""
    flash.hold()
    standing(flash, AskWhite)
    flash.run(6000)
    standing(flash, HandsAsked)


def test_a_hold_when_hands_are_asked_with_a_sheet_open_asks_to_close(flash: FootBench) -> None:
    """With a sheet open a hold at “negative back” asks to close."""
    flash.press()
    flash.run(4000)
    flash.light()
    flash.run(3600)
    standing(flash, HandsAsked)
    flash.hold()
    standing(flash, AskClose)


def test_a_double_when_hands_are_asked_takes_the_word_back(flash: FootBench) -> None:
    """A double when hands are asked undoes its first press, and it is asked for again."""
    flash.double()
    standing(flash, HandsAsked)
    flash.run(1000)
    assert flash.cues()[-1] == "dodger out"


def test_a_double_after_a_light_says_the_hands_again(flash: FootBench) -> None:
    """Where the first press of a double only waited, the second says again what the hands are asked for."""
    flash.press()
    flash.run(4000)
    flash.light()
    flash.run(1550)
    standing(flash, HandsAsked)
    first = flash.now_ms
    flash.double()
    standing(flash, HandsAsked)
    assert flash.cues(first)[:2] == ["wait", "dodger in"]
    assert flash.world.cues[-1].count in (0, 2)


def test_hands_are_asked_again_every_twenty_seconds(flash: FootBench) -> None:
    """What the hands are asked for sounds 0.7 s after it is wanted, and then every 20 s."""
    flash.run_to(50_000)
    at = [cue.at_ns // 1_000_000 - 20_000 for cue in flash.world.cues if cue.cue == "dodger out"]
    assert at == [700, 20_700, 40_700]


# ---- settling


def test_a_press_while_settling_waits(unknown: FootBench) -> None:
    """A press while the head settles starts nothing and says “wait”."""
    unknown.press()
    unknown.run(1000)
    first = unknown.press()
    standing(unknown, Settling)
    assert unknown.cues(first) == ["wait"]
    unknown.run(10_000)
    standing(unknown, Ready)
    assert not unknown.edges


def test_a_hold_while_settling_asks_as_when_ready(unknown: FootBench) -> None:
    """A hold of another foot-down while settling asks as when ready; the filter's word stands."""
    unknown.press()
    unknown.run(1000)
    unknown.hold()
    standing(unknown, AskWhite)
    assert unknown.state.filter_in == "soft"
    unknown.run(6000)
    standing(unknown, Ready)


def test_a_double_at_once_undoes_the_word_and_one_later_says_again(unknown: FootBench) -> None:
    """A press within 0.35 s of the “in” undoes it; a double later in the settling says again."""
    unknown.press(100)
    unknown.run(50)
    standing(unknown, Settling)
    unknown.press(100)
    standing(unknown, ChangeFilter)
    unknown.run(2000)
    unknown.press()
    unknown.run(1000)
    first = unknown.now_ms
    unknown.double()
    standing(unknown, Settling)
    assert unknown.cues(first) == ["wait", "filter soft"]


def test_settling_ends_by_itself(unknown: FootBench) -> None:
    """Settling ends 3.0 s after the first contact of the “in”, ready or held."""
    first = unknown.press()
    unknown.run_to(first + 2999)
    standing(unknown, Settling)
    unknown.run_to(first + 3000)
    standing(unknown, Ready)


def test_settling_ends_held_where_light_is_missing(bench: FootBench) -> None:
    """Settling ends held where the step has had light already."""
    bench.hold_step(4000)
    bench.world.runner.take(Went(bench.now_ns, "gone"), bench.now_ns)
    bench.world.runner.state = bench.state  # the keeper comes back, and the filter has to be said once more
    bench.world.runner.take(Came(greeting(bench)), bench.now_ns)
    standing(bench, Held)


# ---- finished


@pytest.fixture
def finished() -> FootBench:
    bench = FootBench(sheet_plan(one_step(1, 3000)))
    bench.give()
    standing(bench, Finished)
    return bench


def test_a_press_when_finished_answers_on_release(finished: FootBench) -> None:
    """When finished a press says on its release, and not before, that a hold closes."""
    first = finished.now_ms
    finished.move(True)
    finished.run(400)
    assert finished.cues(first) == []
    finished.move(False)
    finished.run(61)
    assert finished.cues(first) == ["no"]
    standing(finished, Finished)


def test_a_hold_when_finished_closes_the_sheet(finished: FootBench) -> None:
    """When finished a hold closes the sheet 0.8 s after its first contact; the same plan stands ready."""
    first = finished.hold()
    standing(finished, Ready)
    assert finished.sheet.outcome == "complete"
    assert finished.sheet.closed is not None
    assert finished.sheet.closed.at_ns == finished.at(first + 800)


def test_the_next_sheet_asks_for_its_first_filter() -> None:
    """After a sheet that ended with another filter the next one asks for its first filter again."""
    bench = FootBench(sheet_plan(one_step(1, 3000), one_step(2, 3000, "hard")))
    bench.give()
    bench.press()
    bench.run(4000)
    bench.give()
    bench.hold()
    standing(bench, ChangeFilter)
    assert bench.state.filter_in == "hard"


def test_a_double_when_finished_says_the_totals(finished: FootBench) -> None:
    """When finished a double says the number of steps, and no refusal follows it."""
    first = finished.now_ms
    finished.double()
    standing(finished, Finished)
    told = [(cue.cue, cue.count) for cue in finished.world.cues if cue.at_ns >= finished.at(first)]
    assert told == [("no", 0), ("done", 1)]


# ---- the questions


def asking_close() -> FootBench:
    bench = FootBench()
    bench.hold_step(4000)
    bench.hold()
    standing(bench, AskClose)
    return bench


def asking_given() -> FootBench:
    bench = FootBench()
    bench.hold_step(9600)
    bench.hold()
    standing(bench, AskGiven)
    return bench


def asking_white() -> FootBench:
    bench = FootBench()
    bench.hold()
    standing(bench, AskWhite)
    return bench


@pytest.mark.parametrize(
    ("ask", "back"),
    [(asking_close, Held), (asking_given, Held), (asking_white, Ready)],
    ids=["close", "given", "white"],
)
class TestQuestions:
    def test_a_press_means_no_and_is_read_on_release(self, ask, back) -> None:  # type: ignore[no-untyped-def]
        """A press at a question means no, is read on its release, and brings no light."""
        bench: FootBench = ask()
        lights = len(bench.lights())
        bench.move(True)
        bench.run(300)
        assert not isinstance(bench.place, back)
        bench.move(False)
        bench.run(61)
        standing(bench, back)
        bench.run(20_000)
        assert len(bench.lights()) == lights

    def test_a_double_means_no(self, ask, back) -> None:  # type: ignore[no-untyped-def]
        """A double at a question means no and brings no light: its second press starts nothing either."""
        bench: FootBench = ask()
        lights = len(bench.lights())
        bench.press(100)
        standing(bench, back)
        bench.run(50)
        bench.press(100)
        bench.run(20_000)
        standing(bench, back)
        assert len(bench.lights()) == lights

    def test_a_question_is_dropped_after_five_seconds(self, ask, back) -> None:  # type: ignore[no-untyped-def]
        """A question is dropped 5 s after the hold that asked it, plus the 60 ms in which a contact may be read."""
        bench: FootBench = ask()
        asked = max(cue.at_ns for cue in bench.world.cues if cue.cue == "question") / 1e6 - 20_000
        bench.run_to(asked + 5059)
        assert not isinstance(bench.place, back)
        bench.run_to(asked + 5061)
        standing(bench, back)

    def test_a_contact_that_closes_in_time_stops_the_clock(self, ask, back) -> None:  # type: ignore[no-untyped-def]
        """A contact that closes before the five seconds are over stops the clock until it is read."""
        bench: FootBench = ask()
        asked = max(cue.at_ns for cue in bench.world.cues if cue.cue == "question") / 1e6 - 20_000
        bench.run_to(asked + 4990)
        bench.hold()
        assert not isinstance(bench.place, back)

    def test_the_hold_that_asked_never_answers(self, ask, back) -> None:  # type: ignore[no-untyped-def]
        """The foot-down that asked cannot answer, however long it stays down."""
        bench: FootBench = ask()
        question = bench.place
        bench.run(1000)
        assert bench.place == question


def test_a_hold_at_close_closes() -> None:
    """A hold of its own at “close this sheet?” closes it; not every step was given: spoiled."""
    bench = asking_close()
    bench.hold()
    standing(bench, Ready)
    assert bench.sheet.outcome == "spoiled"


def test_a_hold_at_call_it_given_settles_the_step() -> None:
    """A hold of its own at “call it given?” settles the step as it is, and the next one comes."""
    bench = asking_given()
    bench.hold()
    standing(bench, ChangeFilter)
    assert bench.sheet.steps[0].called_given
    assert bench.sheet.steps[0].given_most_ms == 9600


def test_a_hold_at_white_light_begins_the_warning() -> None:
    """Only a new hold, begun after the question, brings the white-light warning."""
    bench = asking_white()
    first = bench.hold()
    standing(bench, WhiteWarning)
    assert bench.cues(first) == ["warning"]


# ---- white-light warning


def warned() -> FootBench:
    bench = asking_white()
    bench.hold()
    standing(bench, WhiteWarning)
    return bench


@pytest.mark.parametrize("gesture", ["press", "hold", "double"])
def test_any_gesture_cancels_the_white_light_warning(gesture: str) -> None:
    """A press, a hold and a double all cancel the warning; no white light comes, and nothing is asked."""
    bench = warned()
    getattr(bench, gesture)()
    standing(bench, Ready)
    bench.run(20_000)
    standing(bench, Ready)
    assert not bench.edges


def test_the_warning_ends_in_focus_light() -> None:
    """Two seconds after the hold, the contact at rest, focus light comes on."""
    bench = asking_white()
    first = bench.hold()
    bench.run_to(first + 800 + 2000)
    standing(bench, Focus)
    assert bench.lights() == [(first + 2800, first + 2800)]


def test_a_warning_with_the_contact_closed_is_dropped() -> None:
    """A warning that ends while the foot of its hold is still down brings no light."""
    bench = asking_white()
    bench.hold(2790)
    bench.run(20_000)
    standing(bench, Ready)
    assert not bench.edges


def test_a_warning_that_ends_while_the_contact_is_not_yet_at_rest_is_dropped() -> None:
    """White light does not wait for the contact: 59 ms of rest at the warning's end are too few."""
    bench = asking_white()
    bench.hold(2800 - 59)
    bench.run(20_000)
    assert not bench.edges


# ---- focus light


@pytest.mark.parametrize("gesture", ["press", "hold", "double"])
def test_any_gesture_makes_focus_light_dark(gesture: str) -> None:
    """A press, a hold and a double all make focus light dark, and the guard stands again."""
    bench = FootBench()
    bench.focus()
    first = bench.now_ms
    getattr(bench, gesture)()
    standing(bench, ChangeFilter)
    assert bench.lights()[0][1] == first + 25
    bench.run(20_000)
    standing(bench, ChangeFilter)
    assert len(bench.lights()) == 1
    assert bench.state.stop_down


def test_focus_light_goes_dark_by_itself() -> None:
    """Focus light goes dark after five minutes, beaten every 5 s and ticked through its last 10 s."""
    bench = FootBench()
    bench.focus(0)
    bench.run(300_001)
    standing(bench, ChangeFilter)
    (on, off), *_ = bench.lights()
    assert off - on == 300_000
    assert bench.cues().count("beat") == 57
    assert bench.cues(off - 10_001).count("tick") == 10


# ---- open after a restart


def restarted() -> FootBench:
    bench = FootBench(sheet_plan(one_step(), one_step(2)), filter_in="")
    work = bench.state.work
    assert work is not None
    from dataclasses import replace

    from controller.pedal import settled
    from controller.standing import Given

    work = replace(work.with_given(0, Given(4_000_000_000, 4_000_000_000, 1)), open=True)
    bench.world.runner.state = settled(replace(bench.state, place=AfterRestart(), work=work))
    return bench


def test_a_press_after_a_restart_says_where_the_sheet_stands() -> None:
    """After a restart a press says the step and asks for its filter; no light comes."""
    bench = restarted()
    bench.press()
    standing(bench, ChangeFilter)
    bench.run(5000)
    assert not bench.edges


def test_a_hold_after_a_restart_asks_to_close() -> None:
    """After a restart a hold asks to close the sheet that was open."""
    bench = restarted()
    bench.hold()
    standing(bench, AskClose)
    bench.hold()
    standing(bench, ChangeFilter)
    assert not bench.state.sheet_open


def test_a_double_after_a_restart_says_again() -> None:
    """After a restart a double says again, and starts nothing."""
    bench = restarted()
    bench.double()
    bench.run(5000)
    standing(bench, ChangeFilter)
    assert not bench.edges


# ---- fault


def test_a_press_while_the_keeper_is_away_is_refused_and_nothing_restarts(bench: FootBench) -> None:
    """While the keeper is away nothing starts; when it answers nothing restarts, and the light is filed."""
    bench.light(4000)
    found = lost(bench, before_ns=20_000_000)
    bench.world.runner.take(Went(bench.now_ns, "gone"), bench.now_ns)
    standing(bench, Fault)
    bench.world.keeper.end("keeper", bench.now_ns)
    bench.world.runner.take(Came(greeting(bench), found), bench.now_ns)
    standing(bench, Held)
    step = bench.sheet.steps[0]
    assert (step.given_least_ms, step.given_most_ms) == (3980, 4000)
    bench.run(10_000)
    standing(bench, Held)
    assert len(bench.lights()) == 1


def test_a_foot_switch_held_for_ten_seconds_is_a_fault_until_it_is_released(bench: FootBench) -> None:
    """A switch that is closed for ten seconds is a fault; its release clears it, and nothing starts."""
    bench.move(True)
    bench.run(10_001)
    standing(bench, Fault)
    bench.run(20_000)
    standing(bench, Fault)
    bench.move(False)
    bench.run(61)
    standing(bench, Ready)
    bench.run(10_000)
    assert not bench.edges
