"""The service as systemd reads it: whole, shut off from what it does not need, and open to what light needs."""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import treadle
from controller.backup.second_place import NAMED_BY
from controller.service.dark_command import _LONGEST_SECONDS
from controller.unpack.unpack_process import MOST_MEMORY
from hardware.fitting import SYSTEM_WIRING, WIRING_NAME, default_data

ROOT = Path(__file__).resolve().parents[2]
INSTALL = ROOT / "hardware" / "service" / "install"
ANALYZE = shutil.which("systemd-analyze")
with_systemd = pytest.mark.skipif(
    ANALYZE is None, reason="systemd-analyze is not here: install Debian's systemd (tests/setup does so as root)"
)
LIGHT_NEEDS = ("RestrictRealtime", "PrivateDevices", "ProcSubset", "KillMode")


def install(folder: Path) -> dict[str, bytes]:
    """Write the service's files below a folder, and return all that is there."""
    subprocess.run([INSTALL, "--files", str(folder)], check=True)
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    install(tmp_path)
    return tmp_path / "etc" / "systemd" / "system" / "treadle.service"


def directives(unit: Path) -> list[tuple[str, str]]:
    lines = [line for line in unit.read_text().splitlines() if line and line[0] not in "#["]
    return [(name, value) for name, _, value in (line.partition("=") for line in lines)]


def analyze(*words: str) -> subprocess.CompletedProcess[str]:
    assert ANALYZE is not None
    return subprocess.run([ANALYZE, "--no-pager", *words], capture_output=True, text=True, check=False)


@with_systemd
def test_systemd_finds_nothing_wrong(unit: Path) -> None:
    """`systemd-analyze verify` passes, and says nothing."""
    told = analyze("verify", str(unit))
    assert (told.returncode, told.stderr) == (0, "")


@with_systemd
def test_a_wrong_unit_is_found(unit: Path) -> None:
    """The same check does find a command that is not there, and a line that means nothing."""
    unit.write_text(unit.read_text().replace(f"ExecStart={ROOT}", "ExecStart=/nowhere") + "\n[Service]\nNonsense=1\n")
    told = analyze("verify", str(unit))
    assert "/nowhere" in told.stderr
    assert "Nonsense" in told.stderr


@with_systemd
def test_its_exposure_is_small(unit: Path) -> None:
    """`systemd-analyze security` finds an exposure of 2.1 at most, on its scale from 0 to 10."""
    told = analyze("security", "--offline=true", "--threshold=21", str(unit))
    assert told.returncode == 0, told.stdout[-200:]


@with_systemd
def test_a_second_place_changes_nothing_of_that(unit: Path) -> None:
    """With a second place opened the unit is as right and as shut, and waits for nothing to be mounted."""
    drop_in = unit.parent / "treadle.service.d" / "second-place.conf"
    drop_in.write_text(f"[Service]\nReadWritePaths=-/media/stick\nEnvironment={NAMED_BY}=/media/stick\n")
    install(unit.parents[3])
    assert f"{NAMED_BY}=/media/stick" in drop_in.read_text()  # an update leaves it as it was
    told = analyze("verify", str(unit))
    assert (told.returncode, told.stderr) == (0, "")
    assert analyze("security", "--offline=true", "--threshold=21", str(unit)).returncode == 0
    assert "Requires" not in drop_in.read_text()


@with_systemd
def test_an_open_unit_is_found(unit: Path) -> None:
    """The same threshold does refuse a unit without its hardening."""
    open_ = [f"{name}={value}" for name, value in directives(unit) if name in ("ExecStart", "Type")]
    unit.write_text("[Service]\n" + "\n".join(open_) + "\n")
    assert analyze("security", "--offline=true", "--threshold=21", str(unit)).returncode != 0


def test_every_command_of_the_unit_is_there(unit: Path) -> None:
    """Each command is a file that can be run, with words that the front door knows."""
    commands = [value for name, value in directives(unit) if name.startswith("Exec")]
    assert len(commands) == 3
    parsers = next(a for a in treadle._parser()._actions if isinstance(a, argparse._SubParsersAction))
    for command in commands:
        program, *words = command.split()
        assert os.access(program, os.X_OK), program
        assert words[0] in parsers.choices


def test_it_is_dark_before_the_start_and_after_the_end(unit: Path) -> None:
    """`treadle dark` goes before and after, and where it fails before, nothing starts: no “-” lets it pass.

    Before, it is tried for less long than the start may take; after, it does not keep the next start waiting.
    """
    by_name = dict(directives(unit))
    before = re.fullmatch(r"/\S+/treadle dark --patience (\d+) --back-off", by_name["ExecStartPre"])
    assert before is not None
    assert int(before[1]) + _LONGEST_SECONDS < int(by_name["TimeoutStartSec"])
    assert re.fullmatch(r"/\S+/treadle dark", by_name["ExecStopPost"])
    assert by_name["NotifyAccess"] == "exec"


