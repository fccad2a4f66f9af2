"""Real lines, proved on gpiozero's own mock of pins: dark at first and at last, refused with a remedy."""

from __future__ import annotations

import select
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import gpiozero
import pytest
from gpiozero.pins.mock import MockFactory
from tools.line_specs import tables
from tools.tether_bench import until

from hardware.errors import LineBusy, LineError
from hardware.lines.chip import CHIP_LABELS, find_chip, make_factory
from hardware.lines.gpio import lines_on, open_pins
from hardware.lines.lines import Lines
from hardware.open_lines import open_lines, open_outputs
from hardware.sounds import Note
from hardware.wiring import Wiring, read_wiring


def wiring(**more: object) -> Wiring:
    """What a box with a lamp, a foot switch, a sounder and a lid is wired with, but for `more`."""
    return read_wiring({**tables(), "lid": {"pin": 22}, **more}, "wiring.toml")


class Rig:
    """Lines on mock pins, and the pins."""

    def __init__(self) -> None:
        self.factory: Any = make_factory("mock")
        self.lamp, self.foot, self.lid = (self.factory.pin(f"GPIO{n}") for n in (17, 27, 22))
        self.buzzer = self.factory.pin("GPIO18")
        self.lines: Lines = lines_on(self.factory, wiring())


@pytest.fixture
def rig(_nothing_left_behind: None) -> Iterator[Rig]:
    rig = Rig()
    yield rig
    rig.lines.close()


def test_lines_say_what_they_are(rig: Rig) -> None:
    """Real lines are no practice lines, and tell of sounder and lid where they are fitted."""
    assert (rig.lines.practice, list(rig.lines.lamps), rig.lines.features) == (False, ["lamp"], ("sounder", "lid"))


def test_a_lamp_line_is_dark_high_for_lit_and_dark_at_the_end(rig: Rig) -> None:
    """The lamp's line is low from its first moment, high while lit, low before it is let go."""
    lamp = rig.lines.lamps["lamp"]
    lamp.set(False)
    lamp.set(True)
    lamp.set(True)
    assert rig.lamp.state
    lamp.set(False)
    lamp.set(True)
    lamp.close()
    assert [bool(state) for _, state in rig.lamp.states] == [False, True, False, True, False]
    lamp.close()
    lamp.set(False)
    with pytest.raises(LineError, match="GPIO 17 is closed"):
        lamp.set(True)


def test_a_contact_to_ground_is_closed_when_low(rig: Rig) -> None:
    """The foot contact is pulled up; low is closed. Each edge comes with its time, and wakes the descriptor."""
    foot = rig.lines.foot
    fd = foot.fileno()
    assert fd is not None
    assert rig.foot.pull == "up"
    assert not foot.closed()
    assert foot.edges() == []
    before = time.monotonic_ns()
    rig.foot.drive_low()
    assert select.select([fd], [], [], 0)[0] == [fd]
    assert foot.closed()
    rig.foot.drive_high()
    (down_ns, down), (up_ns, up) = foot.edges()
    assert (down, up) == (True, False)
    assert before <= down_ns <= up_ns <= time.monotonic_ns()
    assert select.select([fd], [], [], 0)[0] == []
    assert foot.edges() == []


def test_a_shower_of_edges_is_kept_and_never_raises(rig: Rig) -> None:
    """Thousands of edges that nobody reads fill the bell, not the callback; the newest are kept in order."""
    for _ in range(40_000):
        rig.foot.drive_low()
        rig.foot.drive_high()
    edges = rig.lines.foot.edges()
    assert len(edges) == 4096
    assert [closed for _, closed in edges] == [True, False] * 2048
    assert list(edges) == sorted(edges, key=lambda edge: edge[0])
    rig.foot.drive_low()
    assert [closed for _, closed in rig.lines.foot.edges()] == [True]


def test_a_stamp_of_another_clock_is_not_believed(rig: Rig) -> None:
    """A kernel stamp that is not of the last second of the monotonic clock is replaced by the moment it was heard."""
    handler = rig.foot.when_changed
    before = time.monotonic_ns()
    for ticks in (1.7e9, 0.0):
        handler(ticks, False)
    assert all(before <= at <= time.monotonic_ns() for at, _ in rig.lines.foot.edges())


def test_a_lid_is_open_when_its_wire_is_broken(rig: Rig) -> None:
    """The lid's contact is closed while the lid is shut; a broken wire reads as an open lid."""
    assert rig.lines.lid is not None
    assert not rig.lines.lid.closed()
    rig.lid.drive_low()
    assert rig.lines.lid.closed()


