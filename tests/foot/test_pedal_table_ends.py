"""Every cell of the foot-switch table, played through in virtual time: the end, questions, white light, faults."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench, greeting, lost, one_step, sheet_plan, standing

from controller.foot.events import KeeperCame, KeeperWent
from controller.foot.places import (
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Focus,
    Held,
    Ready,
    WhiteWarning,
)


@pytest.fixture
def bench() -> FootBench:
    return FootBench()


@pytest.fixture
def finished() -> FootBench:
    bench = FootBench(sheet_plan(one_step(1, 3000)))
    bench.give()
    standing(bench, Finished)
    return bench


# ---- finished


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

    from controller.foot.state import Given
    from controller.foot.table import settled

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
    bench.world.runner.take(KeeperWent(bench.now_ns, "gone"), bench.now_ns)
    standing(bench, Fault)
    bench.world.keeper.end("keeper", bench.now_ns)
    bench.world.runner.take(KeeperCame(greeting(bench), found), bench.now_ns)
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
