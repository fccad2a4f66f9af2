"""The keeper's core, one law at a time, in virtual time."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from keeper_bench import BOOT, MS, Bench, Lamp

from hardware.keeper import Keeper
from hardware.sounds import Cue, notes
from hardware.timing import Timing
from hardware.wire import (
    Accepted,
    Cancel,
    Cancelled,
    Dark,
    FootDown,
    FootHold,
    FootStuck,
    FootUp,
    Greeting,
    Lease,
    Lid,
    Lit,
    Reason,
    Refused,
    Sound,
    Sounded,
    Stop,
    Stopped,
    Trouble,
    What,
    decode,
)

ROOT = Path(__file__).parents[2]


@pytest.fixture
def bench() -> Bench:
    return Bench()


def focus_lit(bench: Bench, lit_ms: int = 60_000) -> None:
    bench.order(lit_ms, kind="focus")
    bench.run(2000)
    assert bench.lamp.lit


# ---- the house


def test_the_keeper_is_short_enough_to_read() -> None:
    """The keeper's core is at most 350 lines."""
    assert len((ROOT / "hardware/keeper.py").read_text().splitlines()) <= 350


def test_the_keeper_imports_nothing_heavy() -> None:
    """The keeper's process imports neither the models' library nor the page's server, nor any other room."""
    listing = "import hardware.keeping, sys; print('\\n'.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", listing], cwd=ROOT, check=True, capture_output=True, text=True, timeout=30
    )
    loaded = {module.partition(".")[0] for module in done.stdout.split()}
    assert "hardware" in loaded
    assert not loaded & {"pydantic", "flask", "waitress", "apscheduler", "controller", "webui", "numpy", "gpiozero"}


# ---- greeting


def test_its_first_act_is_dark() -> None:
    """A lamp line that somebody left lit is dark before the keeper says a word."""
    bench = Bench()
    left = Lamp(bench.clock)
    left.lit = True
    lines = replace(bench.keeper._lines, lamps={"lamp": left})
    Keeper(lines, Timing(), None, lambda _: pytest.fail("spoke too soon"), BOOT, 1, now_ns=bench.now_ns)
    assert left.edges == [(bench.now_ns, False)]


def test_the_greeting_says_who_it_is() -> None:
    """The greeting carries protocol, lamps, features, limits and whether the foot is off."""
    bench = Bench(lamps=("soft", "hard"), lid=True, timing=Timing(longest_light_ms=30_000))
    bench.keeper.greet(bench.now_ns, scheduling="fifo", locked=True)
    greeting = bench.last(Greeting)
    assert greeting.lamps == ("soft", "hard")
    assert greeting.features == ("sounder", "lid")
    assert (greeting.scheduling, greeting.locked, greeting.practice, greeting.at_rest) == ("fifo", True, True, True)
    assert (greeting.boot, greeting.pid, greeting.at_ns) == (BOOT, 4711, bench.now_ns)
    assert Timing(**json.loads(greeting.timing)) == bench.timing
    assert bench.said[1:] == [Lid(False, bench.now_ns)]


def test_a_contact_closed_at_the_start_is_no_press() -> None:
    """A contact that is closed when the keeper starts brings no foot-down; its release is told."""
    bench = Bench(foot_closed=True)
    bench.keeper.greet(bench.now_ns)
    assert not bench.last(Greeting).at_rest
    bench.run(500)
    assert not bench.all(FootDown)
    bench.move(False)
    bench.run(100)
    assert bench.all(FootUp)
    bench.tap(100, 0)
    assert [down.seq for down in bench.all(FootDown)] == [1]


# ---- a light by plan


def test_a_light_is_as_long_as_ordered(bench: Bench) -> None:
    """A step comes on at its start, lasts its order to the nanosecond, and each is said after the line was set."""
    order = bench.order(10_100)
    start = order.start_ns
    bench.run(20_000)
    assert bench.lamp.edges == [(start, True), (start + 10_100 * MS, False)]
    told = [message for message in bench.said if not isinstance(message, Sounded)]
    assert told == [
        Accepted(order.id),
        Lit(order.id, start),
        Dark(order.id, start, start + 10_100 * MS, "complete"),
    ]


