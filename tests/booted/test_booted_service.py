"""The service on a booted machine, from its installation to its end.

Debian's own systemd in a container, without any network: practice lines, and a card of its own for the data. What is
judged is the order of things and how they end, never a moment. Each test has the machine stand as it needs it, whatever
the one before left: in the order of the file that costs next to nothing, and any of them can be played alone or again.
"""

from __future__ import annotations

import json
import re
import time
from functools import partial

import pytest
from booted.conftest import CLONE
from booted.container import Container

INSTALL = f"{CLONE}/hardware/service/install"
CARD = "/var/lib/treadle"
PRACTICE = f"{CARD}/treadle-practice"
OLD_CARD = f"{CARD}/old-card"
STICK = "/media/stick"
DROP_INS = "/etc/systemd/system/treadle.service.d"
MENDED = f"""
rm -rf {CARD}/full* /run/treadle/starts-tried
systemctl --quiet is-active other && systemctl stop other
if [ -d {OLD_CARD} ]; then systemctl stop treadle; rm -rf {PRACTICE}; mv {OLD_CARD} {PRACTICE}; fi
chown -R treadle: {CARD}
systemctl --quiet is-active treadle && systemctl show -P StatusText treadle
"""
"""Undoes what a test that broke may have left, and says how a service that runs stands."""
FOOT = f"""
import sys, time
sys.path.insert(0, "{CLONE}")
from pathlib import Path
from hardware.practice.practice_darkroom import PracticeDarkroom
room = PracticeDarkroom(Path("/run/treadle"))
for _ in range(6):
    room.press(1300)  # held, and held again: white light, asked for and granted
    time.sleep(0.8)
    room.press(1300)
    for _ in range(40):
        if room.driven():
            sys.exit(0)
        time.sleep(0.1)
sys.exit("no light, however often it was asked for")
"""
DRIVEN = f"""
import sys
sys.path.insert(0, "{CLONE}")
from pathlib import Path
from hardware.practice.practice_darkroom import PracticeDarkroom
print(PracticeDarkroom(Path("/run/treadle")).driven())
"""


def show(machine: Container, name: str) -> str:
    return machine.say(f"systemctl show -P {name} treadle")


def status(machine: Container) -> dict[str, object]:
    told = machine.run("treadle status --simulate --json")
    answer: dict[str, object] = json.loads(told.stdout) if told.returncode == 0 else {}
    return answer


def ready(machine: Container) -> bool:
    return (
        machine.run("systemctl is-active --quiet treadle").returncode == 0 and status(machine).get("keeper") == "ready"
    )


def python(machine: Container, script: str) -> str:
    return machine.say(f"runuser -u treadle -- {CLONE}/.venv/bin/python -c '{script}'")


def driven(machine: Container) -> bool:
    return python(machine, DRIVEN) == "True"


def journal(machine: Container, since: str = "") -> str:
    after = f"--after-cursor='{since}'" if since else ""
    return machine.say(f"journalctl -u treadle -o cat --no-pager {after}")


def warnings(told: str) -> list[str]:
    return [line for line in told.splitlines() if re.search("WARNING|ERROR", line)]


def fill(machine: Container) -> None:
    """Leave no room on the card, to the last block."""
    for size in ("1M", "1k"):
        assert machine.run(f"dd if=/dev/zero of=/var/lib/treadle/full-{size} bs={size}").returncode != 0


def now_in_journal(machine: Container) -> str:
    return machine.say("journalctl -u treadle -n0 --show-cursor --no-pager | sed -n 's/^-- cursor: //p'")


def page(machine: Container, address: str, path: str = "/health") -> int:
    ask = f'import urllib.request as u; print(u.urlopen("{address}{path}", timeout=10).status)'
    return int(machine.say(f"python3 -c '{ask}'"))


def stand(machine: Container) -> None:
    """Have the service of practice lines ready and dark."""
    if not has(machine, f"{DROP_INS}/practice.conf"):
        machine.say(f"{INSTALL} --lean --practice")
    if not machine.run(MENDED).stdout.startswith("lamp dark"):
        machine.say("systemctl restart treadle")
        machine.wait(lambda: ready(machine) and not driven(machine), 60)


def has(machine: Container, place: str) -> bool:
    return machine.run(f"test -e {place}").returncode == 0


