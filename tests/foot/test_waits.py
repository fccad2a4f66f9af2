"""Waits in the dark before a step's light: begun by a press, ended by a cue, and no light of any kind in them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic import ValidationError
from tools.foot_bench import MS, FootBench, greeting, one_step, sheet_plan, standing, waits_plan
from tools.laws import History, no_light_comes_before_its_waits_are_over

from controller.daemon.recovery import reopen
from controller.foot.events import KeeperCame, KeeperWent
from controller.foot.places import AskClose, HandsAsked, LeadIn, Ready, Waiting
from controller.foot.table import TABLE, Rule
from controller.foot.waits import headline, safelight_dark
from controller.recipe.plan import Wait
from controller.trials.safelight import sheet_plan as sheet_plan_of


@pytest.fixture
def bench() -> FootBench:
    """A sheet whose first grey is given; its waits are 4 s and 2 s."""
    made = FootBench(waits_plan())
    made.give()
    return made


def test_a_press_begins_each_wait_and_a_cue_ends_it(bench: FootBench) -> None:
    """First the card, then 4 s from the press on; the card again, 2 s; then the light is as any other."""
    standing(bench, HandsAsked)
    pressed = bench.press()
    standing(bench, Waiting)
    bench.run_to(pressed + 3999)
    standing(bench, Waiting)
    bench.run_to(pressed + 4001)
    standing(bench, HandsAsked)
    assert bench.cues()[-1] == "move card"
    again = bench.press()
    bench.run_to(again + 2001)
    standing(bench, Ready)
    assert bench.cues()[-1] == "done"
    bench.press()
    bench.run(5000)
    assert len(bench.lights()) == 2
    assert [wait.wait for wait in bench.sheet.steps[1].waits] == [1, 2]
    assert [wait.ms for wait in bench.sheet.steps[1].waits] == [4000, 2000]


def test_a_wait_is_as_long_as_asked_from_its_press(bench: FootBench) -> None:
    """To the moment, however late anybody looks: its row says when it was over."""
    pressed = bench.press()
    bench.run(10_000)
    (row,) = bench.sheet.steps[1].waits
    assert row.until_ns == bench.at(pressed + 4000)


def test_another_press_shortens_nothing(bench: FootBench) -> None:
    """It says “wait”; no light comes, and the wait is over when it would have been."""
    pressed = bench.press()
    bench.run(1500)
    bench.press()
    assert bench.cues()[-1] == "wait"
    standing(bench, Waiting)
    bench.run_to(pressed + 4001)
    standing(bench, HandsAsked)
    assert len(bench.lights()) == 1


def test_a_press_that_began_the_light_would_break_a_law(bench: FootBench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The law of random evenings sees it: chance presses in a wait are too seldom to show that there."""
    begins = Rule("", lambda turn, at_ns: turn.begin_light(at_ns))
    monkeypatch.setitem(TABLE, (Waiting, "press"), begins)
    bench.press()
    bench.run(1500)
    bench.press()
    bench.run(6000)
    history = History(1, bench.state.habits, False)
    monkeypatch.setattr(History, "sheets", property(lambda _: bench.sheets()))
    assert any("before its waits were over" in found for found in no_light_comes_before_its_waits_are_over(history))


def test_a_double_takes_the_beginning_back(bench: FootBench) -> None:
    """Within 0.35 s; later it says which wait this is."""
    bench.double()
    standing(bench, HandsAsked)
    bench.run(6000)
    assert bench.state.loaded.wait == bench.plan.steps[1].waits[0]
    bench.press()
    bench.run(1000)
    bench.double()
    standing(bench, Waiting)


def test_a_hold_asks_to_close_and_the_wait_goes_on(bench: FootBench) -> None:
    """Answered no, the wait is where it was; answered yes, the sheet is spoiled, and the next begins with its light."""
    pressed = bench.press()
    bench.run(1000)
    bench.hold()
    standing(bench, AskClose)
    bench.press()
    bench.run_to(pressed + 4001)
    standing(bench, HandsAsked)
    bench.press()
    bench.run(500)
    bench.hold()
    bench.hold()
    assert bench.sheet.outcome == "spoiled"
    assert bench.state.loaded.waited == 0


def test_a_hold_of_the_press_that_began_it_takes_it_back(bench: FootBench) -> None:
    """Held on, the foot asks to close: from where the card is asked for."""
    bench.hold()
    standing(bench, AskClose)
    bench.run(6000)
    standing(bench, HandsAsked)
    assert bench.state.loaded.waited == 0


