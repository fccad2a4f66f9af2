"""Pins through lgpio, on a stand-in for it: claimed with their level, no pull ever taken away, busy explained."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.fake_lgpio import SET_PULL_NONE, SET_PULL_UP, FakeLgpio
from tools.tether_bench import ROOT

from hardware.errors import LineBusy, LineError
from hardware.open_lines import open_lines, open_outputs

PI_3B = 0xA02082
WIRING: dict[str, object] = {
    "filters": "lines",
    "chip": 0,
    "lamp_soft": {"pin": 17},
    "lamp_hard": {"pin": 16},
    "foot": {"pin": 27, "open_pin": 24},
    "sounder": {"pin": 18},
    "lid": {"pin": 23},
    "safelight": {"pin": 22, "active_high": False},
    "room_light": {"pin": 25},
    "status_led": {"pin": 6},
    "alive": {"pin": 13, "active_high": False},
}
SPEC: dict[str, object] = {"kind": "gpio", "factory": "lgpio", "wiring": WIRING}
LOW, HIGH = {17, 16, 25, 6}, {22, 13}
"""Where each output is at rest."""


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch, _nothing_left_behind: None) -> Iterator[FakeLgpio]:
    fake = FakeLgpio()
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    for module in ("gpiozero.pins.lgpio", "hardware.lines.lgpio_pin"):
        monkeypatch.delitem(sys.modules, module, raising=False)
    from gpiozero.pins.local import LocalPiFactory

    monkeypatch.setattr(LocalPiFactory, "_get_revision", lambda _self: PI_3B)
    yield fake
    for module in ("gpiozero.pins.lgpio", "hardware.lines.lgpio_pin"):
        sys.modules.pop(module, None)


def test_every_output_is_claimed_once_and_at_rest(lgpio: FakeLgpio) -> None:
    """The first thing asked of an output's line is its level at rest, with its pull as it is: there is no blip."""
    lines = open_lines(SPEC)
    for pin in LOW | HIGH:
        (first, *more) = [asked for asked in lgpio.asked if asked[1] == pin]
        assert first == ("output", pin, int(pin in HIGH), 0)
        assert not more
    lines.close()


def test_an_output_goes_to_rest_and_is_given_back(lgpio: FakeLgpio) -> None:
    """Closing drives each output to rest and frees its line; nothing is claimed anew, and the chip is closed."""
    lines = open_lines(SPEC)
    for line in (*lines.lamps.values(), *lines.outlets.values()):
        line.set(True)
    assert {pin: lgpio.levels[pin] for pin in LOW | HIGH} == {pin: int(pin in LOW) for pin in LOW | HIGH}
    lgpio.asked.clear()
    lines.close()
    for pin in LOW | HIGH:
        *before, last = [asked for asked in lgpio.asked if asked[1] == pin]
        assert last == ("free", pin)
        assert set(before) == {("write", pin, int(pin in HIGH))}
    assert not lgpio.claimed
    assert lgpio.open_chips == 0
    lines.close()


def test_no_pull_is_ever_taken_away(lgpio: FakeLgpio) -> None:
    """No line is claimed with its pull off, not even on the way; contacts are pulled up before and after."""
    open_lines(SPEC).close()
    assert not [asked for asked in lgpio.asked if asked[0] != "free" and asked[-1] == SET_PULL_NONE]
    for pin in (27, 24, 23):
        assert lgpio.flags[pin] == SET_PULL_UP
        assert [asked[0] for asked in lgpio.asked if asked[1] == pin][-1] == "free"


def test_a_line_that_is_taken_is_explained(lgpio: FakeLgpio, tmp_path: Path) -> None:
    """Busy names the line, who likely holds it and the remedy, in one sentence; every other line is free again."""
    lgpio.busy.add(22)
    for opening in (open_lines, lambda spec: open_outputs(spec, tmp_path)):
        with pytest.raises(LineBusy, match=r"the safelight on GPIO 22 is held by .* most likely a Treadle.*stop that"):
            opening(SPEC)
        assert not lgpio.claimed
        assert lgpio.open_chips == 0


def test_lgpio_outputs_are_claimed_at_rest_without_the_pin_library(lgpio: FakeLgpio, tmp_path: Path) -> None:
    """What lets go of every light claims each output at rest, drives it there, and frees it."""
    outputs = open_outputs(SPEC, tmp_path)
    assert [asked for asked in lgpio.asked if asked[0] != "output"] == []
    for output in outputs.values():
        output.set(True)
        output.set(False)
    assert {pin: lgpio.levels[pin] for pin in LOW | HIGH} == {pin: int(pin in HIGH) for pin in LOW | HIGH}
    for output in outputs.values():
        output.close()
        output.close()
    assert not lgpio.claimed


def test_a_chip_that_is_no_pi_s_is_refused(lgpio: FakeLgpio, tmp_path: Path) -> None:
    """Without a number the chip is found by its label; where there is none, no line is opened on another."""
    for opening in (open_lines, lambda spec: open_outputs(spec, tmp_path)):
        with pytest.raises(LineError, match="no Raspberry Pi GPIO chip is here"):
            opening({**SPEC, "wiring": {**WIRING, "chip": None}})
    assert not lgpio.claimed


def test_every_thread_of_a_keeper_is_hurried() -> None:
    """Threads that a pin library has begun get the keeper's priority too, where any may have it at all."""
    code = (
        "import os, threading, time; from hardware.keeper.process import _hurry\n"
        "threading.Thread(target=time.sleep, args=(30,), daemon=True).start()\n"
        "print(_hurry(), *{os.sched_getscheduler(int(t)) for t in os.listdir('/proc/self/task')})\n"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", code], env={"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() in (["True", str(os.SCHED_FIFO)], ["False", str(os.SCHED_OTHER)])
