"""The keeper's core in virtual time: what a foot does to a light, and to an order for one."""

from __future__ import annotations

import pytest
from tools.keeper_bench import MS, Bench

from hardware.wire import (
    Accepted,
    Cancelled,
    Dark,
    FootDown,
    FootHold,
    FootStuck,
    FootUp,
    Lit,
    Reason,
    Refused,
    Sounded,
    Stop,
)


def test_a_press_in_light_ends_it_after_25_ms(bench: Bench) -> None:
    """A clean press ends a light 25 ms after its first contact; the dark is said before the foot-down."""
    order = bench.order(10_000)
    bench.run(3000)
    pressed = bench.now_ns
    bench.tap(200, 100)
    assert bench.lamp.edges == [(order.start_ns, True), (pressed + 25 * MS, False)]
    told = [message for message in bench.said if not isinstance(message, Sounded)]
    assert told[2:] == [
        Dark(order.id, order.start_ns, pressed + 25 * MS, "foot"),
        FootDown(1, pressed, pressed + 25 * MS, order.id),
        FootUp(1, pressed + 200 * MS, pressed + 260 * MS),
    ]


def test_a_press_takes_a_pending_order_away(bench: Bench) -> None:
    """A press during a lead-in means that it brings no light."""
    order = bench.order(10_000)
    bench.run(1000)
    pressed = bench.now_ns
    bench.tap(200, 20_000)
    assert bench.all(Cancelled) == [Cancelled(order.id, "foot", pressed + 25 * MS)]
    assert bench.all(FootDown) == [FootDown(1, pressed, pressed + 25 * MS, "")]
    assert not bench.lamp.edges


@pytest.mark.parametrize("before_ms", [0.1, 10, 24, 25, 40])
def test_a_press_that_begins_just_before_the_light_brings_none(bench: Bench, before_ms: float) -> None:
    """A press whose first contact lies just before the start, not known as a press yet, brings no light either."""
    bench.order(1000)
    bench.run(2000 - before_ms)
    bench.tap(200, 20_000)
    assert bench.last(Cancelled).why == "foot"
    assert not bench.lamp.edges


def test_a_glitch_makes_the_light_wait_until_it_is_at_rest(bench: Bench) -> None:
    """A glitch shorter than a press delays a light until the contact has been open for 60 ms, and no more."""
    order = bench.order(1000)
    bench.run(1999)
    bench.tap(10, 5000)
    assert not bench.all(FootDown)
    assert bench.lamp.edges[0] == (order.start_ns + 69 * MS, True)


def test_a_light_waits_100_ms_at_most(bench: Bench) -> None:
    """A contact that does not come to rest within 100 ms of the start brings no light."""
    order = bench.order(1000)
    bench.run(1990)
    bench.tap(20, 30, 20, 20_000)  # at rest 30 ms too late; 40 of 70 ms closed, never 25 of 60 before the last
    assert not bench.lamp.edges
    assert bench.last(Cancelled).id == order.id


def test_a_contact_that_stays_wet_brings_no_light(bench: Bench) -> None:
    """A contact that glitches on and on, too little for a press, cancels the light after 100 ms with why "rest"."""
    order = bench.order(1000)
    bench.run(1975)
    for _ in range(20):
        bench.tap(10, 40)
    assert not bench.all(FootDown)
    assert bench.all(Cancelled) == [Cancelled(order.id, "rest", order.start_ns + 100 * MS)]


def test_a_white_light_warning_does_not_wait(bench: Bench) -> None:
    """Focus light is dropped, not delayed, where the contact is not at rest when its warning ends."""
    order = bench.order(1000, kind="focus")
    bench.run(1950)
    bench.tap(5, 5000)
    assert bench.all(Cancelled) == [Cancelled(order.id, "rest", order.start_ns)]
    bench.order(1000, kind="focus")
    bench.run(1930)
    bench.tap(5, 5000)  # at rest 5 ms before the start
    assert len(bench.all(Lit)) == 1


def test_no_light_within_1200_ms_of_a_first_contact(bench: Bench) -> None:
    """An order that would light sooner than 1.2 s after the latest first contact is refused."""
    first = bench.now_ns
    bench.tap(100, 100)
    bench.order(in_ms=999.999)
    assert bench.last(Refused).reason == Reason.CONTACT
    bench.order(in_ms=1000)
    bench.run(3000)
    assert bench.lamp.edges[0][0] == first + 1200 * MS