@pytest.mark.parametrize(("kind", "why"), [("step", "complete"), ("check", "complete"), ("focus", "limit")])
def test_why_a_light_ended_by_itself(bench: Bench, kind: str, why: str) -> None:
    """A step and a check light that reach their length are complete; focus light has reached its limit."""
    bench.order(1500, kind=kind)
    bench.run(5000)
    assert bench.last(Dark).why == why


def test_the_planned_length_counts_from_the_light_that_came_on(bench: Bench) -> None:
    """A light that waited for the contact, or that a slow machine lit late, still gets its whole length."""
    order = bench.order(1000)
    bench.run(1960)
    bench.tap(10, 5000)  # a glitch: at rest again 30 ms after the start
    assert bench.last(Lit).at_ns == order.start_ns + 30 * MS
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 1000 * MS
    late = bench.order(1000)
    bench.clock.set(late.start_ns + 7 * MS)
    bench.run(5000)
    assert bench.last(Lit).at_ns == late.start_ns + 7 * MS
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 1000 * MS


# ---- refusals


def refusal(bench: Bench) -> str:
    assert not bench.all(Accepted)
    (refused,) = bench.all(Refused)
    bench.run(20_000)
    assert not any(lamp.edges for lamp in bench.lamps.values())
    return refused.reason


@pytest.mark.parametrize(
    ("wish", "reason"),
    [
        ({"foot_seq": -1}, Reason.FOOT),
        ({"foot_seq": 1}, Reason.FOOT),
        ({"in_ms": -0.001}, Reason.PAST),
        ({"in_ms": 6000.001}, Reason.FAR),
        ({"lit_ms": 600_001}, Reason.LONG),
        ({"lit_ms": 300_001, "kind": "focus"}, Reason.LONG),
        ({"lit_ms": 0}, Reason.SHORT),
        ({"lit_ms": -5}, Reason.SHORT),
        ({"lamp": "heat"}, Reason.LAMP),
        ({"kind": "disco"}, Reason.KIND),
    ],
)
def test_an_order_that_breaks_a_limit_is_refused(bench: Bench, wish: dict[str, object], reason: str) -> None:
    """The keeper itself refuses an order outside its limits, with the reason, and no light comes."""
    bench.order(**wish)  # type: ignore[arg-type]
    assert refusal(bench) == reason


@pytest.mark.parametrize(
    "wish",
    [{"in_ms": 0}, {"in_ms": 6000}, {"lit_ms": 600_000}, {"lit_ms": 300_000, "kind": "focus"}, {"lit_ms": 1}],
)
def test_an_order_on_the_limit_is_taken(bench: Bench, wish: dict[str, object]) -> None:
    """An order that just keeps a limit is taken: a limit is not a wish."""
    bench.order(**wish)  # type: ignore[arg-type]
    assert bench.all(Accepted)
    assert not bench.all(Refused)


@pytest.mark.parametrize("spent", ["pending", "lit", "done", "refused", "cancelled"])
def test_an_id_brings_one_light_at_most(bench: Bench, spent: str) -> None:
    """An order whose id was heard before is refused, whatever became of that one."""
    bench.order(500, id_="twin", lamp="heat" if spent == "refused" else "")
    bench.run({"pending": 100, "lit": 2100}.get(spent, 100))
    if spent == "cancelled":
        bench.tell(Cancel("twin"))
    if spent in {"done", "refused"}:
        bench.run(5000)
    before = len(bench.lamp.edges)
    bench.order(500, id_="twin")
    assert bench.last(Refused).reason == Reason.SEEN
    bench.run(10_000)
    assert len(bench.lamp.edges) - before == {"pending": 2, "lit": 1}.get(spent, 0)


