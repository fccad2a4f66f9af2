"""The installer's whole way, as root, in a throw-away root: a new user and new folders, and nothing of this machine's.

The tools that make users and folders are this machine's own; the package manager, the service manager and Python are
played, and note what was asked of them.
"""

from __future__ import annotations

import os
import shlex
import shutil
import stat
import subprocess
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

SERVICE = Path(__file__).resolve().parents[2] / "hardware" / "service"
CLONE = "/opt/treadle"
PIP = "python -m pip install --quiet --disable-pip-version-check"
(BUILT_WITH,) = tomllib.loads((Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8"))[
    "build-system"
]["requires"]
NOTES = 'echo "${0##*/} $*" >> /told'
PLAYED = {
    "apt-get": NOTES,
    "systemctl": NOTES,
    "systemd-tmpfiles": NOTES,
    "dpkg-query": "grep -q \"^apt-get.* $4\\b\" /told 2>/dev/null && printf 'install ok installed'",
    "apt-cache": "[ -e /plain-debian ] || echo Package: python3-lgpio",
    "systemd-detect-virt": "[ -e /image ]",
    "python3": f"""{NOTES}
mkdir -p "$4/bin"; echo 'include-system-site-packages = true' > "$4/pyvenv.cfg"; cp /played/pip "$4/bin/python\"""",
    "pip": f"""{NOTES}; case "$*" in *only-binary*) [ ! -e /no-wheel ];; *) [ ! -e /no-network ];; esac""",
}
INSIDE = """\
set -eu
mount --bind /usr usr; mount -o remount,bind,ro usr; mount --bind local usr/local
mount --rbind /dev dev; mount --bind /proc proc
exec chroot {user} . /usr/bin/env -i PATH=/played:/usr/sbin:/usr/bin:/sbin:/bin {words}
"""


@dataclass(frozen=True)
class Away:
    """A root of its own, in which the installer may do what it likes."""

    root: Path

    def install(self, *words: str, clone: str = CLONE, user: str = "") -> subprocess.CompletedProcess[str]:
        place = self.root / clone.lstrip("/")
        if not (place / "hardware").exists():
            shutil.copytree(SERVICE, place / "hardware" / "service")
            shutil.copy(SERVICE.parents[1] / "pyproject.toml", place)
            (place / "treadle.py").touch(0o600)
            place.chmod(0o700 if not user else 0o755)
            for room in ("controller", "webui", "docs"):
                (place / room).mkdir(0o700)
        inside = INSIDE.format(user=user, words=shlex.join([f"{clone}/hardware/service/install", *words]))
        return subprocess.run(
            ["unshare", "--mount", "sh", "-c", inside], cwd=self.root, capture_output=True, text=True, check=False
        )

    def text(self, path: str) -> str:
        return (self.root / path).read_text()

    def told(self) -> list[str]:
        """Return what was asked of the tools that are played, in order."""
        return self.text("told").splitlines() if (self.root / "told").exists() else []

    def left(self) -> dict[str, tuple[int, int, bytes]]:
        """Return the mode, the owner and what stands in it, of every file and folder that an installation leaves."""
        found = {}
        for top in ("etc", "var", "local"):
            for path in sorted((self.root / top).rglob("*")):
                told = path.stat()
                found[str(path.relative_to(self.root))] = (
                    stat.S_IMODE(told.st_mode),
                    told.st_uid,
                    path.read_bytes() if path.is_file() else b"",
                )
        return found

    def people(self, database: str) -> dict[str, list[str]]:
        rows = [row.split(":") for row in self.text(f"etc/{database}").splitlines()]
        return {row[0]: row[1:] for row in rows}


@pytest.fixture
def away(tmp_path: Path) -> Away:
    if os.geteuid() != 0:
        pytest.skip("installer: only root may play it in a root of its own")
    probe = subprocess.run(
        ["unshare", "--mount", "mount", "--bind", "/usr", str(tmp_path)], capture_output=True, text=True, check=False
    )
    if probe.returncode:
        pytest.skip(f"installer: this machine lets nobody mount: {probe.stderr.strip()}")
    root = tmp_path / "root"
    for folder in ("usr", "local", "dev", "proc", "etc", "var/lib", "opt", "played", "run/systemd/system"):
        (root / folder).mkdir(parents=True)
    for name in ("bin", "sbin", "lib", "lib64"):
        if Path("/", name).is_symlink():
            (root / name).symlink_to(f"usr/{name}")
    (root / "etc" / "passwd").write_text("root:x:0:0:root:/root:/bin/sh\nnobody:x:65534:65534:nobody:/:/bin/false\n")
    (root / "etc" / "group").write_text("root:x:0:\nnogroup:x:65534:\ninput:x:995:\n")
    for name, does in PLAYED.items():
        tool = root / "played" / name
        tool.write_text(f"#!/bin/sh\n{does}\n")
        tool.chmod(0o755)
    return Away(root)


def test_everything_is_put_in_its_place_and_nothing_started(away: Away) -> None:
    """A first installation gets Debian's packages, makes libraries, user, folders and unit, and starts nothing."""
    done = away.install()
    assert done.returncode == 0, done.stderr
    assert away.told() == [
        "apt-get install -y -q --no-install-recommends python3-venv python3-evdev python3-lgpio",
        f"python3 -m venv --system-site-packages {CLONE}/.venv",
        f"{PIP} {BUILT_WITH}",
        f"{PIP} --no-build-isolation -e {CLONE}[paper]",
        f"python -m compileall -q {CLONE}/controller {CLONE}/hardware {CLONE}/webui {CLONE}/treadle.py",
        "python -m webui.frame.templates",
        "systemd-tmpfiles --create /etc/tmpfiles.d/treadle.conf",
        "systemctl daemon-reload",
        "systemctl enable --quiet treadle.service",
    ]
    assert (
        done.stderr.splitlines()[-1]
        == "install: installed. Next: sudo treadle check; then sudo systemctl start treadle"
    )
    assert f"ExecStart={CLONE}/.venv/bin/treadle serve" in away.text("etc/systemd/system/treadle.service")
    assert away.text("etc/security/limits.d/treadle.conf").splitlines() == [
        "treadle - rtprio 50",
        "treadle - memlock unlimited",
    ]
    assert f'"{CLONE}/.venv/bin/treadle" "$@"' in away.text("local/bin/treadle")


def test_the_service_has_a_user_of_its_own(away: Away) -> None:
    """The service's user cannot log in, is in the groups of GPIO and pedals, and alone sees what it keeps."""
    assert away.install().returncode == 0
    _, uid, gid, _, home, shell = away.people("passwd")["treadle"]
    assert (home, shell) == ("/var/lib/treadle", "/usr/sbin/nologin")
    groups = away.people("group")
    assert groups["treadle"][1] == gid
    assert [name for name, row in groups.items() if "treadle" in row[2].split(",")] == ["input", "gpio"]
    kept = (away.root / "var" / "lib" / "treadle").stat()
    assert (stat.S_IMODE(kept.st_mode), kept.st_uid, kept.st_gid) == (0o700, int(uid), int(gid))


def test_a_second_installation_changes_nothing(away: Away) -> None:
    """Installing again keeps people, folders, files and what the service has kept, and asks pip for nothing."""
    assert away.install().returncode == 0
    sheets = away.root / "var" / "lib" / "treadle" / "journal.db"
    sheets.write_text("sheets")
    os.chown(sheets, sheets.parent.stat().st_uid, -1)
    before, told = away.left(), away.told()
    again = away.install()
    assert again.returncode == 0, again.stderr
    assert away.left() == before
    assert away.told()[len(told) :] == told[4:]


def test_a_lean_installation_leaves_the_paper_s_libraries_out(away: Away) -> None:
    """With --lean the libraries of the paper pages are not asked for."""
    assert away.install("--lean").returncode == 0
    assert f"{PIP} --no-build-isolation -e {CLONE}" in away.told()


def test_a_changed_project_is_brought_in(away: Away) -> None:
    """After a change of what the project needs, or of the Python under it, pip is asked again; not before."""
    assert away.install().returncode == 0
    project = away.root / "opt" / "treadle" / "pyproject.toml"
    project.write_text(project.read_text() + "\n")
    told = len(away.told())
    assert away.install().returncode == 0
    assert f"{PIP} --no-build-isolation -e {CLONE}[paper]" in away.told()[told:]
    mark = away.root / "opt" / "treadle" / ".venv" / ".installed"
    mark.write_text(mark.read_text().replace(" python3", " python2"))
    told = len(away.told())
    assert away.install().returncode == 0
    assert away.told()[told] == f"python3 -m venv --system-site-packages {CLONE}/.venv"


def test_plain_debian_has_the_pin_library_from_pip(away: Away) -> None:
    """Where apt knows no package of the pin library, pip's ready-made one is taken."""
    (away.root / "plain-debian").touch()
    assert away.install("--lean").returncode == 0
    assert away.told()[0].endswith("python3-venv python3-evdev")
    assert f"{PIP} --only-binary lgpio lgpio>=0.2.2" in away.told()


def test_practice_lines_need_no_pin_library(away: Away) -> None:
    """With --practice no pin library is asked for, and the unit works practice lines, until it is installed without."""
    (away.root / "plain-debian").touch()
    (away.root / "no-wheel").touch()
    drop_in = "etc/systemd/system/treadle.service.d/practice.conf"
    assert away.install("--practice").returncode == 0
    said = away.text(drop_in).splitlines()
    for command, words in (("ExecStartPre", "dark"), ("ExecStart", "serve"), ("ExecStopPost", "dark")):
        at = said.index(f"{command}=")
        more = " --back-off" if command == "ExecStartPre" else ""
        assert said[at + 1] == f"{command}={CLONE}/.venv/bin/treadle {words} --simulate{more}"
    (away.root / "no-wheel").unlink()
    assert away.install().returncode == 0
    assert not (away.root / drop_in).exists()


def test_a_second_place_is_opened_and_stays(away: Away) -> None:
    """The place named for backups is opened to the service alone and told to its commands, until told otherwise."""
    drop_in, command = "etc/systemd/system/treadle.service.d/second-place.conf", "local/bin/treadle"
    assert away.install().returncode == 0
    assert not (away.root / drop_in).exists()
    assert "SECOND" not in away.text(command)
    for words in (("--second-place", "/media/stick/"), (), ("--lean",)):
        assert away.install(*words).returncode == 0
        assert away.text(drop_in).splitlines() == [
            "[Service]",
            "ReadWritePaths=-/media/stick",
            "Environment=TREADLE_SECOND_PLACE=/media/stick",
        ]
        assert "RUNTIME_DIRECTORY=/run/treadle TREADLE_SECOND_PLACE=/media/stick" in away.text(command)
    assert away.install("--second-place", "none").returncode == 0
    assert not (away.root / drop_in).exists()
    assert "SECOND" not in away.text(command)


@pytest.mark.parametrize(
    "place",
    ["", "stick", "/", "/media/", "/etc", "/home/pi/stick", "/media/../etc", "/media//", "/media/a b", "/mnt/%h"],
)
def test_not_every_place_is_opened(away: Away, place: str) -> None:
    """A second place outside what is for mounts, or one that would mean something else to systemd, is refused."""
    before = away.left()
    done = away.install("--second-place", place)
    assert done.returncode == 2
    assert "place" in done.stderr
    assert away.left() == before


@pytest.mark.parametrize("where", ["image", "nothing runs"])
def test_into_an_image_that_is_being_built(away: Away, where: str) -> None:
    """Where no service manager runs, or only the builder's own, nothing is asked of it; enabled it is all the same."""
    if where == "image":
        (away.root / "image").touch()
    else:
        (away.root / "run" / "systemd" / "system").rmdir()
    assert away.install().returncode == 0
    assert [told for told in away.told() if told.startswith("systemctl")] == [
        "systemctl enable --quiet treadle.service"
    ]


def test_a_clone_for_its_owner_s_eyes_can_be_read(away: Away) -> None:
    """What was cloned so that only root can read it can be read by the service's user afterwards."""
    assert away.install().returncode == 0
    clone = away.root / "opt" / "treadle"
    for path in (clone, clone / "controller", clone / "treadle.py", clone / ".venv"):
        assert stat.S_IMODE(path.stat().st_mode) & 0o044 == 0o044, path


def test_data_of_somebody_else_s_are_given_back(away: Away) -> None:
    """What a copy by root has left in the data is the service's own again after an installation."""
    assert away.install().returncode == 0
    uid = int(away.people("passwd")["treadle"][1])
    sheets = away.root / "var" / "lib" / "treadle" / "treadle" / "journal.db"
    sheets.parent.mkdir()
    sheets.write_text("sheets")
    assert away.install().returncode == 0
    assert {sheets.stat().st_uid, sheets.parent.stat().st_uid} == {uid}


@pytest.mark.parametrize("words", [(), ("--wiring",)])
def test_it_can_be_taken_away(away: Away, words: tuple[str, ...]) -> None:
    """Removed, nothing is left but the data and, unless told otherwise, the wiring; and it says where they lie."""
    before = away.left()
    assert away.install("--practice").returncode == 0
    own = away.root / "etc" / "systemd" / "system" / "treadle.service.d" / "override.conf"
    own.write_text("[Service]\n")
    for kept in ("etc/treadle/wiring.toml", "var/lib/treadle/treadle/journal.db"):
        (away.root / kept).parent.mkdir(parents=True)
        (away.root / kept).write_text("kept")
    done = away.install("--remove", *words)
    assert done.returncode == 0, done.stderr
    left = [name for name, (_, _, text) in away.left().items() if text and name not in before]
    wiring = [] if words else ["etc/treadle/wiring.toml"]
    assert [name for name in left if "passwd" not in name and "group" not in name and "shadow" not in name] == [
        *wiring,
        "var/lib/treadle/treadle/journal.db",
    ]
    assert "treadle" not in away.people("passwd")
    assert "/var/lib/treadle" in done.stderr
    assert away.told()[-2:] == ["systemctl disable --quiet --now treadle.service", "systemctl daemon-reload"]


def _venv_of_another_kind(away: Away) -> None:
    venv = away.root / "opt" / "treadle" / ".venv"
    (venv / "bin").mkdir(parents=True)
    shutil.copy(away.root / "played" / "pip", venv / "bin" / "python")
    (venv / "pyvenv.cfg").write_text("include-system-site-packages = false\n")


def _no_pin_library(away: Away) -> None:
    (away.root / "plain-debian").touch()
    (away.root / "no-wheel").touch()


def _no_network(away: Away) -> None:
    (away.root / "no-network").touch()


def _nothing(away: Away) -> None:
    pass


@pytest.mark.parametrize(
    ("clone", "user", "before", "said"),
    [
        ("/home/pi/treadle", "", _nothing, "move the clone to /opt/treadle"),
        (CLONE, "--userspec=65534:65534", _nothing, "run this as root: sudo"),
        (CLONE, "", _venv_of_another_kind, "move it away, and run this again"),
        (CLONE, "", _no_pin_library, "--practice, without lines"),
        (CLONE, "", _no_network, ""),
    ],
    ids=["a clone it cannot see", "not root", "a venv without Debian's packages", "no pin library", "no network"],
)
def test_what_cannot_be_installed_leaves_no_service(
    away: Away, clone: str, user: str, before: Callable[[Away], None], said: str
) -> None:
    """What is refused or fails makes no user and no unit, and where the installer knows why, it says the remedy."""
    before(away)
    kept = away.left()
    done = away.install(clone=clone, user=user)
    assert done.returncode != 0
    assert said in done.stderr
    assert away.left() == kept
    assert not [told for told in away.told() if told.startswith("systemctl")]