def test_an_order_that_cannot_come_to_rest_in_time_is_refused(bench: Bench) -> None:
    """With the contact closed, a light that is due before it can be at rest is refused at once."""
    bench.tap(2100)
    bench.order(in_ms=-0.0)
    assert bench.last(Accepted)  # it may open now, and be at rest within the 100 ms
    bench.run(1000)
    assert bench.last(Cancelled).why == "rest"
    bench.order(in_ms=59, kind="focus")
    assert bench.last(Refused).reason == Reason.NOT_AT_REST


def test_a_press_that_became_a_hold_brings_no_light(bench: Bench) -> None:
    """A hold takes back the light that its own foot-down began, whenever its order comes; a later start is free."""
    first = bench.now_ns
    bench.tap(30)
    bench.order(in_ms=1970)
    bench.run(770)
    assert bench.last(Cancelled).why == "foot"
    assert bench.now_ns == first + 800 * MS
    bench.order(in_ms=1200)  # 2.0 s after the first contact, decided on before the hold was heard of
    assert bench.last(Refused).reason == Reason.FOOT
    bench.tap(0)
    bench.move(False)
    bench.run(100)
    bench.order(in_ms=2000)
    bench.run(2000)
    assert bench.lamp.lit


def test_the_normal_press_orders_its_light_with_the_foot_still_down(bench: Bench) -> None:
    """A press is ordered while the contact is closed; the light comes if the foot is off in time."""
    first = bench.now_ns
    bench.tap(30)
    bench.order(1000, in_ms=1970)
    bench.run(270)
    bench.move(False)
    bench.run(5000)
    assert bench.lamp.edges == [(first + 2000 * MS, True), (first + 3000 * MS, False)]


def test_an_order_behind_a_press_or_a_stop_is_refused(bench: Bench) -> None:
    """An order that does not know of the latest press or stop is refused."""
    bench.tap(100, 100)
    bench.order(foot_seq=0)
    assert bench.last(Refused).reason == Reason.FOOT
    bench.tell(Stop())
    bench.order(foot_seq=1)
    assert bench.last(Refused).reason == Reason.FOOT
    bench.order(foot_seq=2)
    assert bench.last(Accepted)


def test_an_order_that_comes_with_a_press_is_behind_it(bench: Bench) -> None:
    """An order and a press that the keeper finds at one waking: the press counts first."""
    bench.move(True)
    bench.clock.set(bench.now_ns + 30 * MS)
    bench.order(foot_seq=0)
    assert bench.last(Refused).reason == Reason.FOOT


def test_holds_and_releases_carry_the_number_of_their_press(bench: Bench) -> None:
    """Down, hold and up of one press have one number; the next press the next."""
    bench.tap(1000, 500, 900, 500)
    told = [type(message).__name__ for message in bench.said]
    assert told == ["FootDown", "FootHold", "FootUp"] * 2
    assert [message.seq for message in bench.said] == [1, 1, 1, 2, 2, 2]  # type: ignore[union-attr]
    assert bench.all(FootHold)[0].at_ns - bench.all(FootHold)[0].first_ns == 800 * MS


def test_a_stuck_switch_lets_nothing_start_until_it_is_released(bench: Bench) -> None:
    """After ten seconds closed the keeper is in fault; the release ends it, and starts nothing."""
    bench.tap(9000)
    bench.order(1000, in_ms=6000)
    bench.run(1000)
    assert bench.all(FootStuck)
    assert bench.last(Cancelled).why == "fault"
    bench.order(1000)
    assert bench.last(Refused).reason == Reason.FAULT
    bench.move(False)
    bench.run(10_000)
    assert not bench.lamp.edges
    bench.order(1000)
    bench.run(2000)
    assert bench.lamp.lit


def test_the_level_is_a_second_path_beside_the_edges(bench: Bench) -> None:
    """Where edges are lost, the level that is looked at still ends the light."""
    bench.order(60_000)
    bench.run(3000)
    bench.foot.deaf = True
    bench.foot.move(True)
    pressed = bench.now_ns
    for _ in range(4):
        bench.run(10)
        bench.keeper.poll(bench.now_ns)
    bench.run(10)
    assert bench.last(FootDown).first_ns == pressed + 10 * MS
    assert not bench.lamp.lit
