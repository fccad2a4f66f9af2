"""What `treadle check` finds on machines of every kind: folders that stand for a Pi's own files."""

from __future__ import annotations

import http.server
import json
import socket
import sqlite3
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import treadle
from controller.backup import backup
from controller.checks import look as looking
from controller.checks.findings import Finding, Report
from controller.checks.look import check
from controller.checks.machine import Machine, run
from controller.checks.network import look_at_name, look_at_port
from controller.checks.pins import look_at_pins, wired
from controller.checks.power import look_at_power
from controller.checks.presses import judge, listen, look_at_pedals
from controller.checks.speed import look_at_lines, look_at_priority
from controller.checks.stores import is_served, look_at_disk, look_at_stores
from controller.data import DataFolder
from controller.entries import Remark
from controller.journal import Journal, Stamp
from controller.shelf import Shelf
from hardware.clock import ManualClock, MonotonicClock
from hardware.errors import LineError
from hardware.lineinfo import ChipInfo, line_user, list_chips
from hardware.practice.faults import Fault
from hardware.practice.room import PracticeRoom
from hardware.spec import GpioSpec, read_spec

PEDAL = "/dev/input/by-id/usb-pedal-event-kbd"
S = 1_000_000_000


def spec(**changes: object) -> GpioSpec:
    body: Mapping[str, object] = {
        "kind": "gpio",
        "factory": "lgpio",
        "lamps": {"lamp": 17},
        "foot": {"pin": 27, "open_pin": 24},
        "sounder": {"pin": 18},
        **changes,
    }
    read = read_spec(body)
    assert isinstance(read, GpioSpec)
    return read


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    root = tmp_path / "machine"
    (root / "dev" / "input" / "by-id").mkdir(parents=True)
    (root / "dev" / "gpiochip4").touch()
    return Machine(
        root=root,
        environment={},
        run=lambda _words: None,
        synchronised=lambda: True,
        may_use_priority=lambda: True,
        may_use=lambda _path, _mode: True,
        hostname=lambda: "darkroom",
    )


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "data")


def put(machine: Machine, path: str, text: str = "") -> None:
    place = machine.at(path)
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text)


def one(findings: Iterator[Finding] | Sequence[Finding], name: str) -> Finding:
    """Return the one finding of that name."""
    (found,) = [finding for finding in findings if finding.name == name]
    return found