def test_there_is_no_white_light_in_a_wait(bench: FootBench) -> None:
    """The sheet is open: neither foot nor page brings any."""
    bench.press()
    assert bench.ask_focus() is not None
    assert bench.state.sheet_open
    bench.run(20_000)
    assert len(bench.lights()) == 1


def test_no_sheet_begins_with_a_wait() -> None:
    """With none open two holds would light the room beside the paper: such a plan is refused."""
    wait = Wait(ms=4000, card="trials.card-first", glow="safelight")
    with pytest.raises(ValidationError):
        sheet_plan(one_step(1, 1500, waits=(wait,)))


def test_the_safelight_is_dark_but_in_a_wait_under_it(bench: FootBench) -> None:
    """From the first light on, between the waits too; beside a phone in them as well; then until the sheet is fixed."""
    assert safelight_dark(bench.state, dark=True)
    bench.press()
    assert not safelight_dark(bench.state, dark=True)
    bench.run(500)
    bench.hold()
    standing(bench, AskClose)
    assert not safelight_dark(bench.state, dark=True)
    bench.hold()
    assert safelight_dark(bench.state, dark=True) == (bench.state.white_from_ns > 0)
    closed = replace(bench.state, work=None, white_from_ns=bench.now_ns + 1)
    assert safelight_dark(closed, dark=True)
    assert not safelight_dark(closed, dark=False)
    assert not safelight_dark(replace(closed, white_from_ns=0), dark=True)
    phone = FootBench(waits_plan(glow="phone"))
    assert not safelight_dark(phone.state, dark=False)
    phone.give()
    phone.press()
    standing(phone, Waiting)
    assert safelight_dark(phone.state, dark=False)
    whole = FootBench(sheet_plan_of("phone", "soft", 1500, 1))
    assert not safelight_dark(whole.state, dark=False)
    while not isinstance(whole.place, Ready):  # “the negative is out”, and whatever else is asked
        whole.press()
        whole.run(4000)
    assert not whole.state.sheet_open
    assert safelight_dark(whole.state, dark=False)
    other = FootBench()
    other.give()
    assert not safelight_dark(other.state, dark=True)


def test_the_page_says_what_is_waited_for(bench: FootBench) -> None:
    """Where the card goes, then that it is waited; at the light the usual words stand."""
    assert headline(bench.place, bench.state.work)
    bench.press()
    assert "Waiting" in headline(bench.place, bench.state.work)
    assert "move the card" in headline(bench.place, bench.state.work)
    bench.run(5000)
    bench.press()
    assert "light off" in headline(bench.place, bench.state.work)
    bench.run(3000)
    bench.press()
    standing(bench, LeadIn)
    assert not headline(bench.place, bench.state.work)


def test_a_lost_keeper_leaves_the_waits_that_are_over(bench: FootBench) -> None:
    """The one that ran is waited for anew: its card may have been moved meanwhile."""
    bench.press()
    bench.run(4500)
    bench.press()
    bench.run(500)
    bench.ask(KeeperWent(bench.now_ns, "died"))
    bench.ask(KeeperCame(greeting(bench), None))
    standing(bench, HandsAsked)
    assert bench.state.loaded.waited == 1


def test_after_a_restart_the_waits_that_are_over_count(bench: FootBench) -> None:
    """The record knows them, and the sheet stands before the next."""
    bench.press()
    bench.run(5000)
    found = reopen(bench.sheet, 0, "boot")
    assert found.work.index == 1
    assert found.work.waited == 1


def test_the_keeper_switches_the_safelight_where_its_outlet_is_fitted() -> None:
    """Dark from the first light on, light from a wait's press to its end; dark for the second grey, then light."""
    bench = FootBench(waits_plan(), outlets=("safelight",))
    outlet = bench.world.room.outlets["safelight"]
    assert not outlet.lit
    bench.give()
    assert outlet.lit
    first = bench.press()
    bench.run(5000)
    assert outlet.lit
    second = bench.press()
    bench.run(5000)
    bench.press()
    bench.run(5000)
    assert outlet.lit
    bench.hold()
    assert not bench.state.sheet_open
    on = [edge.at_ns for edge in outlet.edges if not edge.lit]
    off = [edge.at_ns for edge in outlet.edges if edge.lit]
    # known to be down within 25 ms of its first contact
    assert all(0 <= at - bench.at(pressed) <= 30 * MS for at, pressed in zip(on, (first, second), strict=False))
    assert off[1:3] == [bench.at(first + 4000), bench.at(second + 2000)]
    assert outlet.lit == (bench.state.white_from_ns > 0)
