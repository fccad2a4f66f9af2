"""How strong the practice light is: lens, mains and filter, as the meter and the light sensor see it."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.picture.light import LADDER, NAMES, WHITE, second_through
from hardware.practice.faults import PracticeFault
from hardware.practice.log import FaultSwitched, FilterPlaced
from hardware.practice.meter import Drawer, Edge, LampModel, light_ns, lights, passed, shining
from hardware.practice.practice_darkroom import PracticeDarkroom

S = 1_000_000_000
ONE = (Edge(0, lit=True), Edge(4 * S, lit=False))
OPEN, SAG, LEFT = PracticeFault.LENS_OPEN, PracticeFault.MAINS_SAG, PracticeFault.FILTER_LEFT_IN


def given(*switched: tuple[int, PracticeFault, bool], model: LampModel | None = None) -> float:
    faults = [FaultSwitched(at, fault, on) for at, fault, on in switched]
    return light_ns(list(shining(ONE, faults)), 0, 5 * S, model or LampModel()) / S


def test_an_open_lens_gives_three_stops_more() -> None:
    """From when it stands open until it is stopped down, eight times the light, also in the midst of one."""
    assert given((-1, OPEN, True)) == 32
    assert given((1 * S, OPEN, True), (2 * S, OPEN, False)) == 1 + 8 + 2
    assert given((-1, OPEN, True), (0, OPEN, False)) == 4


def test_low_mains_give_a_quarter_of_a_stop_less() -> None:
    """5 % of the voltage is 0.84 of the light. Source: V to the power of 3.4 (from memory); log2(0.84) is −0.25."""
    assert given((-1, SAG, True)) == pytest.approx(4 * 0.95**3.4)
    assert given((-1, SAG, True), (-1, OPEN, True)) == pytest.approx(32 * 0.95**3.4)


def test_a_slow_lamp_comes_up_behind_the_lens() -> None:
    """What the lamp gives while it comes up and dies away is as many times stronger; nothing else changes."""
    slow = LampModel(lag_ms=30, tau_up_ms=120, tau_down_ms=20)
    assert given((-1, OPEN, True), model=slow) == pytest.approx(8 * given(model=slow))


def test_a_change_in_the_midst_makes_no_second_light() -> None:
    """A light that grows stronger on the way is still one light, from its first edge to its last."""
    (light,) = lights(list(shining(ONE, [FaultSwitched(S, OPEN, True)])), 5 * S)
    assert (light.on_ns, light.dark_ns, light.full_ns) == (0, 4 * S, 25 * S)


def test_filters_pass_what_the_practice_enlarger_has() -> None:
    """The sensor sees blue and green together, by the table that the paper's light is made of."""
    soft = LADDER[0][1]
    for name in NAMES:
        light = WHITE if not name or name == "none" else second_through(name)
        assert passed(name) == pytest.approx((light.blue + light.green) / (soft.blue + soft.green), abs=0.001)
    for number, light in LADDER[1:]:
        assert passed(f"{number:g}") == pytest.approx((light.blue + light.green) / (soft.blue + soft.green), abs=0.001)
    assert passed(None) == 1.0


def test_a_filter_left_in_stays_until_the_fault_is_gone() -> None:
    """The drawer holds what was in it; once the fault is off it holds what was put in last."""
    drawer = Drawer()
    held = []
    for event in (
        FilterPlaced(1, "soft"),
        FaultSwitched(2, LEFT, True),
        FilterPlaced(3, "hard"),
        FaultSwitched(4, LEFT, False),
        FilterPlaced(5, "soft"),
    ):
        drawer.tell(event)
        held.append(drawer.holds)
    assert held == ["soft", "soft", "soft", "hard", "soft"]


def test_the_room_tells_sensor_and_looker_alike(tmp_path: Path) -> None:
    """What looks many times a second sees the same light as who reads the whole log."""
    from hardware.practice.outputs import PracticeLamp

    with PracticeDarkroom(tmp_path) as room:
        lamp = PracticeLamp(tmp_path, "lamp")
        room.fault(OPEN)
        lamp.set(True)
        room.fault(OPEN, on=False)
        lamp.set(False)
        lamp.close()
        first, last = room.edges()[0].at_ns, room.edges()[-1].at_ns
        assert room.light_ns(first, last) > last - first
        assert room.lately.light_ns(first, last) == room.light_ns(first, last)
        assert len(room.lately.lights(5, last)) == len(room.lights()) == 1