def test_ten_thousand_ids_are_remembered() -> None:
    """An id is known again after ten thousand others."""
    bench = Bench()
    bench.order(id_="first", lamp="heat")
    for _ in range(10_000):
        bench.order(lamp="heat")
    bench.order(id_="first")
    assert bench.last(Refused).reason == Reason.SEEN


@pytest.mark.parametrize("when_ms", [0, 1999, 2000, 2500])
def test_one_order_stands_at_a_time(when_ms: float) -> None:
    """While an order is pending or lit any other is refused, for whichever lamp line."""
    bench = Bench(lamps=("soft", "hard"))
    bench.order(1000)
    bench.run(when_ms)
    bench.order(lamp="hard")
    assert bench.last(Refused).reason == Reason.BUSY
    bench.run(10_000)
    assert len(bench.lamp.edges) == 2
    assert not bench.lamps["hard"].edges


def test_there_is_dark_between_two_lamp_lines() -> None:
    """Another lamp line comes on 50 ms after the last one went dark, not sooner; the same one may."""
    bench = Bench(lamps=("soft", "hard"))
    bench.order(1000)
    bench.run(3000)
    bench.order(in_ms=49.999, lamp="hard")
    assert bench.last(Refused).reason == Reason.BUSY
    bench.order(in_ms=50, lamp="hard")
    bench.run(2000)
    assert bench.lamps["hard"].edges[0][0] - bench.lamp.edges[-1][0] == 50 * MS


# ---- the foot


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


# ---- stops, cancels, leases


@pytest.mark.parametrize("why", ["page", "fault"])
def test_a_stop_is_dark_at_once(bench: Bench, why: str) -> None:
    """A stop ends the light at once, takes a number, and the dark is said before it."""
    order = bench.order(10_000)
    bench.run(2500)
    bench.tell(Stop(why))
    assert bench.lamp.edges[-1] == (bench.now_ns, False)
    told = [message for message in bench.said if not isinstance(message, Sounded)]
    assert told[2:] == [
        Dark(order.id, order.start_ns, bench.now_ns, why),
        Stopped(1, bench.now_ns, why),
    ]


def test_a_stop_takes_a_pending_order_away(bench: Bench) -> None:
    """A stop in a lead-in means that it brings no light, even at the moment the light is due."""
    bench.order(1000)
    bench.clock.set(bench.now_ns + 2000 * MS)
    bench.tell(Stop())
    bench.run(5000)
    assert bench.last(Cancelled).why == "page"
    assert not bench.lamp.edges


def test_a_cancel_takes_only_its_own_pending_order_away(bench: Bench) -> None:
    """A cancel never touches another order, nor light that is on."""
    order = bench.order(1000)
    bench.tell(Cancel("another"))
    bench.run(2500)
    bench.tell(Cancel(order.id))
    bench.run(2000)
    assert bench.last(Dark).why == "complete"
    second = bench.order(1000)
    bench.tell(Cancel(second.id))
    bench.run(5000)
    assert bench.last(Cancelled).why == "cancel"
    assert len(bench.lamp.edges) == 2


def test_focus_light_goes_dark_without_its_lease(bench: Bench) -> None:
    """Focus light that nobody renews is dark two seconds after it came on."""
    focus_lit(bench)
    bench.run(5000)
    on, off = bench.lamp.edges
    assert off[0] - on[0] == 2000 * MS
    assert bench.last(Dark).why == "lease"


def test_focus_light_stays_while_it_is_renewed_and_no_longer_than_its_limit(bench: Bench) -> None:
    """Each lease is good for two seconds from its own moment, and none goes past the limit."""
    focus_lit(bench, lit_ms=7000)
    order_id = bench.last(Lit).id
    for _ in range(3):
        bench.run(1900)
        bench.tell(Lease(order_id))
    bench.run(5000)
    assert bench.last(Dark).why == "limit"
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 7000 * MS