@pytest.fixture
def installed(machine: Container) -> Container:
    """A machine on which it is installed for lines of its own, which nobody has told it, and nothing runs."""
    if not has(machine, "/usr/local/bin/treadle") or has(machine, f"{DROP_INS}/practice.conf"):
        machine.say(f"{INSTALL} --lean")
    machine.say(f"systemctl stop treadle; rm -f {CARD}/full*")
    return machine


@pytest.fixture
def serving(machine: Container) -> Container:
    """A machine on which the service of practice lines is ready, and dark."""
    stand(machine)
    return machine


def test_it_is_installed_on_plain_debian_without_a_network(machine: Container) -> None:
    """Where apt has no pin library pip's is taken; a clone for its owner's eyes alone works; nothing is started."""
    if has(machine, f"{CLONE}/.venv"):
        machine.run(f"{INSTALL} --remove; rm -rf {CLONE}/.venv {PRACTICE}; chmod -R go-rwx {CLONE}")
    began = time.monotonic()
    done = machine.run(f"{INSTALL} --lean")
    print(f"installed in {time.monotonic() - began:.1f} s")
    assert done.returncode == 0, done.stderr
    assert "sudo treadle check" in done.stderr.splitlines()[-1]
    assert "lgpio" in machine.say(f"ls {CLONE}/.venv/lib/python3.11/site-packages")
    assert machine.say("systemctl is-enabled treadle") == "enabled"
    assert machine.run("systemctl is-active treadle").stdout.strip() == "inactive"
    compiled = machine.say(f"ls {CLONE}/controller/daemon/__pycache__ | wc -l")
    assert int(compiled) > 10
    assert machine.say("treadle --version").startswith("treadle ")


def test_without_wiring_it_is_not_even_tried(installed: Container) -> None:
    """A start without a wiring file leaves the service where it was, and `treadle status` says how to start it."""
    installed.say("systemctl start treadle")
    assert show(installed, "ActiveState") == "inactive"
    told = installed.run("treadle status")
    assert told.returncode == 1
    assert "systemctl start treadle" in told.stderr


def test_a_check_always_finishes_its_list(installed: Container) -> None:
    """On a full card, before anything was ever started, each finding is told, and the card's is one of them."""
    fill(installed)
    try:
        told = installed.run("treadle check --simulate --json")
        assert told.returncode == 1, told.stderr
        findings = {one["name"]: one["level"] for one in json.loads(told.stdout)["findings"]}
        assert findings["disk"] == "must"
        assert {"python", "clock", "power", "port", "name", "network"} <= set(findings)
        said = installed.run(
            "runuser -u treadle -- env STATE_DIRECTORY=/var/lib/treadle RUNTIME_DIRECTORY=/run/treadle "
            f"{CLONE}/.venv/bin/treadle serve --simulate",
            seconds=60,
        )
        assert said.returncode != 0
        assert "No space left on device" in said.stderr
        assert "Traceback" not in said.stderr
    finally:
        installed.say("rm /var/lib/treadle/full*")


def test_practice_lines_by_a_drop_in(installed: Container) -> None:
    """Installed again, offline, for practice: pip has nothing to do, and the service starts, ready and dark."""
    began = time.monotonic()
    done = installed.run(f"{INSTALL} --lean --practice")
    print(f"installed again in {time.monotonic() - began:.1f} s")
    assert done.returncode == 0, done.stderr
    began = time.monotonic()
    installed.say("systemctl start treadle")
    print(f"started in {time.monotonic() - began:.1f} s")
    assert ready(installed)
    assert show(installed, "NRestarts") == "0"
    assert not driven(installed)
    installed.wait(lambda: show(installed, "StatusText"))
    assert show(installed, "StatusText") == "lamp dark; http://darkroom.local:8090"
    assert installed.say("systemctl show -P User treadle") == "treadle"


def test_an_address_that_comes_after_the_start(serving: Container) -> None:
    """An address that came after the start is answered at, and is told by systemctl, by pairing and by status."""
    serving.run("ip link del lan")
    serving.say("ip link add lan type veth peer name far && ip link set far up && ip link set lan up")
    serving.say("ip addr add 192.168.77.5/24 dev lan")
    place = "http://192.168.77.5:8090"
    assert page(serving, place) == 200
    assert place in serving.say("treadle pair --simulate")
    assert place in serving.say("treadle status --simulate")
    serving.wait(lambda: place in show(serving, "StatusText"))