def test_what_light_needs_is_open(unit: Path) -> None:
    """Real-time priority, locked memory, devices, the whole of /proc and the machine's name stay within reach."""
    said = directives(unit)
    names = [name for name, _ in said]
    by_name = dict(said)
    assert not set(names) & set(LIGHT_NEEDS)
    assert not [value for name, value in said if name == "SystemCallFilter" and "~" in value]
    # the record asks whether the clock is set; @system-service alone, or ProtectClock, would answer never
    assert "clock_adjtime" in by_name["SystemCallFilter"].split()
    assert "ProtectClock" not in names
    # with a name space of its own a service is not told that the machine has another name (systemd.exec(5))
    assert "ProtectHostname" not in names
    assert int(by_name["LimitRTPRIO"]) >= 50
    assert by_name["LimitMEMLOCK"] == "infinity"
    assert [value for name, value in said if name == "DeviceAllow"] == ["char-gpiochip rw", "char-input r"]
    assert by_name["DevicePolicy"] == "closed"
    assert by_name["SupplementaryGroups"].split() == ["gpio", "input"]


def test_it_is_watched_and_never_given_up(unit: Path) -> None:
    """The manager waits for ready, watches, starts it again however often, and keeps the slate over a restart."""
    by_name = dict(directives(unit))
    assert by_name["Type"] == "notify"
    assert 5 <= int(by_name["WatchdogSec"]) <= 15
    assert by_name["Restart"] == "always"
    assert by_name["StartLimitIntervalSec"] == "0"
    assert by_name["RuntimeDirectoryPreserve"] == "yes"
    assert by_name["User"] not in ("", "root")


def test_it_waits_for_a_wiring_file(unit: Path) -> None:
    """Without a wiring file in either of the places where it is looked for, systemd does not even try."""
    state = default_data({"STATE_DIRECTORY": "/var/lib/treadle"}, practice=False)
    wanted = [value for name, value in directives(unit) if name == "ConditionPathExists"]
    assert wanted == [f"|{SYSTEM_WIRING}", f"|{state / WIRING_NAME}"]


def test_a_private_runtime_and_state_folder(unit: Path) -> None:
    """Record and slate are for the service's own user alone."""
    by_name = dict(directives(unit))
    assert by_name["StateDirectoryMode"] == by_name["RuntimeDirectoryMode"] == "0700"
    assert by_name["NoNewPrivileges"] == by_name["PrivateTmp"] == by_name["ProtectHome"] == "yes"
    assert by_name["ProtectSystem"] == "strict"
    assert by_name["CapabilityBoundingSet"] == ""


def test_installing_twice_changes_nothing(tmp_path: Path) -> None:
    """The second installation writes what the first one did; its paths are this clone's, and no other's."""
    first = install(tmp_path)
    assert install(tmp_path) == first
    assert sorted(first) == [
        "etc/avahi/services/treadle.service",
        "etc/security/limits.d/treadle.conf",
        "etc/systemd/system/treadle.service",
        "etc/tmpfiles.d/treadle.conf",
        "usr/local/bin/treadle",
    ]
    if Path("/opt/treadle") != ROOT:
        assert not [name for name, text in first.items() if b"/opt/treadle" in text]


def test_the_command_it_installs_is_a_shell_script(tmp_path: Path) -> None:
    """The command beside the service can be run, is sound shell, and has the service's own user and folders."""
    install(tmp_path)
    command = tmp_path / "usr" / "local" / "bin" / "treadle"
    assert os.access(command, os.X_OK)
    subprocess.run(["sh", "-n", str(command)], check=True)
    text = command.read_text()
    assert "runuser -u treadle" in text
    for name, folder in (("STATE_DIRECTORY", "/var/lib/treadle"), ("RUNTIME_DIRECTORY", "/run/treadle")):
        assert f"{name}={folder}" in text


def test_what_it_does_not_know_it_refuses() -> None:
    """An unknown word installs nothing, and is answered by what may be said."""
    told = subprocess.run([INSTALL, "--wrong"], capture_output=True, text=True, check=False)
    assert told.returncode == 2
    assert "--files DIR" in told.stderr


def test_what_unpacks_a_picture_takes_nothing_with_it(unit: Path) -> None:
    """The unit's memory has room for what unpacks a picture; that is ended alone where it runs out all the same."""
    lines = directives(unit)
    assert ("OOMPolicy", "continue") in lines
    most = int(dict(lines)["MemoryMax"].removesuffix("M")) * 2**20
    keepers, daemon_usual = 2 * 20_000_000, 130_000_000
    assert keepers + daemon_usual + MOST_MEMORY <= most