def test_a_lease_for_another_light_or_too_late_renews_nothing(bench: Bench) -> None:
    """Only its own light's lease counts, and only before it has run out."""
    focus_lit(bench)
    bench.run(1000)
    bench.tell(Lease("another"))
    bench.clock.set(bench.now_ns + 1000 * MS)  # both due at one moment: the lease has run out
    bench.tell(Lease(bench.last(Lit).id))
    assert bench.last(Dark).why == "lease"
    assert not bench.lamp.lit


def test_a_step_needs_no_lease(bench: Bench) -> None:
    """A timed step ends on time whatever the daemon does."""
    bench.order(600_000)
    bench.run(700_000)
    assert bench.last(Dark).why == "complete"


# ---- the lid


def test_an_open_lid_refuses_and_takes_orders_away() -> None:
    """With the box open nothing is taken, and opening it takes a pending order away."""
    bench = Bench(lid=True)
    bench.move_lid(shut=False)
    for kind in ("step", "focus", "check"):
        bench.order(kind=kind)
        assert bench.last(Refused).reason == Reason.LID
    bench.move_lid(shut=True)
    bench.run(100)
    bench.order()
    bench.run(1000)
    bench.move_lid(shut=False)
    bench.run(5000)
    assert bench.last(Cancelled).why == "lid"
    assert not bench.lamp.edges
    assert [lid.open for lid in bench.all(Lid)] == [True, False, True]


def test_opening_the_lid_ends_focus_light_at_once() -> None:
    """Focus light is dark as soon as the box is opened, however short; a lit step goes on."""
    bench = Bench(lid=True)
    focus_lit(bench)
    assert bench.lid is not None
    bench.lid.move(False)
    bench.lid.move(True)
    bench.keeper.poll(bench.now_ns)
    assert bench.last(Dark).why == "lid"
    assert bench.last(Lid).open
    bench.run(60)
    assert not bench.last(Lid).open
    bench.order(5000)
    bench.run(3000)
    bench.move_lid(shut=False)
    bench.run(10_000)
    assert bench.last(Dark).why == "complete"


def test_a_lid_that_bounces_shut_counts_when_it_has_been_shut_for_60_ms() -> None:
    """A lid is open from its first opening edge until it has been shut for 60 ms on end."""
    bench = Bench(lid=True)
    bench.move_lid(shut=False)
    bench.move_lid(shut=True)
    bench.run(50)
    bench.move_lid(shut=False)
    bench.move_lid(shut=True)
    bench.run(59)
    assert [lid.open for lid in bench.all(Lid)] == [True]
    bench.run(1)
    assert [lid.open for lid in bench.all(Lid)] == [True, False]


def test_steps_may_be_allowed_with_the_lid_open() -> None:
    """Where it was started so, steps are taken with the box open; focus light never."""
    bench = Bench(lid=True, steps_with_lid_open=True)
    bench.move_lid(shut=False)
    bench.order(kind="focus")
    assert bench.last(Refused).reason == Reason.LID
    bench.order(1000)
    bench.run(5000)
    assert bench.last(Dark).why == "complete"


# ---- sounds


def played(bench: Bench) -> list[tuple[str, int]]:
    return [(sounded.cue, sounded.count) for sounded in bench.all(Sounded)]


def test_beats_sound_at_their_times(bench: Bench) -> None:
    """Beats before the light count from its start, those in it from the light that really came on."""
    order = bench.order(3000, cues=[(-1000, "tick"), (-500, "tick"), (0, "hands"), (1000, "tick"), (4000, "tick")])
    bench.run(1965)
    bench.tap(5, 10_000)  # the light comes 30 ms late
    on = order.start_ns + 30 * MS
    expected = [
        (order.start_ns - 1000 * MS, "tick"),
        (order.start_ns - 500 * MS, "tick"),
        (on, "hands"),
        (on + 1000 * MS, "tick"),
        (on + 3000 * MS, "done"),
    ]
    assert [(sounded.at_ns, sounded.cue) for sounded in bench.all(Sounded)] == expected
    assert bench.sounder is not None
    assert bench.sounder.played == [notes(Cue(cue)) for _, cue in expected]