def lit(machine: Container) -> None:
    """Have a foot light the lamp, and see that systemctl says so."""
    python(machine, FOOT)
    assert driven(machine)
    machine.wait(lambda: show(machine, "StatusText").startswith("lamp lit"))


def dark_and_back(machine: Container, pid: str) -> None:
    machine.wait(lambda: not driven(machine), 60)
    machine.wait(lambda: ready(machine) and show(machine, "MainPID") != pid, 60)
    assert not driven(machine)


@pytest.mark.parametrize(
    ("done", "said"),
    [
        ("kill -9 {pid}", "status=9/KILL"),
        ("systemctl kill -s KILL treadle", "status=9/KILL"),
        ("kill -STOP {pid}", "Watchdog timeout"),
        ("systemctl restart treadle", ""),
    ],
    ids=["kill -9 main", "kill -9 all", "stop main", "restart"],
)
def test_it_ends_dark_and_comes_back(serving: Container, done: str, said: str) -> None:
    """Killed, hung or started again in a light: first the lamp is dark, then another daemon is ready, dark."""
    lit(serving)
    cursor = now_in_journal(serving)
    pid = show(serving, "MainPID")
    serving.say(done.format(pid=pid))
    dark_and_back(serving, pid)
    told = journal(serving, cursor)
    assert said in told
    assert "Traceback" not in told
    if not said:
        assert not warnings(told)


def test_an_ordinary_stop_warns_of_nothing(serving: Container) -> None:
    """Told to stop in a light it goes dark, ends well, and leaves no warning in the journal."""
    lit(serving)
    cursor = now_in_journal(serving)
    serving.say("systemctl stop treadle")
    assert not driven(serving)
    told = journal(serving, cursor)
    assert not warnings(told)
    assert show(serving, "Result") == "success"
    serving.say("systemctl start treadle")


def test_a_full_card_while_it_serves(serving: Container) -> None:
    """With the card full it serves on, says that it is not well, and is well again once there is room."""
    health = partial(
        serving.run,
        "python3 -c 'import urllib.request as u; print(u.urlopen(\"http://127.0.0.1:8090/health\").read())'",
    )
    assert health().returncode == 0
    fill(serving)
    try:
        assert "503" in health().stderr
    finally:
        serving.say("rm /var/lib/treadle/full*")
    assert health().returncode == 0


def test_an_import_beside_the_service_says_how_to_stop_it(serving: Container) -> None:
    """What needs the data to itself names the command that stops the service; an export says who may not write."""
    serving.say("rm -rf /tmp/sheets")
    serving.say("treadle export --simulate /tmp/sheets")
    told = serving.run("treadle import --simulate /tmp/sheets")
    assert told.returncode == 2
    assert "sudo systemctl stop treadle" in told.stderr
    refused = serving.run("treadle export --simulate /root/sheets")
    assert refused.returncode == 2
    assert "the user treadle" in refused.stderr


def test_a_folder_given_back_by_root(serving: Container) -> None:
    """Data that belong to root are named with the command that mends it, in the status too; the command mends it."""
    serving.say(f"systemctl stop treadle && chown -R root:root {PRACTICE} && chmod 700 {PRACTICE}")
    cursor = now_in_journal(serving)
    serving.say("systemctl --no-block start treadle")
    serving.wait(lambda: "switch the lamp off" in show(serving, "StatusText"))
    told = journal(serving, cursor)
    assert "chown -R treadle: /var/lib/treadle" in told
    assert "Errno" not in told
    serving.say("chown -R treadle: /var/lib/treadle")
    serving.wait(lambda: ready(serving), 60)
    assert journal(serving, cursor).count("chown -R") == 1


def test_a_start_that_comes_to_nothing_is_held_back(serving: Container) -> None:
    """A daemon that cannot serve is tried less and less often, dark, and says so; started by hand it is at once."""
    serving.say("systemctl stop treadle")
    serving.say("systemd-run --quiet --unit other python3 -m http.server 8090")
    reach = "python3 -c 'import socket; socket.create_connection((\"127.0.0.1\", 8090))'"
    serving.wait(lambda: serving.run(reach).returncode == 0)
    serving.say("systemctl --no-block start treadle")
    serving.wait(lambda: re.search("did not come up [4-9] times", show(serving, "StatusText")), 90)
    assert not driven(serving)
    serving.say("systemctl stop other && systemctl restart treadle")
    serving.wait(lambda: ready(serving), 60)
    assert serving.run("ls /run/treadle/starts-tried").returncode != 0


