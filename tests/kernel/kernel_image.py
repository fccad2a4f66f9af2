"""A kernel with simulated GPIO lines, from Debian's backports suite, kept in a cache after the first time.

The mirror is the one this machine's own package manager already uses; Debian's signature on the suite is checked
as for any other package.
"""

from __future__ import annotations

import lzma
import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

SUITE: Final = "trixie-backports"
"""Its kernel is the first of Debian's to ship the module gpio-sim."""
MODULES: Final = (
    "fs/netfs/netfs",
    "net/9p/9pnet",
    "net/9p/9pnet_virtio",
    "fs/9p/9p",
    "fs/configfs/configfs",
    "drivers/gpio/gpio-sim",
    "drivers/input/misc/uinput",
    "drivers/input/evdev",
)
"""In the order in which they are loaded."""
DISK: Final = ("lib/crc/crc16", "fs/mbcache", "fs/jbd2/jbd2", "drivers/block/virtio_blk", "fs/ext4/ext4")
"""What a machine with a card of its own needs besides; crc16 lies elsewhere in older kernels."""
_KEYRING: Final = Path("/usr/share/keyrings/debian-archive-keyring.gpg")
_SECONDS: Final = 240


class NoKernel(Exception):
    """There is no kernel to boot; the text says why, and stands in the test summary."""


@dataclass(frozen=True, slots=True)
class Kernel:
    """A kernel's image, and its unpacked modules in the order of `MODULES`, and of `DISK`."""

    image: Path
    modules: tuple[Path, ...]
    disk: tuple[Path, ...]


def cache_folder() -> Path:
    """Return where a fetched kernel is kept: beside other caches of this user, not in the checkout."""
    named = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(named) if named.startswith("/") else Path.home() / ".cache"
    return base / "treadle-tests" / "kernel"


def kernel(folder: Path) -> Kernel:
    """Return the kernel kept in `folder`, fetched first where there is none.

    Raises:
        NoKernel: it cannot be fetched here.
    """
    ready = folder / "ready"
    modules, disk = (tuple(ready / f"{Path(module).name}.ko" for module in some) for some in (MODULES, DISK))
    if not all(path.exists() for path in (ready / "vmlinuz", *modules, *disk)):
        folder.mkdir(parents=True, exist_ok=True)
        half = folder / "half"
        shutil.rmtree(half, ignore_errors=True)
        half.mkdir()
        try:
            _fetch(folder, half)
        except (OSError, lzma.LZMAError) as problem:
            raise NoKernel(f"the kernel's packages cannot be unpacked: {problem}") from problem
        shutil.rmtree(ready, ignore_errors=True)
        half.rename(ready)
    return Kernel(ready / "vmlinuz", modules, disk)


def _fetch(folder: Path, into: Path) -> None:
    apt = _Apt(folder / "apt")
    depends = apt.cache("show", "linux-image-amd64")
    found = re.search(r"^Depends:.*?\blinux-image-([0-9][^ ,]*)", depends, re.MULTILINE)
    if found is None:
        raise NoKernel(f"{SUITE} names no kernel for amd64")
    version = found[1]
    packages = [f"{stem}-{version}" for stem in ("linux-binary", "linux-modules")]
    if not apt.cache("show", packages[0]):
        packages = [f"linux-image-{version}"]  # image and modules in one, as it was before they were parted
    tree = folder / "tree"
    shutil.rmtree(tree, ignore_errors=True)
    for archive in apt.download(packages, folder / "packages"):
        _run("dpkg", "-x", str(archive), str(tree))
    image = next((path for path in (*tree.rglob("vmlinuz"), *tree.rglob("vmlinuz-*")) if path.is_file()), None)
    if image is None:
        raise NoKernel(f"no kernel image in {', '.join(packages)}")
    for module in (*MODULES, *DISK):
        packed = next(iter(tree.rglob(f"{Path(module).name}.ko*")), None)
        if packed is None:
            raise NoKernel(f"kernel {version} has no module {module}")
        data = packed.read_bytes()
        plain = lzma.decompress(data) if packed.suffix == ".xz" else data
        (into / f"{Path(module).name}.ko").write_bytes(plain)
    shutil.copy(image, into / "vmlinuz")
    shutil.rmtree(tree)
    shutil.rmtree(folder / "packages")


