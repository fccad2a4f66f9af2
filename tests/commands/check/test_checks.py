"""What `treadle check` finds of the network and of a practice darkroom's lines, and the whole of it."""

from __future__ import annotations

import http.server
import json
import socket
import threading
from contextlib import ExitStack, closing
from dataclasses import replace
from pathlib import Path

import pytest
from tools.checks_bench import PEDAL, Foot, S, one, put

import treadle
from controller.addresses import Places
from controller.commands.check import look as looking
from controller.commands.check.findings import Finding, Report
from controller.commands.check.keeper_start import look_at_lines
from controller.commands.check.look import check
from controller.commands.check.machine import Machine
from controller.commands.check.network import look_at_name, look_at_network, look_at_page, look_at_port
from controller.store.folder import DataFolder
from hardware.clock import ManualClock
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom

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


def test_each_address_is_tried_while_the_page_is_served() -> None:
    """What answers as ours is good, well or ill; a refusal, silence, or a name nobody knows is told with its remedy."""
    ours = json.dumps({"ok": False, "keeper": "away", "practice": False}).encode()
    with closing(socket.socket()) as quiet, ExitStack() as stack:
        quiet.bind(("127.0.0.1", 0))
        places = [f"http://127.0.0.1:{quiet.getsockname()[1]}"]
        for status, body in ((503, ours), (403, b"<p>no"), (200, b"{}")):
            answer = type("Answer", (_Answer,), {"status": status, "body": body})
            server = stack.enter_context(http.server.HTTPServer(("127.0.0.1", 0), answer))
            thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
            thread.start()
            stack.callback(thread.join)
            stack.callback(server.shutdown)
            places.append(f"http://127.0.0.1:{server.server_port}")
        where = Places(local=places[1], name="http://nobody.invalid:80", addresses=(places[0], *places[2:]))
        found = list(look_at_page(where))
    assert [(each.level, each.name) for each in found] == [("good", "page"), *[("advice", "page")] * 4]
    remedies = ("answers", "avahi", "systemctl restart", "403", "200")
    for each, place, remedy in zip(found, where.every(), remedies, strict=True):
        assert place in each.words
        assert remedy in each.words


@pytest.mark.parametrize(
    ("manager", "said"), [("nmcli tool, version 1.52", "nmcli device wifi hotspot"), (None, "needs")]
)
def test_a_machine_without_a_network_is_told(machine: Machine, manager: str | None, said: str) -> None:
    """Where no network is, it is said how this machine becomes one, by its own manager: advice."""
    alone = replace(machine, run=lambda words: manager if words[0] == "nmcli" else None)
    (found,) = look_at_network(alone)
    assert (found.name, found.level) == ("network", "advice")
    assert said in found.words
    assert "no-network.md" in found.words


def test_a_machine_on_a_network_is_told_so(machine: Machine) -> None:
    """Where it has an address, that is good, and named."""
    put(machine, "/proc/self/net/if_inet6", "20010db8000000000000000000000031 02 40 00 80     wlan0\n")
    (found,) = look_at_network(machine)
    assert found.level == "good"
    assert "2001:db8::31" in found.words


# ---- the lines of a practice darkroom, and the whole


@pytest.mark.parametrize(
    ("fault", "name", "level"),
    [(PracticeFault.NO_SOUNDER, "sounder", "advice"), (PracticeFault.CONTACT_STUCK, "contact", "must")],
)
@pytest.mark.usefixtures("by_real_time")
def test_a_fault_of_the_lines_is_found(tmp_path: Path, fault: PracticeFault, name: str, level: str) -> None:
    """A real keeper on practice lines tells of a missing sounder and of a contact that is closed at rest."""
    with PracticeDarkroom(tmp_path) as room:
        room.fault(fault)
        found = list(look_at_lines({"kind": "practice", "runtime": str(tmp_path)}, tmp_path))
    assert one(found, name).level == level


@pytest.mark.usefixtures("by_real_time")
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
    assert all(line.startswith(("good: ", "advice: ", "not known: ")) for line in report.lines())
    assert not [line for line in report.lines() if "\n" in line]


@pytest.mark.usefixtures("by_real_time")
def test_real_lines_without_a_wiring_file_must_be_mended(data: DataFolder, machine: Machine) -> None:
    """Without a wiring file nothing real can be lit: a must, and the report is not good."""
    report = check(data, simulate=False, port=0, machine=machine)
    assert one(report.findings, "wiring").level == "must"
    assert not report.good


def test_a_press_is_asked_for_by_name(data: DataFolder, machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a pedal wired, each one is asked for by its path, and what was heard is judged."""
    monkeypatch.setattr(
        "hardware.lines.pedals.open_pedals", lambda paths: Foot(ManualClock(9**18), [(S, True), (3 * S, False)])
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
