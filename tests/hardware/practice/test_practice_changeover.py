"""The practice darkroom's changeover foot switch, its broken wires, and what a real keeper makes of them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from tools.line_specs import practice_spec
from tools.tether_bench import MS, Ear, order

from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether
from hardware.wire import Dark, FootDown, FootStuck, FootUp, Greeting, Lit, Refused, Trouble
from hardware.wiring_tables import OUTLETS

pytestmark = pytest.mark.usefixtures("by_real_time")


@pytest.fixture
def tether(room: PracticeDarkroom, ear: Ear) -> Iterator[Tether]:
    spec = practice_spec(room.runtime, changeover=True, outlets=OUTLETS)
    with Tether(KeeperConfig(spec, room.runtime, safelight="dark while lit"), ear) as tether:
        yield tether


def troubles(ear: Ear) -> list[str]:
    return [trouble.what for trouble in ear.of(Trouble)]


def test_a_whole_switch_presses_as_a_plain_one(tether: Tether, room: PracticeDarkroom, ear: Ear) -> None:
    """A press of the practice changeover, with bounce, is one down and one up and no trouble."""
    assert "changeover" in ear.wait(Greeting).features
    room.press(120, bounces=3)
    ear.wait(FootUp)
    assert len(ear.of(FootDown)) == 1
    assert not troubles(ear)


@pytest.mark.parametrize("fault", [PracticeFault.REST_WIRE_BROKEN, PracticeFault.CONTACT_STUCK])
def test_a_wire_that_breaks_in_light_is_dark_and_a_fault(
    tether: Tether, room: PracticeDarkroom, ear: Ear, fault: PracticeFault
) -> None:
    """A broken rest wire, or a pressed line that touches ground, ends the light; a press mends it once it is whole."""
    tether.send(order())
    ear.wait(Lit)
    assert not room.safelight()
    room.fault(fault)
    dark = ear.wait(Dark)
    assert dark.why in {"fault", "foot"}
    assert not room.lit()
    assert room.safelight()
    ear.wait(Trouble)
    ear.wait(FootStuck)
    assert troubles(ear) == ["keeper.foot-wire"]
    tether.send(order(foot_seq=len(ear.of(FootDown))))
    assert ear.wait(Refused).reason == "in fault"
    room.fault(fault, on=False)
    room.press(120)
    ear.wait(FootUp)
    tether.send(order(200, foot_seq=len(ear.of(FootDown)), ahead_ms=1500))
    assert ear.wait(Lit, 2).at_ns


def test_a_broken_pressed_wire_darkens_at_a_press(tether: Tether, room: PracticeDarkroom, ear: Ear) -> None:
    """A press that the keeper cannot hear still ends the light within a tenth of a second or so."""
    room.fault(PracticeFault.PEDAL_WIRE_BROKEN)
    tether.send(order())
    ear.wait(Lit)
    pressed_ns = room.contact(True)
    dark = ear.wait(Dark)
    assert dark.why == "fault"
    assert 60 * MS <= dark.dark_ns - pressed_ns < 400 * MS
    room.contact(False)


def test_the_alive_line_beats_through_a_real_keeper(tether: Tether, room: PracticeDarkroom, ear: Ear) -> None:
    """While lit the alive line changes with the light's first moment and every 50 ms or so, and then stands still."""
    tether.send(order(400))
    dark = ear.wait(Dark)
    edges = [at for at, _ in room.outlet_edges("alive")]
    assert dark.on_ns <= edges[0] < room.edges()[0].at_ns
    assert 7 <= len(edges) <= 10
    assert not room.active("alive")
    assert edges[-1] <= dark.dark_ns + 50 * MS