def test_beats_end_with_their_order(bench: Bench) -> None:
    """A cancelled order's beats are silent, and a light that is stopped ticks no more."""
    beats = [(-500, "tick"), (500, "tick"), (2500, "tick")]
    bench.order(5000, cues=beats)
    bench.run(1000)
    bench.tap(100, 5000)
    assert played(bench) == []
    bench.order(5000, cues=beats)
    bench.run(3000)
    bench.tap(100, 5000)
    assert played(bench) == [("tick", 0), ("tick", 0), ("stopped", 0)]


def test_beats_that_are_past_are_not_caught_up_with(bench: Bench) -> None:
    """A beat whose time has gone by is left out: better none than a wrong one."""
    bench.order(1000, in_ms=300, cues=[(-1000, "tick"), (-100, "tick")])
    bench.run(299)
    assert played(bench) == [("tick", 0)]


@pytest.mark.parametrize(
    ("kind", "end", "cue"),
    [
        ("step", "plan", "done"),
        ("step", "foot", "stopped"),
        ("step", "page", "stopped"),
        ("focus", "plan", "guard on"),
        ("focus", "foot", "guard on"),
        ("focus", "page", "guard on"),
        ("check", "plan", None),
    ],
)
def test_every_dark_has_its_sound(bench: Bench, kind: str, end: str, cue: str | None) -> None:
    """A step done and a step stopped sound differently, and focus light always says that the guard is on."""
    bench.order(1500, kind=kind)
    bench.run(3000)
    if end == "foot":
        bench.tap(50, 0)
    elif end == "page":
        bench.tell(Stop())
    bench.run(1000)
    assert played(bench) == ([] if cue is None else [(cue, 0)])


def test_the_daemon_may_have_a_cue_sounded(bench: Bench) -> None:
    """A cue that is asked for is sounded at once, with its count, and said to be."""
    bench.tell(Sound("number", 7))
    assert bench.said == [Sounded("number", 7, bench.now_ns)]
    assert bench.sounder is not None
    assert bench.sounder.played == [notes(Cue.NUMBER, 7)]


def test_without_a_sounder_there_is_no_focus_light() -> None:
    """No working sounder: focus light is refused, steps are not, and nothing claims to have sounded."""
    bench = Bench(sounder=False)
    bench.order(kind="focus")
    assert bench.last(Refused).reason == Reason.SILENT
    bench.order(1000)
    bench.run(5000)
    assert bench.last(Dark).why == "complete"
    assert not bench.all(Sounded)


def test_a_sounder_that_fails_ends_focus_light(bench: Bench) -> None:
    """A sounder that fails is said so once, ends focus light and keeps it away, and never ends a step."""
    assert bench.sounder is not None
    bench.order(10_000, cues=[(500, "tick"), (600, "tick")])
    bench.run(2100)
    bench.sounder.broken = True
    bench.run(1000)
    assert bench.all(Trouble) == [Trouble(What.SOUNDER, bench.last(Lit).at_ns + 500 * MS)]
    assert bench.lamp.lit
    other = Bench()
    focus_lit(other)
    assert other.sounder is not None
    other.sounder.broken = True
    other.tell(Sound("beat"))
    assert not other.lamp.lit
    assert other.last(Dark).why == "fault"
    other.order(kind="focus")
    assert other.last(Refused).reason == Reason.SILENT


# ---- doubt


def test_an_unreadable_message_is_dark(bench: Bench) -> None:
    """After a line that is no message there is no light and no order, and orders that do not know it are refused."""
    bench.order(10_000)
    bench.run(2500)
    bench.keeper.unreadable(bench.now_ns)
    assert not bench.lamp.lit
    assert bench.last(Dark).why == "fault"
    assert bench.last(Trouble).what == What.UNREADABLE
    bench.order(foot_seq=0)
    assert bench.last(Refused).reason == Reason.FOOT
    bench.order()
    bench.tell(Lit("a", 1))  # type: ignore[arg-type]
    assert bench.last(Cancelled).why == "fault"
    assert len(bench.all(Trouble)) == 2


