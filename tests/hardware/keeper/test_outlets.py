"""The keeper's outlets: safelight, room light, status LED and alive line, in virtual time."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tools.keeper_bench import MS, Bench

from hardware import wire
from hardware.wire import (
    Cancelled,
    Dark,
    FootDown,
    Greeting,
    Lit,
    Refused,
    RoomLight,
    RoomSwitched,
    SheetOpen,
    Stop,
    Trouble,
)
from hardware.wiring_tables import OUTLETS


def bench(**more: object) -> Bench:
    """A keeper with every outlet and a lid, greeted, told that no sheet is open."""
    made = Bench(outlets=OUTLETS, lid=True, **more)  # type: ignore[arg-type]
    made.keeper.greet(made.now_ns)
    made.tell(SheetOpen(False))
    made.run(100)
    return made


def lit_room() -> Bench:
    made = bench()
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    assert made.last(RoomSwitched) == RoomSwitched(True, made.now_ns, "asked")
    assert made.outlets["room_light"].lit
    return made


def is_off(made: Bench, why: str) -> None:
    assert not made.outlets["room_light"].lit
    assert (made.last(RoomSwitched).on, made.last(RoomSwitched).why) == (False, why)


def test_the_greeting_names_every_outlet() -> None:
    """What is fitted beside lamp and foot stands in the greeting, in words that others build on."""
    made = Bench(outlets=OUTLETS, lid=True, changeover=True)
    made.keeper.greet(made.now_ns)
    assert made.last(Greeting).features == ("sounder", "lid", "changeover", *OUTLETS)
    assert made.last(Greeting).protocol == wire.PROTOCOL == 4


def test_without_a_word_of_the_daemon_everything_is_in_doubt() -> None:
    """A keeper that has been told nothing shows safelight, and neither LED nor room light, nor gives any."""
    made = Bench(outlets=OUTLETS)
    made.keeper.greet(made.now_ns)
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    is_off(made, "sheet")
    assert not any(line.edges for line in made.outlets.values())


def test_the_led_is_off_while_a_sheet_is_open_or_a_lamp_lit() -> None:
    """The status LED shows that the keeper lives, never beside paper: a step's light itself opens the sheet."""
    made = bench()
    led = made.outlets["status_led"]
    assert led.lit
    made.order(500, kind="check")
    made.run(2100)
    assert not led.lit
    made.run(1000)
    assert led.lit
    made.order(500)
    made.run(3000)
    assert not led.lit
    made.tell(SheetOpen(False))
    assert led.lit
    made.tell(SheetOpen(True))
    assert not led.lit


@pytest.mark.parametrize("dark", [False, True])
def test_the_safelight_is_dark_only_while_lit_and_only_where_wanted(dark: bool) -> None:
    """The safelight's line is inactive (light) but for the time of a lamp's light, where the start option says so."""
    made = bench(safelight_dark_while_lit=dark)
    made.order(700)
    made.run(4000)
    lamp, safelight = made.lamp.edges, made.outlets["safelight"].edges
    assert len(lamp) == 2
    assert safelight == (lamp if dark else [])


def test_the_safelight_is_dark_where_a_sheet_tests_it() -> None:
    """As long as the daemon says so, whether a lamp is lit or not; and light again once the keeper goes."""
    made = bench()
    safelight = made.outlets["safelight"]
    made.tell(SheetOpen(True, dark=True))
    assert safelight.lit  # the line is active: a normally-closed contact is open
    made.order(700)
    made.run(4000)
    assert len(safelight.edges) == 1
    made.tell(SheetOpen(True))
    assert not safelight.lit
    made.tell(SheetOpen(False, dark=True))
    assert safelight.lit
    made.keeper.end("tether", made.now_ns)
    assert not safelight.lit


@pytest.mark.parametrize("kind", ["step", "focus"])
def test_the_alive_line_changes_from_the_light_s_first_moment_to_its_last(kind: str) -> None:
    """The alive line's first edge comes with the light, then one every 50 ms, and it stands still in the dark."""
    made = bench()
    made.order(1000 if kind == "step" else 60_000, kind=kind)
    made.run(6000)
    (on_ns, _), (off_ns, _) = made.lamp.edges
    edges = made.outlets["alive"].edges
    assert edges[0] == (on_ns, True)
    assert all(b - a == 50 * MS for (a, _), (b, _) in pairwise(edges) if b < off_ns)
    assert edges[-1][0] <= off_ns
    assert off_ns - edges[-1][0] <= 50 * MS
    assert not made.outlets["alive"].lit


def test_the_dark_edge_is_met_exactly_beside_the_alive_line() -> None:
    """A change of the alive line close before the dark edge is waited for as exactly as that edge itself."""
    made = bench()
    order = made.order(501)
    made.run(2000)
    assert made.keeper.lit
    while (due_ns := made.keeper.due_ns()) is not None and made.keeper.lit:
        left_ms = (made.last(Lit).at_ns + order.lit_ms * MS - due_ns) / MS
        assert made.keeper.exact_due() == (left_ms < 2)
        made.run_to(due_ns)
    assert made.last(Dark).dark_ns - made.last(Dark).on_ns == 501 * MS


