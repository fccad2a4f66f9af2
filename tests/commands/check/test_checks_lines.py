"""What `treadle check` finds of a Pi's lines and pedals: folders that stand for a Pi's own files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from tools.checks_bench import PEDAL, Foot, S, one, put

from controller.commands.check.findings import Finding
from controller.commands.check.machine import Machine
from controller.commands.check.pedals import judge, listen, look_at_pedals
from controller.commands.check.pi import look_at_pins, wired
from hardware.clock import ManualClock
from hardware.errors import LineError
from hardware.lines.chip import ChipInfo, line_user, list_chips
from hardware.wiring import Wiring, read_wiring


def wiring(**changes: object) -> Wiring:
    lamps = {} if "filters" in changes else {"lamp": {"pin": 17}}
    body = {**lamps, "foot": {"pin": 27, "open_pin": 24}, "sounder": {"pin": 18}}
    return read_wiring({**body, **changes}, "wiring.toml")


def pins(
    machine: Machine,
    given: Wiring,
    *,
    labels: Sequence[str] = ("pinctrl-bcm2711",),
    held: int = 0,
    daemon: bool = False,
) -> list[Finding]:
    chips = [ChipInfo(machine.at(f"/dev/gpiochip{n}"), label, 58) for n, label in enumerate(labels, start=4)]
    return list(
        look_at_pins(
            given,
            machine,
            daemon=daemon,
            list_chips=lambda _devices: chips,
            line_user=lambda _chip, pin: "other" if pin == held else None,
        )
    )


# ---- the Pi's lines


def test_the_chip_is_found_by_its_label(machine: Machine) -> None:
    """Whatever its number, the chip with a Pi's label is the one; it is good."""
    found = one(pins(machine, wiring(), labels=("raspberrypi-exp-gpio", "pinctrl-rp1")), "chip")
    assert found.level == "good"
    assert "gpiochip5 (pinctrl-rp1)" in found.words


def test_no_chip_of_a_pi_is_a_must(machine: Machine) -> None:
    """Without a chip of a Pi's label nothing can be lit; what is there is named."""
    found = one(pins(machine, wiring(), labels=("gpio-mockup",)), "chip")
    assert found.level == "must"
    assert "gpio-mockup" in found.words


def test_a_chip_that_may_not_be_used_wants_the_group(machine: Machine) -> None:
    """Where the device is there and shut, the remedy is the group gpio, and no missing chip is spoken of."""
    found = pins(replace(machine, may_use=lambda _path, _mode: False), wiring(), labels=())
    assert one(found, "group").level == "must"
    assert "usermod -aG gpio" in one(found, "group").words
    assert not [f for f in found if f.name == "chip"]


def test_a_chip_number_that_is_not_there(machine: Machine) -> None:
    """A number in the wiring file that leads nowhere is a must, with the remedy to leave it out."""
    assert "take “chip” out" in one(pins(machine, wiring(chip=9)), "chip").words


def test_a_line_that_is_held_is_named_with_its_holder(machine: Machine) -> None:
    """A line that another program holds is a must that names pin, use and holder; free lines are good."""
    assert one(pins(machine, wiring()), "line").level == "good"
    found = one(pins(machine, wiring(), held=24), "line")
    assert found.level == "must"
    assert "GPIO 24 (foot (open_pin)) is held by “other”" in found.words


def test_lines_that_a_running_daemon_holds_are_no_fault(machine: Machine) -> None:
    """While a daemon runs, its hold on the lines is not taken for somebody else's."""
    assert not [f for f in pins(machine, wiring(), held=17, daemon=True) if f.name == "line"]


def test_every_wired_pin_is_looked_at() -> None:
    """Lamps, contacts, sounder and outlets, each by its name."""
    given = wiring(lid={"pin": 23}, safelight={"pin": 22}, alive={"pin": 26, "active_high": False})
    assert wired(given) == {
        "lamp": 17,
        "foot": 27,
        "foot (open_pin)": 24,
        "sounder": 18,
        "lid": 23,
        "safelight": 22,
        "alive": 26,
    }


@pytest.mark.parametrize("module", ["pinctrl_bcm2835", "pinctrl_rp1"])
@pytest.mark.parametrize(("value", "level"), [("N\n", "good"), ("Y\n", "must")])
def test_a_kernel_that_keeps_lines_is_a_must(machine: Machine, module: str, value: str, level: str) -> None:
    """persist_gpio_outputs wants N, on either chip; else the remedy is the line in config.txt."""
    put(machine, f"/sys/module/{module}/parameters/persist_gpio_outputs", value)
    found = one(pins(machine, wiring()), "strict-gpiod")
    assert found.level == level
    assert level == "good" or "dtparam=strict_gpiod" in found.words


def test_a_kernel_that_does_not_say_is_advice(machine: Machine) -> None:
    """Where the kernel has no such parameter the remedy is advised all the same."""
    assert one(pins(machine, wiring()), "strict-gpiod").level == "advice"