PLUG_IN = (
    f"mount -t tmpfs -o size=32M stick {STICK} && install -d -m 700 -o treadle -g treadle {STICK}/treadle-practice"
)


def second_place(machine: Container) -> dict[str, tuple[str, str]]:
    told = json.loads(machine.run("treadle check --simulate --json").stdout)["findings"]
    return {one["name"]: (one["level"], one["words"]) for one in told if one["name"] in ("second place", "copy")}


def test_a_stick_that_comes_later(machine: Container) -> None:
    """The service starts without its second place, and says so; what is mounted there later is open to it, alone."""
    machine.run(f"{MENDED} umount {STICK}")
    assert machine.run(f"{INSTALL} --lean --practice --second-place {STICK}").returncode == 0
    machine.say("systemctl restart treadle")
    machine.wait(lambda: ready(machine), 60)
    level, words = second_place(machine)["second place"]
    assert (level, "is on this memory card itself" in words) == ("advice", True)
    machine.say(PLUG_IN)
    inside = f"nsenter -m -t {show(machine, 'MainPID')} runuser -u treadle --"
    machine.say(f"{inside} touch {STICK}/treadle-practice/seen && test -e {STICK}/treadle-practice/seen")
    machine.say("install -d -m 777 /media/other")
    assert "Read-only file system" in machine.run(f"{inside} touch /media/other/seen").stderr
    assert "second place" not in second_place(machine)


def test_a_new_card_has_all_of_the_old_one(machine: Container) -> None:
    """From the second place an empty data folder gets the same records and recipes, and the service serves them."""
    if not has(machine, f"{DROP_INS}/second-place.conf"):
        machine.say(f"{INSTALL} --lean --practice --second-place {STICK} && systemctl restart treadle")
    stand(machine)
    machine.say(f"rm -rf /tmp/old /tmp/new; mountpoint -q {STICK} || {{ {PLUG_IN}; }}")
    refused = machine.run("treadle backup --simulate")
    assert refused.returncode == 2
    assert "sudo systemctl stop treadle" in refused.stderr
    machine.say("systemctl stop treadle")
    machine.say("treadle export --simulate /tmp/old")
    copy = machine.say("treadle backup --simulate").splitlines()[-1].split()[-1].rstrip(".")
    assert copy.startswith(f"{STICK}/treadle-practice/")
    assert second_place(machine)["copy"][0] == "good"
    machine.say(f"mv {PRACTICE} {OLD_CARD}")
    assert copy in machine.say("treadle restore --simulate")
    machine.say(f"treadle restore --simulate {copy}")
    machine.say("treadle export --simulate /tmp/new && diff -r /tmp/old /tmp/new")
    machine.say("systemctl start treadle")
    machine.wait(lambda: ready(machine), 60)
    machine.say(f"rm -r {OLD_CARD}")


def test_its_exposure(serving: Container) -> None:
    """`systemd-analyze security` of the unit as it runs finds at most 2.1 of 10."""
    told = serving.run("systemd-analyze security --no-pager --threshold=21 treadle")
    print(told.stdout.splitlines()[-1])
    assert told.returncode == 0, told.stdout[-300:]


def test_it_can_be_taken_away(serving: Container) -> None:
    """Removed: no unit, no drop-in, no user, nothing running; the sheets stay, and it says where."""
    done = serving.run(f"{INSTALL} --remove")
    assert done.returncode == 0, done.stderr
    assert "/var/lib/treadle" in done.stderr
    assert serving.run("systemctl cat treadle").returncode != 0
    assert serving.run("id treadle").returncode != 0
    left = serving.say("find /etc /usr/local /run -xdev -name '*treadle*' 2>/dev/null || true")
    assert left == ""
    assert serving.say("pgrep -f '[h]ardware.keeper|[t]readle serve' || true") == ""
    assert "journal.db" in serving.say(f"ls {PRACTICE}")


def test_it_is_installed_again_over_its_own_data(machine: Container) -> None:
    """Installed anew it gives the data of before to the new user, and serves."""
    if has(machine, "/usr/local/bin/treadle") or not has(machine, f"{PRACTICE}/journal.db"):
        stand(machine)
        machine.say(f"{INSTALL} --remove")
    assert machine.run(f"{INSTALL} --lean --practice").returncode == 0
    assert machine.say(f"stat -c %U {PRACTICE}/journal.db") == "treadle"
    machine.say("systemctl start treadle")
    assert ready(machine)
