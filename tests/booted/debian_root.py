"""A Debian of its own in a folder, with systemd and nothing of Treadle: made once, kept in the user's cache.

It is fetched from the mirror that this machine's package manager already uses, and Debian's signatures are checked.
Beside it lie the wheels that an installation asks pip for, so that a container without any network can install.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Final

from kernel.kernel_image import cache_folder, mirrors

ROOT: Final = Path(__file__).resolve().parents[2]
PYTHONS: Final = {"bookworm": "3.11", "trixie": "3.13"}
PACKAGES: Final = (
    *("systemd", "systemd-sysv", "dbus", "udev", "kmod", "procps", "iproute2", "netbase", "tar"),
    *("python3", "python3-venv", "python3-evdev"),
)
WHEELS: Final = "srv/wheels"
"""Where the wheels lie in the root; its pip looks nowhere else."""
_PIP: Final = f"[global]\nno-index = true\nfind-links = /{WHEELS}\ndisable-pip-version-check = true\n"
_SECONDS: Final = 900


class NoRoot(Exception):
    """There is no root to boot; the text says why, and stands in the test summary."""


def debian_root(suite: str) -> Path:
    """Return the kept root of a suite, made first where there is none, or where it would be another one now.

    Raises:
        NoRoot: it cannot be made here.
    """
    folder = cache_folder().parent / "booted" / suite
    wanted = [*_dependencies(), *(["lgpio>=0.2.2"] if suite == "bookworm" else [])]
    stamps = {"packages": " ".join(PACKAGES), "wheels": "\n".join(wanted)}
    root = folder / "root"
    if not _stands(folder, "packages", stamps):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        _bootstrap(suite, root)
        _stamp(folder, "packages", stamps)
    if not _stands(folder, "wheels", stamps):
        shutil.rmtree(root / WHEELS, ignore_errors=True)
        _fetch_wheels(wanted, PYTHONS[suite], root / WHEELS)
        (root / "etc" / "pip.conf").write_text(_PIP)
        _stamp(folder, "wheels", stamps)
    return root


def _dependencies() -> list[str]:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text())
    return [*told["build-system"]["requires"], *told["project"]["dependencies"]]


def _stands(folder: Path, name: str, stamps: dict[str, str]) -> bool:
    mark = folder / f"{name}.sum"
    return mark.exists() and mark.read_text() == _sum(stamps[name])


def _stamp(folder: Path, name: str, stamps: dict[str, str]) -> None:
    (folder / f"{name}.sum").write_text(_sum(stamps[name]))


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _bootstrap(suite: str, root: Path) -> None:
    found = mirrors()
    if not found:
        raise NoRoot("this machine's package manager knows no Debian mirror")
    told = subprocess.run(["apt-config", "dump"], capture_output=True, text=True, check=False).stdout
    # where this machine's own apt takes a mirror that stands still, so does the one that makes the root
    still = [line.rstrip(";") for line in told.splitlines() if line.startswith(("Acquire::Check-", "Acquire::Retries"))]
    options = [word for line in still for word in ("--aptopt", f"{line};")]
    include = ",".join(PACKAGES)
    _run(
        "mmdebstrap",
        "-q",
        "--mode=root",
        "--variant=minbase",
        *options,
        f"--include={include}",
        suite,
        str(root),
        found[0],
    )
    (root / "etc" / "hostname").write_text("darkroom\n")
    (root / "etc" / "hosts").write_text("127.0.0.1 localhost\n127.0.1.1 darkroom\n")


def _fetch_wheels(wanted: list[str], python: str, into: Path) -> None:
    into.mkdir(parents=True)
    pip = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "-q",
        "-d",
        str(into),
        "--only-binary=:all:",
        "--python-version",
        python,
    ]
    _run(*pip, *(f"--platform=manylinux_2_{minor}_x86_64" for minor in (17, 28, 34)), "--platform=any", *wanted)


def _run(*words: str) -> None:
    try:
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=_SECONDS, env=environment)
    except (OSError, subprocess.TimeoutExpired) as problem:
        raise NoRoot(f"{words[0]}: {problem}") from problem
    if done.returncode:
        raise NoRoot(f"{Path(words[0]).name} failed: {(done.stderr.strip().splitlines() or ['no word'])[-1]}")
