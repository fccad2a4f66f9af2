"""The room light in virtual time: who may have it, how long, and everything that takes it away."""

from __future__ import annotations

import pytest
from tools.foot_bench import MS, FootBench, flash_plan, one_step, sheet_plan

from controller.foot import acts
from controller.foot.effects import PlaceOrder
from controller.foot.places import AskWhite, Focus, HandsAsked, LeadIn, NothingChosen, Ready
from controller.foot.table import decide
from controller.store.entries import RoomLit
from controller.words import say
from hardware.practice.meter import Edge
from hardware.wire import FootDown, FootHold

DAY_MS = 900_000
MINUTES_5 = 300_000


def _bench(**more: object) -> FootBench:
    return FootBench(outlets=("room_light", "status_led"), **more)  # type: ignore[arg-type]


def _ask(bench: FootBench) -> str | None:
    bench.do(acts.PaperAway())
    return bench.do(acts.RoomLightOn())


def _on(bench: FootBench) -> bool:
    return bench.world.room.outlets["room_light"].lit


def _led(bench: FootBench) -> bool:
    return bench.world.room.outlets["status_led"].lit


def _edges(bench: FootBench) -> list[Edge]:
    return bench.world.room.outlets["room_light"].edges


def _lit_room(bench: FootBench) -> None:
    assert _ask(bench) is None
    assert _on(bench)


def test_it_stays_while_it_is_asked_for() -> None:
    """The runner renews the lease of 2 s every second, so that it stays without a gap until it is taken back."""
    bench = _bench()
    _lit_room(bench)
    bench.run(60_000)
    assert _on(bench)
    assert bench.do(acts.RoomLightOff()) is None
    assert not _on(bench)
    assert [edge.lit for edge in _edges(bench)] == [True, False]
    assert [(row.on, row.why) for row in bench.journal.of(RoomLit)] == [(True, "asked"), (False, "asked")]


def test_it_ends_with_the_day_face_though_nobody_looks() -> None:
    """It is dark the moment the day face's time is over, without a page that asks."""
    bench = _bench()
    _lit_room(bench)
    bench.run(DAY_MS - 1)
    assert _on(bench)
    bench.run(2)
    assert not _on(bench)


def test_asking_again_changes_nothing() -> None:
    """A second ask is told that there is nothing to do, and keeps the light on without a flicker."""
    bench = _bench()
    _lit_room(bench)
    bench.run(500)
    assert bench.do(acts.RoomLightOn()) == "foot.nothing-to-do"
    bench.run(5_000)
    assert [edge.lit for edge in _edges(bench)] == [True]


@pytest.mark.parametrize("foot", ["press", "hold", "double"])
def test_the_foot_takes_it_away_and_does_no_more(foot: str) -> None:
    """Any gesture takes it away at its first down; that press begins no light, and its hold asks for nothing."""
    bench = _bench()
    _lit_room(bench)
    before = bench.now_ms
    getattr(bench, foot)()
    assert _edges(bench)[-1].at_ns == bench.at(before + 25)
    bench.run(10_000)
    assert isinstance(bench.place, Ready)
    assert not bench.edges
    assert not _on(bench)


def test_the_next_press_is_a_press_again() -> None:
    """A second after the room went dark a press begins its lead-in as ever."""
    bench = _bench()
    _lit_room(bench)
    bench.press()
    bench.run(1_000)
    bench.press()
    assert isinstance(bench.place, LeadIn)


def test_the_lid_takes_it_away() -> None:
    """An opened box makes it dark at once, and it is refused until the box is shut."""
    bench = _bench(lid=True)
    bench.run(100)
    _lit_room(bench)
    bench.lid(shut=False)
    assert not _on(bench)
    assert _ask(bench) == "foot.box-open"
    bench.run(10)
    bench.lid(shut=True)
    bench.run(1000)
    _lit_room(bench)


def test_a_lead_in_or_a_question_from_the_phone_takes_it_away_first() -> None:
    """A start from the phone, and the question about focus light, each find the room dark."""
    bench = _bench(start_from_phone=True)
    _lit_room(bench)
    assert bench.do(acts.StartStep()) is None
    assert not _on(bench)
    bench.run(2_100)
    assert bench.lit
    bench = _bench(chosen=False)
    _lit_room(bench)
    assert bench.ask_focus() is None
    assert isinstance(bench.place, AskWhite)
    assert not _on(bench)


