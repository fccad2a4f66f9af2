"""Every cell of the foot-switch table, played through a darkroom in virtual time: where a sheet waits."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench, flash_plan, greeting, one_step, sheet_plan, standing

from controller.foot.events import KeeperCame, KeeperWent
from controller.foot.places import AskClose, AskGiven, AskWhite, ChangeFilter, HandsAsked, Held, LeadIn, Ready, Settling


@pytest.fixture
def bench() -> FootBench:
    return FootBench()


@pytest.fixture
def unknown() -> FootBench:
    return FootBench(filter_in="")


@pytest.fixture
def flash() -> FootBench:
    return FootBench(flash_plan())


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
    """A double when held takes its first press's lead-in back, and says the seconds that are left: 6.0 of 10.0."""
    bench.hold_step(4000)
    bench.double()
    standing(bench, Held)
    bench.run(10_000)
    assert len(bench.lights()) == 1
    assert bench.cues()[-3:] == ["lead-in", "stopped", "stopped"]
    assert [cue.count for cue in bench.world.cues][-3:] == [0, 0, 6]


def test_held_never_expires(bench: FootBench) -> None:
    """A held step waits for as long as it likes."""
    bench.hold_step(4000)
    bench.run(3_600_000)
    standing(bench, Held)


# ---- change filter


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
    bench.world.runner.take(KeeperWent(bench.now_ns, "gone"), bench.now_ns)
    bench.world.runner.state = bench.state  # the keeper comes back, and the filter has to be said once more
    bench.world.runner.take(KeeperCame(greeting(bench)), bench.now_ns)
    standing(bench, Held)
