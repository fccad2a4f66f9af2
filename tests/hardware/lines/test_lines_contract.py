"""What every kind of lines must do, practice lines and gpiozero's own mock of pins alike."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from gpiozero.pins.mock import MockFactory
from tools.line_specs import PINS as ALL_PINS
from tools.line_specs import practice_spec, tables

from hardware.lines import gpio
from hardware.lines.chip import make_factory
from hardware.lines.contacts import PRESSED_NS
from hardware.lines.lines import Lines
from hardware.open_lines import open_lines
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.wiring_tables import OUTLETS

PINS = {name: pin for name, pin in ALL_PINS.items() if name != "lamp"}
ACTIVE_LOW = {"safelight", "alive"}


class Rig:
    """Lines, and hands and eyes on the other side of them."""

    def __init__(self, lines: Callable[[], Lines], active: Callable[[str], bool], foot: Callable[[bool], None]) -> None:
        self.open, self.active, self.foot = lines, active, foot


@pytest.fixture(params=["practice", "mock"])
def rig(
    request: pytest.FixtureRequest, runtime: Path, monkeypatch: pytest.MonkeyPatch, _nothing_left_behind: None
) -> Iterator[Rig]:
    if request.param == "practice":
        spec = practice_spec(runtime, lamps=["soft", "hard"], lid=True, changeover=True, outlets=OUTLETS)
        with PracticeDarkroom(runtime, lamps=("soft", "hard")) as room:
            yield Rig(
                lambda: open_lines(spec),
                lambda name: room.active(name) if name in OUTLETS else room.driven(name),
                lambda closed: void(room.contact(closed)),
            )
        return
    factory: MockFactory = make_factory("mock")
    pins: dict[int, Any] = {n: factory.pin(f"GPIO{n}") for n in (*PINS.values(), 27, 24)}
    pins[24].drive_low()
    monkeypatch.setattr(gpio, "make_factory", lambda *_: factory)
    wiring = tables(lamps=["soft", "hard"], lid=True, changeover=True)
    wiring |= {name: {"pin": PINS[name], "active_high": name not in ACTIVE_LOW} for name in OUTLETS}
    body = {"kind": "gpio", "factory": "mock", "wiring": wiring}

    def step(closed: bool) -> None:
        for pin, low in ((24, not closed), (27, closed)):
            (pins[pin].drive_low if low else pins[pin].drive_high)()

    def opened() -> Lines:
        lines = open_lines(body)
        step(False)
        return lines

    def driven(name: str) -> bool:
        pin = pins[PINS[name]]
        return pin.function == "output" and bool(pin.state) != (name in ACTIVE_LOW)

    yield Rig(opened, driven, step)


def void(_: object) -> None:
    """Drop a value."""


@pytest.fixture
def lines(rig: Rig) -> Iterator[Lines]:
    lines = rig.open()
    yield lines
    lines.close()


def test_every_output_is_inactive_at_first(rig: Rig, lines: Lines) -> None:
    """Lamps are dark and outlets at rest as soon as the lines are open."""
    assert not any(rig.active(name) for name in PINS)


def test_outputs_follow_one_by_one(rig: Rig, lines: Lines) -> None:
    """Each lamp and outlet is driven alone, and setting what is set changes nothing."""
    outputs = {**lines.lamps, **lines.outlets}
    assert set(outputs) == set(PINS)
    for name, output in outputs.items():
        output.set(True)
        output.set(True)
        assert {other for other in PINS if rig.active(other)} == {name}
        output.set(False)


def test_dark_darkens_lamps_alone(rig: Rig, lines: Lines) -> None:
    """`dark` is about lamps; the outlets have rules of their own."""
    for output in (*lines.lamps.values(), *lines.outlets.values()):
        output.set(True)
    lines.dark()
    assert {name for name in PINS if rig.active(name)} == set(OUTLETS)


def test_closing_brings_everything_to_rest(rig: Rig) -> None:
    """Whatever was on is off after closing, and closing twice does nothing."""
    lines = rig.open()
    for output in (*lines.lamps.values(), *lines.outlets.values()):
        output.set(True)
    lines.close()
    assert not any(rig.active(name) for name in PINS)
    lines.close()


def test_a_changeover_is_one_contact_with_two_wires(rig: Rig, lines: Lines) -> None:
    """A press closes the foot contact, opens the rest line, and wakes whoever waits; the switch is whole throughout."""
    assert lines.changeover is not None
    lines.foot.edges()
    lines.changeover.look(time.monotonic_ns())
    assert (lines.foot.closed(), lines.changeover.settled()) == (False, True)
    for _ in range(20):
        before = time.monotonic_ns()
        rig.foot(True)
        ((at_ns, closed),) = lines.foot.edges()
        assert closed
        assert before <= at_ns <= time.monotonic_ns()
        lines.changeover.look(time.monotonic_ns())
        assert (lines.foot.closed(), lines.changeover.settled()) == (True, True)
        rig.foot(False)
        assert [closed for _, closed in lines.foot.edges()] == [False]
        changed = lines.changeover.advance(time.monotonic_ns())
        if time.monotonic_ns() - before < PRESSED_NS:
            assert not changed
            return
        # this machine stalled with one wire moved and the other not yet: a broken switch is the right verdict there
    pytest.fail("this machine stalled in each of twenty presses")


def test_the_features_name_what_is_fitted(rig: Rig, lines: Lines) -> None:
    """Both kinds of lines call the same things by the same names."""
    assert lines.features == ("sounder", "lid", "changeover", *OUTLETS)