def pins(
    machine: Machine,
    given: GpioSpec,
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
    found = one(pins(machine, spec(), labels=("raspberrypi-exp-gpio", "pinctrl-rp1")), "chip")
    assert found.level == "good"
    assert "gpiochip5 (pinctrl-rp1)" in found.words


def test_no_chip_of_a_pi_is_a_must(machine: Machine) -> None:
    """Without a chip of a Pi's label nothing can be lit; what is there is named."""
    found = one(pins(machine, spec(), labels=("gpio-mockup",)), "chip")
    assert found.level == "must"
    assert "gpio-mockup" in found.words


def test_a_chip_that_may_not_be_used_wants_the_group(machine: Machine) -> None:
    """Where the device is there and shut, the remedy is the group gpio, and no missing chip is spoken of."""
    found = pins(replace(machine, may_use=lambda _path, _mode: False), spec(), labels=())
    assert one(found, "group").level == "must"
    assert "usermod -aG gpio" in one(found, "group").words
    assert not [f for f in found if f.name == "chip"]


def test_a_chip_number_that_is_not_there(machine: Machine) -> None:
    """A number in the wiring file that leads nowhere is a must, with the remedy to leave it out."""
    assert "take “chip” out" in one(pins(machine, spec(chip=9)), "chip").words


def test_a_line_that_is_held_is_named_with_its_holder(machine: Machine) -> None:
    """A line that another program holds is a must that names pin, use and holder; free lines are good."""
    assert one(pins(machine, spec()), "line").level == "good"
    found = one(pins(machine, spec(), held=24), "line")
    assert found.level == "must"
    assert "GPIO 24 (foot (open_pin)) is held by “other”" in found.words


def test_lines_that_a_running_daemon_holds_are_no_fault(machine: Machine) -> None:
    """While a daemon runs, its hold on the lines is not taken for somebody else's."""
    assert not [f for f in pins(machine, spec(), held=17, daemon=True) if f.name == "line"]


def test_every_wired_pin_is_looked_at() -> None:
    """Lamps, contacts, sounder and outlets, each by its name."""
    given = spec(lid={"pin": 23}, safelight={"pin": 22}, alive={"pin": 26, "active_high": False})
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
    found = one(pins(machine, spec()), "strict-gpiod")
    assert found.level == level
    assert level == "good" or "dtparam=strict_gpiod" in found.words


def test_a_kernel_that_does_not_say_is_advice(machine: Machine) -> None:
    """Where the kernel has no such parameter the remedy is advised all the same."""
    assert one(pins(machine, spec()), "strict-gpiod").level == "advice"


def test_each_lamp_line_wants_its_pull_down(machine: Machine) -> None:
    """The resistor that no program can see is advised for every lamp line, with its pin."""
    found = [f for f in pins(machine, spec(lamps={"soft": 17, "hard": 22})) if f.name == "pull-down"]
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


class Foot:
    """A pedal that is pressed on the clock's time."""

    missing: tuple[str, ...] = ()

    def __init__(self, clock: ManualClock, edges: Sequence[tuple[int, bool]]) -> None:
        self._clock, self._edges, self.closings = clock, list(edges), 0

    def fileno(self) -> None:
        return None

    def edges(self) -> list[tuple[int, bool]]:
        come = [edge for edge in self._edges if edge[0] <= self._clock.now_ns()]
        self._edges = self._edges[len(come) :]
        return come

    def closed(self) -> bool:
        return len(self._edges) % 2 == 1

    def close(self) -> None:
        self.closings += 1


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


# ---- power, clock, priority


@pytest.mark.parametrize(
    ("said", "level"), [("throttled=0x0\n", "good"), ("throttled=0x50000\n", "advice"), ("throttled=0x50005\n", "must")]
)
def test_the_firmware_tells_of_low_voltage(machine: Machine, said: str, level: str) -> None:
    """Under-voltage now must be mended; one that has been is advice."""
    assert look_at_power(replace(machine, run=lambda _words: said)).level == level


@pytest.mark.parametrize(("alarm", "level"), [("0\n", "good"), ("1\n", "advice")])
def test_the_kernels_sensor_tells_of_low_voltage(machine: Machine, alarm: str, level: str) -> None:
    """Where the firmware cannot be asked, the kernel's own sensor is, by its name."""
    put(machine, "/sys/class/hwmon/hwmon0/name", "cpu_thermal\n")
    put(machine, "/sys/class/hwmon/hwmon3/name", "rpi_volt\n")
    put(machine, "/sys/class/hwmon/hwmon3/in0_lcrit_alarm", alarm)
    assert look_at_power(machine).level == level


def test_elsewhere_the_voltage_is_not_known(machine: Machine) -> None:
    """On a machine that is no Pi nothing is claimed."""
    assert "not known here" in look_at_power(machine).words


def test_a_command_that_is_not_there_says_nothing() -> None:
    """A missing or failing command is no answer; another one's output is."""
    assert run(["/nowhere/vcgencmd"]) is None
    assert run(["false"]) is None
    assert run(["echo", "here"]) == "here\n"


def test_priority_that_is_not_allowed_is_advice(machine: Machine) -> None:
    """Without real-time priority there is light all the same, later: advice."""
    assert look_at_priority(machine).level == "good"
    assert look_at_priority(replace(machine, may_use_priority=lambda: False)).level == "advice"


# ---- the card and what lies on it


@pytest.mark.parametrize(("ms", "level"), [(20, "good"), (450, "advice"), (1500, "must")])
def test_a_slow_card_is_told(tmp_path: Path, ms: int, level: str) -> None:
    """A card on which an intent cannot be noted in time must be replaced; one that is slow is advice."""
    assert one(list(look_at_disk(tmp_path, write_ms=lambda _folder: ms)), "card").level == level


def test_a_folder_that_cannot_be_written_is_a_must(tmp_path: Path) -> None:
    """A read-only card is a must, and its speed is not spoken of."""

    def refuse(_folder: Path) -> int:
        raise OSError(30, "Read-only file system")

    (found,) = look_at_disk(tmp_path, write_ms=refuse)
    assert (found.name, found.level) == ("disk", "must")
    assert "Read-only" in found.words


def test_measuring_the_card_leaves_nothing_behind(tmp_path: Path) -> None:
    """What was written to try the card is gone again."""
    assert {f.level for f in look_at_disk(tmp_path)} <= {"good", "advice", "must"}
    assert list(tmp_path.iterdir()) == []


def filled(data: DataFolder, rows: int) -> None:
    """Put rows into the journal, and make a shelf."""
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    for number in range(rows):
        journal.append(Remark(sheet="s", text=f"remark {number}"))
    journal.close()
    Shelf.open(data.shelf).close()


def test_a_journal_cut_to_nothing_is_told_from_a_new_one(data: DataFolder) -> None:
    """A journal of 0 bytes looks new: with backups that have rows it is a must, and the file is left as it is."""
    assert [f.level for f in look_at_stores(data, daemon=False)] == ["good", "good"]
    assert not data.journal.exists()
    filled(data, 3)
    backup(data, date(2026, 3, 1))
    assert all(f.level == "good" for f in look_at_stores(data, daemon=False))
    data.journal.write_bytes(b"")
    found = one(list(look_at_stores(data, daemon=False)), "backups")
    assert found.level == "must"
    assert "treadle restore 2026-03-01" in found.words
    assert data.journal.stat().st_size == 0


def test_a_journal_that_was_begun_again_after_the_loss_is_told_too(data: DataFolder) -> None:
    """A journal with fewer rows than a backup has lost some, also once a daemon has written to it again."""
    filled(data, 5)
    backup(data, date(2026, 3, 1))
    data.journal.unlink()
    filled(data, 1)
    found = one(list(look_at_stores(data, daemon=False)), "backups")
    assert (found.level, "row 1" in found.words, "5 rows" in found.words) == ("must", True, True)


def test_a_journal_that_was_set_aside_on_purpose_is_advice(data: DataFolder) -> None:
    """Where the printer set the journal aside, fewer rows are no loss that must be mended."""
    filled(data, 5)
    backup(data, date(2026, 3, 1))
    Journal.start_fresh(data.journal)
    assert one(list(look_at_stores(data, daemon=False)), "backups").level == "advice"


def test_a_damaged_journal_is_a_must(data: DataFolder) -> None:
    """A journal that is no database, or whose pages are broken, must be mended; the file is left as it is."""
    filled(data, 2)
    broken = b"no database" * 500
    data.journal.write_bytes(broken)
    found = one(list(look_at_stores(data, daemon=False)), "journal")
    assert found.level == "must"
    assert data.journal.read_bytes() == broken


def test_a_journal_in_use_is_compared_all_the_same(data: DataFolder) -> None:
    """While a daemon has the journal it is only looked at, and still compared with the backups."""
    filled(data, 4)
    backup(data, date(2026, 3, 1))
    data.journal.unlink()
    owner = DataFolder(data.path)
    owner.lock()
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    try:
        journal.append(Remark(sheet="s", text="new"))
        assert is_served(data)
        assert [f.name for f in look_at_stores(data, daemon=True)] == ["backups"]
    finally:
        journal.close()
        owner.unlock()
    assert not is_served(data)
    with closing(sqlite3.connect(data.journal)) as connection:
        assert connection.execute("SELECT count(*) FROM rows").fetchone() == (1,)


# ---- the network


class _Answer(http.server.BaseHTTPRequestHandler):
    body: bytes = b""
    status = 200

    def do_GET(self) -> None:
        self.send_response(self.status)
        self.end_headers()
        self.wfile.write(self.body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Say nothing."""


@pytest.mark.parametrize(
    ("status", "body", "level"),
    [
        (200, {"ok": True, "keeper": "ready", "practice": True}, "good"),
        (503, {"ok": False, "keeper": "away", "practice": False}, "good"),
        (200, {"hello": "world"}, "must"),
        (404, None, "must"),
    ],
)
def test_a_port_is_free_ours_or_taken(status: int, body: object, level: str) -> None:
    """A port with Treadle behind it is good, well or ill; with another program behind it, it is a must."""
    answer = type("Answer", (_Answer,), {"status": status, "body": json.dumps(body).encode()})
    with http.server.HTTPServer(("127.0.0.1", 0), answer) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            assert look_at_port(server.server_port).level == level
        finally:
            server.shutdown()
            thread.join()
    with socket.socket() as free:
        free.bind(("", 0))
        port = free.getsockname()[1]
    assert "is free" in look_at_port(port).words


def test_a_port_that_says_nothing_is_taken() -> None:
    """A program that listens and is no page is another program."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert look_at_port(port).level == "must"


def test_the_name_on_the_network(machine: Machine) -> None:
    """A name that is announced is good; one that is not, or none at all, is advice."""
    (unsaid,) = look_at_name(machine, 8090)
    assert (unsaid.level, "avahi-daemon" in unsaid.words) == ("advice", True)
    put(machine, "/run/avahi-daemon/pid", "1\n")
    (said,) = look_at_name(machine, 8090)
    assert (said.level, "http://darkroom.local:8090" in said.words) == ("good", True)
    (none,) = look_at_name(replace(machine, hostname=lambda: "localhost"), 8090)
    assert (none.level, "hostnamectl" in none.words) == ("advice", True)


# ---- the lines of a practice darkroom, and the whole


@pytest.mark.parametrize(
    ("fault", "name", "level"), [(Fault.NO_SOUNDER, "sounder", "advice"), (Fault.CONTACT_STUCK, "contact", "must")]
)
def test_a_fault_of_the_lines_is_found(tmp_path: Path, fault: Fault, name: str, level: str) -> None:
    """A real keeper on practice lines tells of a missing sounder and of a contact that is closed at rest."""
    with PracticeRoom(tmp_path) as room:
        room.fault(fault)
        found = list(look_at_lines({"kind": "practice", "runtime": str(tmp_path)}, tmp_path))
    assert one(found, name).level == level


def test_a_practice_darkroom_has_nothing_that_must_be_mended(data: DataFolder, machine: Machine) -> None:
    """The whole check of a fresh practice darkroom: every subject once, nothing that must be mended, exit 0."""
    report = check(data, simulate=True, port=0, machine=machine)
    assert report.good, [f for f in report.findings if f.level == "must"]
    names = [f.name for f in report.findings]
    assert {"disk", "card", "journal", "clock", "power", "priority", "keeper", "memory", "sounder", "contact"} <= {
        *names
    }
    assert {"port", "name", "lines"} <= {*names}
    assert len(names) == len(set(names))
    assert all(line.startswith(("good: ", "advice: ")) for line in report.lines())
    assert not [line for line in report.lines() if "\n" in line]


def test_real_lines_without_a_wiring_file_must_be_mended(data: DataFolder, machine: Machine) -> None:
    """Without a wiring file nothing real can be lit: a must, and the report is not good."""
    report = check(data, simulate=False, port=0, machine=machine)
    assert one(report.findings, "wiring").level == "must"
    assert not report.good


def test_a_press_is_asked_for_by_name(data: DataFolder, machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a pedal wired, each one is asked for by its path, and what was heard is judged."""
    monkeypatch.setattr(
        "hardware.pedals.open_pedals", lambda paths: Foot(ManualClock(9**18), [(S, True), (3 * S, False)])
    )
    asked: list[str] = []
    found = list(looking._try((PEDAL,), asked.append, daemon=False))
    assert [PEDAL in words and "two seconds" in words for words in asked] == [True]
    assert [f.level for f in found] == ["good"]
    assert [f.level for f in looking._try((PEDAL,), asked.append, daemon=True)] == ["advice"]
    assert [f.level for f in looking._try((), asked.append, daemon=False)] == ["advice"]
    assert len(asked) == 1


def test_the_exit_tells_whether_something_must_be_mended(
    data: DataFolder, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 1 only where something must be mended; `--json` prints every finding with its level."""
    for level, exit_ in (("good", 0), ("advice", 0), ("must", 1)):
        finding = Finding(name="it", level=level, words="It is so.")
        monkeypatch.setattr(looking, "check", lambda *_, f=finding, **__: Report(findings=(f,)))
        assert treadle.main(["check", "--simulate", "--json", "--data", str(data.path)]) == exit_
        assert json.loads(capsys.readouterr().out)["findings"][0]["level"] == level