class _Apt:
    """The machine's own package manager with another suite, and lists of its own."""

    def __init__(self, folder: Path) -> None:
        for sub in ("lists/partial", "cache/archives/partial"):
            (folder / sub).mkdir(parents=True, exist_ok=True)
        if not _KEYRING.exists():
            raise NoKernel(f"Debian's signing keys are not here ({_KEYRING}): install debian-archive-keyring")
        sources = folder / "sources.list"
        self._options = [
            *("-o", f"Dir::Etc::sourcelist={sources}", "-o", "Dir::Etc::sourceparts=-"),
            *("-o", f"Dir::State::lists={folder}/lists", "-o", f"Dir::Cache={folder}/cache"),
            *("-o", "APT::Sandbox::User=root", "-o", "Acquire::Languages=none", "-o", "Acquire::Retries=2"),
        ]
        found = mirrors()
        if not found:
            raise NoKernel("this machine's package manager knows no Debian mirror")
        problem = ""
        for mirror in found:
            sources.write_text(f"deb [signed-by={_KEYRING} arch=amd64] {mirror} {SUITE} main\n")
            problem = _try("apt-get", "-qq", *self._options, "-o", "APT::Update::Error-Mode=any", "update")
            if not problem:
                return
        raise NoKernel(f"{SUITE} cannot be had from this machine's Debian mirror ({problem})")

    def cache(self, *words: str) -> str:
        """Return what `apt-cache` says; nothing where it knows of nothing."""
        asked = subprocess.run(
            ["apt-cache", *self._options, *words], capture_output=True, text=True, check=False, timeout=_SECONDS
        )
        return asked.stdout

    def download(self, packages: list[str], into: Path) -> list[Path]:
        """Return the packages' files."""
        shutil.rmtree(into, ignore_errors=True)
        into.mkdir(parents=True)
        if problem := _try("apt-get", "-qq", *self._options, "download", *packages, folder=into):
            raise NoKernel(f"the kernel cannot be fetched ({problem})")
        return sorted(into.glob("*.deb"))


def mirrors() -> list[str]:
    """Return the addresses of Debian itself in the machine's own sources, security and others' left out."""
    asked = subprocess.run(
        ["apt-get", "indextargets", "--format", "$(REPO_URI)|$(RELEASE)|$(LABEL)", "Identifier: Packages"],
        capture_output=True,
        text=True,
        check=False,
        timeout=_SECONDS,
    )
    rows = [line.split("|") for line in asked.stdout.splitlines() if line.count("|") == 2]
    # the label is known only where lists have been fetched; the suite's name tells the rest
    return sorted({uri for uri, release, label in rows if label == "Debian" or _of_debian(uri, release, label)})


def _of_debian(uri: str, release: str, label: str) -> bool:
    return not label.strip("$()LABE") and "security" not in release and uri.rstrip("/").endswith("/debian")


def _run(*words: str) -> None:
    if problem := _try(*words):
        raise NoKernel(f"{words[0]} failed ({problem})")


def _try(*words: str, folder: Path | None = None) -> str:
    """Run a command; return its last complaint, or nothing where it went well."""
    try:
        done = subprocess.run(list(words), capture_output=True, text=True, check=False, cwd=folder, timeout=_SECONDS)
    except (OSError, subprocess.TimeoutExpired) as problem:
        return str(problem)
    if done.returncode == 0:
        return ""
    said = [line for line in (done.stderr or done.stdout).splitlines() if line.strip()]
    # a mirror's address is the machine's own affair
    return re.sub(r"https?://\S+", "(its mirror)", said[-1]) if said else f"status {done.returncode}"