def test_the_sounder_plays_on_its_pin(rig: Rig) -> None:
    """A note is its frequency on the sounder's pin, and silence takes it away."""
    assert rig.lines.sounder is not None
    rig.lines.sounder.play([Note(880, 60_000)])
    until(lambda: rig.buzzer.frequency == pytest.approx(880))
    rig.lines.sounder.play([Note(311, 30)])
    until(lambda: rig.buzzer.frequency == pytest.approx(311))
    until(lambda: rig.buzzer.frequency is None)


def test_lines_may_be_closed_twice_and_the_factory_goes_last(monkeypatch: pytest.MonkeyPatch) -> None:
    """The factory, which alone gives lines back to the kernel, is closed once, after the last line."""
    rig = Rig()
    closed: list[bool] = []
    original = rig.factory.close
    monkeypatch.setattr(rig.factory, "close", lambda: (closed.append(rig.lid.when_changed is not None), original()))
    rig.lines.lamps["lamp"].set(True)
    rig.lines.close()
    rig.lines.close()
    assert closed == [False]  # once, and the lid, which goes last, had gone
    assert not rig.lamp.state


def test_a_line_that_is_taken_is_refused() -> None:
    """A pin that a device holds already cannot be had; what the kernel calls busy is told as busy."""
    factory: Any = make_factory("mock")
    taken = gpiozero.OutputDevice(17, pin_factory=factory)
    with pytest.raises(LineError, match="GPIO 17 cannot be had"):
        lines_on(factory, wiring())
    taken.close()

    class Busy(MockFactory):
        def pin(self, name: Any) -> Any:
            raise RuntimeError("GPIO busy")

    with pytest.raises(
        LineBusy, match="lamp line on GPIO 17 is held by another process, most likely a Treadle that still runs"
    ):
        lines_on(Busy(), wiring())


def test_nothing_is_fallen_back_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Without lgpio, or with an unknown factory, lines are refused; gpiozero's own choice is never asked for."""
    monkeypatch.setitem(sys.modules, "lgpio", None)
    for module in ("gpiozero.pins.lgpio", "hardware.lines.lgpio_pin"):
        monkeypatch.delitem(sys.modules, module, raising=False)
    real = {"kind": "gpio", "wiring": tables()}
    for opening in (open_lines, lambda body: open_outputs(body, tmp_path)):
        with pytest.raises(LineError, match="python3-lgpio"):
            opening({**real, "factory": "lgpio"})
        with pytest.raises(LineError, match="no pin factory 'native'"):
            opening({**real, "factory": "native"})
    open_lines({**real, "factory": "mock"}).close()
    assert gpiozero.Device.pin_factory is None


def test_the_outputs_alone_can_be_opened_and_are_at_rest() -> None:
    """What lets go of every light without a daemon opens lamps and outlets and no other line."""
    outputs = open_pins("mock", wiring(safelight={"pin": 23, "active_high": False}))
    assert list(outputs) == ["lamp line", "safelight"]
    for output in outputs.values():
        output.set(False)
        output.close()


class Chips:
    """Stands in for the lgpio module where only chips are listed."""

    def __init__(self, labels: dict[int, str]) -> None:
        self.labels, self.open = labels, 0

    def gpiochip_open(self, number: int) -> int:
        if number not in self.labels:
            raise RuntimeError("can not open gpiochip")
        self.open += 1
        return 100 + number

    def gpio_get_chip_info(self, handle: int) -> list[object]:
        return [0, 54, f"gpiochip{handle - 100}", self.labels[handle - 100]]

    def gpiochip_close(self, handle: int) -> None:
        self.open -= 1


@pytest.mark.parametrize("label", CHIP_LABELS)
def test_the_chip_is_found_by_its_label(tmp_path: Path, label: str) -> None:
    """Whatever its number, the Pi's own chip is taken, others are let go; none of that label is a refusal."""
    for n in (0, 1, 4, 11):
        (tmp_path / f"gpiochip{n}").touch()
    chips = Chips({0: "brcmvirt-gpio", 4: "raspberrypi-exp-gpio", 11: label})
    assert find_chip(chips, tmp_path) == 11
    assert chips.open == 0
    with pytest.raises(LineError, match=r"found: brcmvirt-gpio.*group gpio"):
        find_chip(Chips({0: "brcmvirt-gpio"}), tmp_path)


def test_a_line_that_does_not_answer_points_to_the_lamp_s_own_switch(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error of the pin library becomes a sentence with the remedy."""

    def refuse(_self: object, _value: float) -> None:
        raise RuntimeError("no answer")

    monkeypatch.setattr(type(rig.lamp), "_set_state", refuse)
    with pytest.raises(LineError, match="off at its own switch"):
        rig.lines.lamps["lamp"].set(True)
    monkeypatch.undo()
