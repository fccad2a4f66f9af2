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
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

SERVICE = Path(__file__).resolve().parents[2] / "hardware" / "service"
CLONE = "/opt/treadle"
NOTES = 'echo "${0##*/} $*" >> /told'
PLAYED = {
    "apt-get": NOTES,
    "systemctl": NOTES,
    "systemd-tmpfiles": NOTES,
    "dpkg-query": "grep -q '^apt-get' /told 2>/dev/null && printf 'install ok installed'",
    "python3": f"""{NOTES}
mkdir -p "$4/bin"; echo 'include-system-site-packages = true' > "$4/pyvenv.cfg"; cp /played/pip "$4/bin/python\"""",
    "pip": f"{NOTES}; [ ! -e /no-network ]",
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
        place = self.root / clone.lstrip("/") / "hardware" / "service"
        if not place.exists():
            shutil.copytree(SERVICE, place)
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
    for folder in ("usr", "local", "dev", "proc", "etc", "var/lib", "opt", "played"):
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
        "apt-get install -y -q --no-install-recommends python3-venv python3-lgpio python3-evdev",
        f"python3 -m venv --system-site-packages {CLONE}/.venv",
        f"python -m pip install --quiet --disable-pip-version-check -e {CLONE}[paper]",
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
    """Installing again keeps people, folders, files and what the service has kept, and fetches no package twice."""
    assert away.install().returncode == 0
    (away.root / "var" / "lib" / "treadle" / "journal.db").write_text("sheets")
    before, told = away.left(), away.told()
    again = away.install()
    assert again.returncode == 0, again.stderr
    assert away.left() == before
    assert away.told()[len(told) :] == told[2:]


def test_a_lean_installation_leaves_the_paper_s_libraries_out(away: Away) -> None:
    """With --lean the libraries of the paper pages are not asked for."""
    assert away.install("--lean").returncode == 0
    assert f"python -m pip install --quiet --disable-pip-version-check -e {CLONE}" in away.told()


def _venv_of_another_kind(away: Away) -> None:
    venv = away.root / "opt" / "treadle" / ".venv"
    (venv / "bin").mkdir(parents=True)
    shutil.copy(away.root / "played" / "pip", venv / "bin" / "python")
    (venv / "pyvenv.cfg").write_text("include-system-site-packages = false\n")


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
        (CLONE, "", _no_network, ""),
    ],
    ids=["a clone it cannot see", "not root", "a venv without Debian's packages", "no network"],
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