def test_a_keeper_that_slept_through_a_start_gives_no_late_light(bench: Bench) -> None:
    """An order whose start is more than 100 ms past when the keeper gets to it is cancelled: late light is no light."""
    bench.order(1000)
    bench.sleep(2100.001)
    assert bench.last(Cancelled).why == "fault"
    assert not bench.lamp.edges


def test_a_keeper_that_slept_through_an_end_is_dark_at_once(bench: Bench) -> None:
    """A light that should have ended while the keeper slept is dark when it wakes, told with the true time."""
    order = bench.order(1000, cues=[(500, "tick")])
    bench.run(2000)
    bench.sleep(3000)
    assert bench.last(Dark) == Dark(order.id, order.start_ns, order.start_ns + 3000 * MS, "complete")
    assert played(bench) == [("done", 0)]


def test_a_press_that_the_keeper_slept_through_still_counts(bench: Bench) -> None:
    """A press and release within a sleep ends the light; why is what came first."""
    order = bench.order(10_000)
    bench.run(3000)
    now = bench.now_ns
    bench.foot.move(True, now + 100 * MS)
    bench.foot.move(False, now + 200 * MS)
    bench.sleep(3000)
    assert bench.last(Dark) == Dark(order.id, order.start_ns, bench.now_ns, "foot")
    assert bench.last(FootDown).lit == order.id
    other = Bench()
    order = other.order(1000)
    other.run(2500)
    other.foot.move(True, other.now_ns + 600 * MS)
    other.foot.move(False, other.now_ns + 700 * MS)
    other.sleep(3000)
    assert other.last(Dark).why == "complete"
    assert other.last(FootDown).lit == ""


@pytest.mark.parametrize("state", ["idle", "pending", "lit"])
def test_the_end_is_dark_and_lets_everything_go(state: str) -> None:
    """Whatever stands, the end is dark, said, on the slate, and every line is let go; twice is once."""
    bench = Bench(slate=True)
    if state != "idle":
        bench.order(10_000)
        bench.run({"pending": 100, "lit": 2500}[state])
    bench.keeper.end("tether", bench.now_ns)
    bench.keeper.end("keeper", bench.now_ns)
    assert not bench.lamp.lit
    assert bench.lamp.closed
    assert bench.slate is not None
    assert bench.slate.closed
    assert [dark.why for dark in bench.all(Dark)] == (["tether"] if state == "lit" else [])
    assert [gone.why for gone in bench.all(Cancelled)] == (["fault"] if state == "pending" else [])
    if state == "lit":
        page = bench.slate.pages[-1]
        assert (page.lit, page.why, page.dark_ns) == (False, "tether", bench.now_ns)


def test_a_lamp_line_that_does_not_answer_leaves_the_slate_lit() -> None:
    """Where a line cannot be driven dark the keeper says nothing of dark, and the slate goes on saying lit."""
    bench = Bench(slate=True)
    bench.order(10_000)
    bench.run(2500)
    bench.lamp.broken = True
    with pytest.raises(ExceptionGroup):
        bench.tell(Stop())
    with pytest.raises(ExceptionGroup):
        bench.keeper.end("fault", bench.now_ns)
    assert not bench.all(Dark)
    assert bench.slate is not None
    assert bench.slate.pages[-1].lit
    assert bench.slate.closed


# ---- the slate and the pipe