def test_each_lamp_line_wants_its_pull_down(machine: Machine) -> None:
    """The resistor that no program can see is advised for every lamp line, with its pin."""
    two = wiring(filters="lines", lamp_soft={"pin": 17}, lamp_hard={"pin": 22})
    found = [f for f in pins(machine, two) if f.name == "pull-down"]
    assert [f.level for f in found] == ["advice", "advice"]
    assert "10 kΩ from GPIO 22" in found[1].words


def test_the_kernels_own_words_are_read(tmp_path: Path) -> None:
    """Chip and line are read from what the kernel's device answers, byte for byte (linux/gpio.h)."""
    asked: list[int] = []

    def ioctl(_fd: int, question: int, form: bytes) -> bytes:
        asked.append(question)
        if question == 0x8044B401:
            return b"gpiochip0".ljust(32, b"\0") + b"pinctrl-rp1".ljust(32, b"\0") + (54).to_bytes(4, "little")
        assert len(form) == 256
        line = int.from_bytes(form[64:68], "little")
        flags = 1 if line == 17 else 0
        return b"GPIO".ljust(32, b"\0") + b"lg".ljust(32, b"\0") + form[64:72] + flags.to_bytes(8, "little") + form[80:]

    (tmp_path / "gpiochip0").touch()
    (chip,) = list_chips(tmp_path, ioctl)
    assert (chip.label, chip.lines) == ("pinctrl-rp1", 54)
    assert line_user(chip.device, 17, ioctl) == "lg"
    assert line_user(chip.device, 27, ioctl) is None
    assert asked == [0x8044B401, 0xC100B405, 0xC100B405]


# ---- pedals


@pytest.mark.parametrize(("wired_foot", "level"), [(True, "advice"), (False, "must")])
def test_a_missing_pedal_matters_where_it_is_alone(machine: Machine, wired_foot: bool, level: str) -> None:
    """A pedal that is not plugged in is advice beside a wired foot switch, and a must without one."""
    found = list(look_at_pedals([PEDAL], machine, wired_foot=wired_foot, trying=False))
    assert one(found, "pedal").level == level


def test_a_pedal_that_may_not_be_read_wants_the_group(machine: Machine) -> None:
    """A pedal that is there and shut wants the group input; one that may be read is good."""
    put(machine, PEDAL)
    assert one(list(look_at_pedals([PEDAL], machine, wired_foot=True, trying=False)), "pedal").level == "good"
    shut = replace(machine, may_use=lambda _path, _mode: False)
    found = one(list(look_at_pedals([PEDAL], shut, wired_foot=True, trying=False)), "group")
    assert "usermod -aG input" in found.words


def test_how_to_try_a_press_is_said(machine: Machine) -> None:
    """Where a pedal is wired and no press is tried, the way to try one is said."""
    assert "--press" in one(list(look_at_pedals([PEDAL], machine, wired_foot=True, trying=False)), "press").words
    assert not [f for f in look_at_pedals([PEDAL], machine, wired_foot=True, trying=True) if f.name == "press"]


@pytest.mark.parametrize(
    ("edges", "level", "words"),
    [
        ([], "must", "Nothing was heard"),
        ([(5 * S, True), (5 * S + 4_000_000, False)], "must", "down and up at once"),
        ([(5 * S, True), (7 * S, False)], "good", "2.0 s"),
        ([(S, True), (S + 1_000_000, False), (2 * S, True), (4 * S, False)], "good", "2.0 s"),
        ([(5 * S, True), (5 * S + S // 2, False)], "advice", "0.5 s"),
        ([(2 * S, True)], "advice", "8.0 s"),
    ],
)
def test_a_press_of_two_seconds_is_judged(edges: list[tuple[int, bool]], level: str, words: str) -> None:
    """Nothing heard and down and up at once must be mended; a press of about two seconds is good."""
    found = judge(PEDAL, edges, 10 * S)
    assert (found.level, words in found.words) == (level, True)


def test_a_pedal_is_listened_to_for_ten_seconds() -> None:
    """The ear waits for the press, ends with it, gives up after ten seconds, and lets the pedal go each time."""
    clock = ManualClock(100 * S)
    foot = Foot(clock, [(103 * S, True), (105 * S, False)])
    assert listen(PEDAL, lambda _paths: foot, clock).level == "good"
    assert 105 * S <= clock.now_ns() <= 106 * S
    silent = Foot(clock, [])
    began = clock.now_ns()
    assert listen(PEDAL, lambda _paths: silent, clock).level == "must"
    assert (clock.now_ns() - began) // S == 10
    assert foot.closings == silent.closings == 1


def test_a_pedal_that_cannot_be_heard_at_all_is_said() -> None:
    """Without the library, or with the pedal away, the ear does not wait for ten seconds."""

    def without(_paths: Sequence[str]) -> Foot:
        raise LineError("install python3-evdev")

    clock = ManualClock(0)
    assert listen(PEDAL, without, clock).words == "install python3-evdev"
    away = Foot(clock, [])
    away.missing = (PEDAL,)
    assert listen(PEDAL, lambda _paths: away, clock).level == "must"
    assert clock.now_ns() == 0