def test_paper_keeps_it_away() -> None:
    """With a sheet open it is refused, and for five minutes after the close, to the millisecond."""
    bench = _bench(plan=sheet_plan(one_step()))
    bench.light(1000)
    assert _ask(bench) == "foot.sheet-open"
    bench.press()
    bench.run(2_000)
    assert _ask(bench) == "foot.sheet-open"
    bench.hold()
    bench.hold()
    closed = bench.now_ns
    assert not bench.state.sheet_open
    assert _ask(bench) == "wiring.room-not-in-fix"
    from_ns = bench.state.room_from_ns
    assert closed - 1000 * MS <= from_ns - MINUTES_5 * MS <= closed
    bench.world.run_until(from_ns - 1)
    assert _ask(bench) == "wiring.room-not-in-fix"
    bench.world.run_until(from_ns)
    assert _ask(bench) is None
    assert _on(bench)


def test_focus_light_keeps_it_away() -> None:
    """In focus light it is refused with a sentence of its own."""
    bench = _bench(chosen=False)
    bench.focus()
    assert isinstance(bench.place, Focus)
    assert _ask(bench) == "wiring.room-focus"
    assert "press" in say("wiring.room-focus")


def test_without_the_outlet_it_is_refused() -> None:
    """Where none is fitted the sentence names the wiring file."""
    assert FootBench().do(acts.RoomLightOn()) == "wiring.room-none"
    assert "[room_light]" in say("wiring.room-none")


def test_a_lost_keeper_lets_it_go_for_good() -> None:
    """The next keeper's first act is dark, and nobody asks it for room light until a page does."""
    bench = _bench()
    _lit_room(bench)
    bench.world.lose_keeper(bench.now_ns)
    bench.run(10_000)
    assert not _on(bench)
    assert not bench.state.room_wanted
    _lit_room(bench)


# ---- the LED, and what the keeper is told of a sheet


def test_the_led_is_out_while_a_sheet_is_open() -> None:
    """It shines before the first light and after the close, and never in between."""
    bench = _bench(plan=sheet_plan(one_step()))
    assert _led(bench)
    bench.light(1000)
    assert not _led(bench)
    bench.press()
    bench.run(2_000)
    assert not _led(bench)
    bench.hold()
    bench.hold()
    assert _led(bench)


def test_a_new_keeper_is_told_of_the_open_sheet() -> None:
    """After a keeper was lost with a sheet open the LED stays out; with none open it shines again."""
    for open_ in (True, False):
        bench = _bench(plan=sheet_plan(one_step()))
        if open_:
            bench.light(1000)
            bench.press()
            bench.run(2_000)
        bench.world.lose_keeper(bench.now_ns)
        bench.run(1_000)
        assert _led(bench) is not open_


# ---- two lamps


def test_no_filter_is_ever_asked_for_with_two_lamps() -> None:
    """Unknown at the start, after focus light and between soft and hard: the printer is only told to stop down."""
    bench = FootBench(filters="lines", filter_in="")
    assert isinstance(bench.place, Ready)
    bench.give()
    assert isinstance(bench.place, Ready)
    bench.give()
    lit = [(edge.lamp, edge.lit) for edge in bench.edges]
    assert lit == [("soft", True), ("soft", False), ("hard", True), ("hard", False)]


def test_hands_are_still_asked_for_with_two_lamps() -> None:
    """A flash without the negative asks for the hands as ever, and after them no filter."""
    bench = FootBench(flash_plan(), filters="lines", filter_in="")
    assert isinstance(bench.place, HandsAsked)
    bench.press()
    bench.run(4_000)
    assert isinstance(bench.place, Ready)


def test_focus_light_says_stop_down_with_two_lamps() -> None:
    """After focus light, which the soft lamp gives, “stop down” stands until a step's light has come."""
    bench = FootBench(filters="lines")
    bench.focus()
    assert [edge.lamp for edge in bench.edges] == ["soft"]
    bench.press()
    bench.run(2_000)
    assert isinstance(bench.place, Ready)
    assert bench.state.stop_down
    bench.light(100)
    assert not bench.state.stop_down


def test_with_nothing_chosen_two_lamps_change_nothing() -> None:
    """The table's other rows stand as they are."""
    assert isinstance(FootBench(filters="lines", chosen=False).place, NothingChosen)


def test_a_question_that_is_over_is_not_answered_though_the_day_face_ended_first() -> None:
    """A runner that was busy all the while hears of the hold last: all that was due before comes before it."""
    bench = FootBench(chosen=False)
    bench.world.runner.change_habits(day_ms=500)
    assert bench.ask_focus() is None
    assert isinstance(bench.place, AskWhite)
    first_ns = bench.now_ns + 7_000 * MS
    seq = bench.state.foot.seq + 1
    state, _ = decide(bench.state, FootDown(seq, first_ns, first_ns + 25 * MS))
    assert not isinstance(state.place, AskWhite)
    state, wanted = decide(state, FootHold(seq, first_ns, first_ns + 800 * MS))
    assert isinstance(state.place, AskWhite)  # asked anew
    assert not any(isinstance(effect, PlaceOrder) for effect in wanted)