def test_the_slate_follows_the_order() -> None:
    """Accepted, lit and dark each stand on the slate at their moment; it says lit before the line does."""
    bench = Bench(slate=True)
    assert bench.slate is not None
    order = bench.order(1000)
    page = bench.slate.pages[-1]
    assert (page.id, page.kind, page.sheet, page.lit, page.lit_ms) == (order.id, "step", "sheet", False, 1000)
    bench.lamp.broken = True
    with pytest.raises(OSError, match="does not answer"):
        bench.run(2000)
    page = bench.slate.pages[-1]
    assert (page.lit, page.on_ns, page.last_pass_ns) == (True, order.start_ns, order.start_ns)
    bench.lamp.broken = False
    bench.run(1000)
    page = bench.slate.pages[-1]
    assert (page.lit, page.dark_ns, page.why) == (False, order.start_ns + 1000 * MS, "complete")


def test_the_sign_of_life_is_fresh() -> None:
    """While lit the last pass is at most 50 ms old, while dark at most 250 ms."""
    bench = Bench(slate=True)
    bench.order(1000)
    assert bench.slate is not None
    for _ in range(5000):
        bench.run(1)
        page = bench.slate.pages[-1]
        assert bench.now_ns - page.last_pass_ns <= (50 if bench.lamp.lit else 250) * MS


def test_a_full_pipe_is_dark_and_nothing_is_forgotten() -> None:
    """With the pipe full the light goes dark, the last event and the count of the lost stand on the slate."""
    bench = Bench(slate=True)
    order = bench.order(60_000, cues=[(500, "tick")])
    bench.run(2400)
    bench.full = True
    bench.run(200)
    assert bench.lamp.edges[-1] == (order.start_ns + 500 * MS, False)
    assert bench.slate is not None
    page = bench.slate.pages[-1]
    assert (page.lit, page.why, page.dark_ns) == (False, "tether", order.start_ns + 500 * MS)
    assert page.dropped == 3
    assert isinstance(decode(page.last_event.encode()), (Dark, Sounded))
    bench.order(1000)
    bench.run(5000)
    assert len(bench.lamp.edges) == 2


def test_once_there_is_room_again_the_daemon_hears_of_the_loss() -> None:
    """After a full pipe the first word is that something was dropped, by itself or before the next event."""
    for waits_ms in (300, 0):
        bench = Bench(slate=True)
        bench.full = True
        bench.tap(100, 100)
        bench.full = False
        before = len(bench.said)
        bench.run(waits_ms)
        bench.tap(100, 100)
        assert [type(message) for message in bench.said[before:]] == [Trouble, FootDown, FootUp]
        assert bench.last(Trouble).what == What.DROPPED
        bench.run(1000)
        assert len(bench.all(Trouble)) == 1


def test_no_order_is_taken_that_nobody_hears_of(bench: Bench) -> None:
    """Where the acceptance cannot be said there is no order, and so no light."""
    bench.full = True
    bench.order(1000)
    bench.full = False
    bench.run(5000)
    assert not bench.lamp.edges
    bench.order(1000)
    bench.full = True
    bench.run(2500)  # comes on, cannot be said, goes dark again
    assert bench.lamp.edges == [] or bench.lamp.edges[0][0] == bench.lamp.edges[1][0]


# ---- due moments


def test_only_a_lights_moment_is_exact(bench: Bench) -> None:
    """Lights, and what falls close before them, are met exactly; nothing else makes the machine spin."""
    assert bench.keeper.due_ns() is None
    bench.order(1000, cues=[(-500, "tick"), (-1, "tick")])
    assert bench.keeper.due_ns() == bench.now_ns + 1500 * MS
    assert not bench.keeper.exact_due()
    bench.run(1500)
    assert bench.keeper.due_ns() == bench.now_ns + 499 * MS
    assert bench.keeper.exact_due()
    bench.run(500)
    assert bench.lamp.lit
    assert bench.keeper.due_ns() == bench.now_ns + 1000 * MS
    assert bench.keeper.exact_due()


def test_the_timing_table_is_not_changed_by_running(bench: Bench) -> None:
    """The limits are those of the start, whatever is said."""
    before = asdict(bench.timing)
    bench.order(1000)
    bench.run(5000)
    assert asdict(bench.timing) == before
