"""A foot switch on two lines: its transit is no fault, a broken wire is, and only a whole switch mends it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.keeper_bench import MS, Bench, Contact

from hardware.clock import ManualClock
from hardware.lines.contacts import AnyOf, Changeover, join
from hardware.wire import Cancelled, Dark, FootDown, FootStuck, FootUp, Refused, Trouble


class Switch:
    """A changeover switch of which either wire can break."""

    def __init__(self) -> None:
        self.bench = Bench(changeover=True, slate=False)
        self.bench.keeper.greet(self.bench.now_ns)
        self.pressed_broken = self.rest_broken = False

    def put(self, *, pressed: bool, rest: bool) -> None:
        """Close and open what is behind the wires."""
        assert self.bench.rest is not None
        self.bench.foot.move(pressed and not self.pressed_broken)
        self.bench.rest.move(rest and not self.rest_broken)
        self.bench.look()

    def press(self, transit_ms: float = 10, ms: float = 200) -> None:
        self.put(pressed=False, rest=False)
        self.bench.run(transit_ms)
        self.put(pressed=True, rest=False)
        self.bench.run(ms)
        self.put(pressed=False, rest=False)
        self.bench.run(transit_ms)
        self.put(pressed=False, rest=True)
        self.bench.run(200)

    def in_fault(self) -> bool:
        self.bench.order(in_ms=3000)
        refused = self.bench.all(Refused)
        if refused and refused[-1].id == f"order-{self.bench._orders}":
            return refused[-1].reason == "in fault"
        self.bench.keeper._drop_order("cancel", self.bench.now_ns)
        return False


@pytest.mark.parametrize("transit_ms", [0, 1, 20, 59.9])
def test_a_transit_is_a_press_and_no_fault(transit_ms: float) -> None:
    """Both lines open for up to 60 ms on the way is how such a switch works: one down, one up, no trouble."""
    switch = Switch()
    switch.press(transit_ms)
    bench = switch.bench
    assert (len(bench.all(FootDown)), len(bench.all(FootUp)), bench.all(Trouble)) == (1, 1, [])


def test_a_broken_rest_wire_is_a_fault_at_once() -> None:
    """60 ms after the rest line's wire breaks everything is dark, and an order is refused; the foot's grammar hears."""
    switch = Switch()
    bench = switch.bench
    bench.order(5000)
    bench.run(2500)
    switch.rest_broken = True
    broken_ns = bench.now_ns
    switch.put(pressed=False, rest=True)
    bench.run(100)
    assert (bench.last(Dark).why, bench.last(Dark).dark_ns - broken_ns) == ("fault", 60 * MS)
    assert bench.last(Trouble).what == "keeper.foot-wire"
    assert bench.all(FootStuck)
    assert switch.in_fault()


def test_a_broken_pressed_wire_is_a_fault_at_the_first_press_which_darkens() -> None:
    """A press that cannot be heard ends the light all the same, 60 ms after the rest line has opened."""
    switch = Switch()
    bench = switch.bench
    switch.pressed_broken = True
    bench.order(5000)
    bench.run(2500)
    pressed_ns = bench.now_ns
    switch.press()
    assert (bench.last(Dark).why, bench.last(Dark).dark_ns - pressed_ns) == ("fault", 60 * MS)
    assert not bench.all(FootDown)
    # at rest it looks whole, and is not believed
    assert switch.in_fault()
    switch.press()
    assert switch.in_fault()


def test_two_wires_that_touch_are_a_fault() -> None:
    """Both lines closed for 60 ms on end is a fault as well."""
    switch = Switch()
    switch.put(pressed=True, rest=True)
    switch.bench.run(100)
    assert switch.bench.last(Trouble).what == "keeper.foot-wire"


def test_only_a_press_and_a_release_prove_a_switch_whole() -> None:
    """After a fault the switch makes no gesture until it was seen pressed and at rest; then one foot-up says so."""
    switch = Switch()
    bench = switch.bench
    switch.rest_broken = True
    switch.put(pressed=False, rest=True)
    bench.run(5000)
    switch.rest_broken = False
    switch.put(pressed=False, rest=True)
    bench.run(5000)
    assert switch.in_fault()
    assert not bench.all(FootUp)
    switch.press()
    assert not switch.in_fault()
    assert not bench.all(FootDown)
    assert len(bench.all(FootUp)) == 1
    switch.press()
    assert len(bench.all(FootDown)) == 1


def test_no_light_comes_on_while_the_switch_is_on_its_way() -> None:
    """A light that is due while neither line is closed waits, and is given up where that lasts."""
    switch = Switch()
    bench = switch.bench
    bench.order(in_ms=2000)
    bench.run(1980)
    switch.put(pressed=False, rest=False)
    bench.run(50)
    assert not bench.lamp.lit
    switch.put(pressed=False, rest=True)
    assert bench.lamp.lit
    bench.run(2000)
    bench.order(in_ms=2000)
    bench.run(1980)
    switch.put(pressed=False, rest=False)
    bench.run(200)
    assert bench.last(Cancelled).why == "fault"
    assert len(bench.lamp.edges) == 2


@given(
    st.lists(st.tuples(st.integers(1, 59), st.integers(1, 400), st.integers(1, 59), st.integers(1, 400)), max_size=8)
)
def test_no_whole_switch_is_ever_in_fault(presses: list[tuple[int, int, int, int]]) -> None:
    """Whatever a switch with two whole wires does, its transits under 60 ms, no trouble is told of its wires."""
    switch = Switch()
    for down, pressed, up, rest in presses:
        for state, ms in (
            ((False, False), down),
            ((True, False), pressed),
            ((False, False), up),
            ((False, True), rest),
        ):
            switch.put(pressed=state[0], rest=state[1])
            switch.bench.run(ms)
    assert not switch.bench.all(Trouble)


@given(st.booleans(), st.lists(st.tuples(st.integers(1, 40), st.integers(70, 400)), min_size=1, max_size=8))
def test_no_broken_switch_ever_counts_as_whole(rest_wire: bool, presses: list[tuple[int, int]]) -> None:
    """A switch with one broken wire that was pressed for 60 ms once stays in fault, whatever it does then."""
    switch = Switch()
    switch.pressed_broken, switch.rest_broken = not rest_wire, rest_wire
    for transit, ms in presses:
        switch.press(transit, ms)
        assert switch.in_fault()
    assert len(switch.bench.all(Trouble)) == 1


# ---- several contacts as one


def a_contact(clock: ManualClock) -> Contact:
    return Contact(clock)


def test_contacts_are_closed_while_any_is() -> None:
    """Of two contacts as one, only the first closing and the last opening are edges, in order of time."""
    clock = ManualClock(0)
    one, two = Contact(clock), Contact(clock)
    both = AnyOf(one, two)
    for at_ms, contact, closed in ((5, two, True), (6, one, True), (8, two, False), (9, one, False), (12, two, True)):
        clock.set(at_ms * MS)
        contact.move(closed)
    assert both.edges() == [(5 * MS, True), (9 * MS, False), (12 * MS, True)]
    assert both.closed()
    two.move(False)
    assert both.edges() == [(12 * MS, False)]
    assert not both.closed()
    assert both.fileno() is None
    both.close()


def test_a_pedal_beside_a_changeover_is_heard() -> None:
    """A second contact beside the wired switch acts as it does, and says nothing of the switch's wires."""
    clock = ManualClock(0)
    pressed, rest, pedal = Contact(clock), Contact(clock, closed=True), Contact(clock)
    wires = Changeover(pressed, rest, 0)
    foot = join(wires, pedal)
    clock.set(10 * MS)
    pedal.move(True)
    assert foot.edges() == [(10 * MS, True)]
    assert wires.due_ns() is None
    foot.close()


def test_one_contact_stays_itself() -> None:
    """A single plain contact is not wrapped."""
    make: Callable[[], Contact] = lambda: a_contact(ManualClock(0))  # noqa: E731
    contact = make()
    assert join(contact) is contact