def test_no_light_where_the_alive_line_is_silent() -> None:
    """A light that could not last is not begun, and one whose alive line fails is ended; both are told as a fault."""
    made = bench()
    made.outlets["alive"].broken = True
    made.order()
    made.run(2500)
    assert made.last(Cancelled).why == "fault"
    assert not made.lamp.edges
    made.outlets["alive"].broken = False
    made.order()
    made.run(2500)
    made.outlets["alive"].broken = True
    made.run(100)
    assert made.last(Dark).why == "fault"
    assert [trouble.what for trouble in made.all(Trouble)] == ["keeper.outlet"]


def test_an_led_that_fails_keeps_nobody_from_light() -> None:
    """An outlet that does not answer is told of once, and the lamp is lit all the same."""
    made = bench()
    made.outlets["status_led"].broken = made.outlets["safelight"].broken = True
    for _ in range(2):
        made.order(200)
        made.run(4000)
    assert len(made.all(Lit)) == 2
    assert len(made.all(Trouble)) == 1


# ---- the room light


def test_the_room_light_stays_for_its_lease() -> None:
    """It is renewed by asking again, silently, and goes out 2 s after the last word."""
    made = lit_room()
    for _ in range(5):
        made.run(1500)
        made.tell(RoomLight(True))
    assert len(made.all(RoomSwitched)) == 1
    made.run(1999)
    assert made.outlets["room_light"].lit
    made.run(1)
    is_off(made, "lease")


@pytest.mark.parametrize("why", ["asked", "foot", "lid", "sheet", "page", "fault", "tether"])
def test_everything_ends_the_room_light(why: str) -> None:
    """A press, an open lid, a sheet, STOP, nonsense and a full pipe end white light; no renewal relights it."""
    made = lit_room()
    made.run(300)
    match why:
        case "asked":
            made.tell(RoomLight(False))
        case "foot":
            made.tap(100, 100)
            kinds = [type(m) for m in made.said if isinstance(m, (RoomSwitched, FootDown))]
            assert kinds[-2:] == [RoomSwitched, FootDown]
        case "lid":
            made.move_lid(shut=False)
        case "sheet":
            made.tell(SheetOpen(True))
        case "page":
            made.tell(Stop())
        case "fault":
            made.keeper.unreadable(made.now_ns)
        case "tether":
            made.full = True
            made.tell(RoomLight(False))
            made.tell(RoomLight(True))
            made.full = False
    assert not made.outlets["room_light"].lit
    if why == "tether":
        return
    is_off(made, why)
    if why == "asked":
        return
    made.tell(RoomLight(True))
    assert not made.outlets["room_light"].lit


def test_the_end_of_the_keeper_ends_the_room_light() -> None:
    """At the end of its pipe a keeper takes the room light along."""
    made = lit_room()
    made.keeper.end("tether", made.now_ns)
    is_off(made, "tether")


def test_the_room_light_and_a_lamp_keep_each_other_out() -> None:
    """No order is taken beside the room light; no room light beside a pending or lit order, an open box or a foot."""
    made = lit_room()
    made.order()
    assert made.last(Refused).reason == "room light is on"
    made.tell(RoomLight(False))
    made.order(500, kind="check")
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    is_off(made, "order")
    made.run(2100)
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    is_off(made, "order")
    made.run(1000)
    made.move_lid(shut=False)
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    is_off(made, "lid")
    made.move_lid(shut=True)
    made.run(100)
    made.tap(100, 100)
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    is_off(made, "foot")
    assert not made.outlets["room_light"].edges[2:]


def test_a_late_word_starts_no_light() -> None:
    """An `on` to a keeper that has heard no `off` is a late renewal: no restart brings white light back."""
    made = bench()
    made.tell(RoomLight(True))
    is_off(made, "late")
    made.tell(RoomLight(False))
    made.tell(RoomLight(True))
    made.run(2500)
    is_off(made, "lease")
    made.tell(RoomLight(True))
    is_off(made, "late")
    plain = Bench()
    plain.tell(RoomLight(True))
    assert plain.last(RoomSwitched).why == "none"


def test_a_room_light_that_does_not_go_off_keeps_every_lamp_dark() -> None:
    """Where its line fails, no order is taken until it has answered; it is tried again and again."""
    made = lit_room()
    made.outlets["room_light"].broken = True
    made.tap(100, 2000)
    made.order()
    assert made.last(Refused).reason == "room light is on"
    assert made.last(Trouble).what == "keeper.outlet"
    made.tell(RoomLight(True))
    made.outlets["room_light"].broken = False
    made.run(2100)
    is_off(made, "lease")
    made.order()
    made.run(2500)
    assert made.lamp.lit
