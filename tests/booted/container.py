"""A booted Debian in a container of systemd's own, which commands are run in as on any machine.

Everything is mounted in a mount namespace of its own: the kept root with a layer over it, a whole control group tree,
and a small card for the data. All of it goes with the container. It has a network of its own, with nothing on it.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

_NEEDED: Final = ("systemd-nspawn", "unshare", "nsenter", "mmdebstrap", "mke2fs")
CARD_MB: Final = 64
_STARTED: Final = """\
set -e
mkdir -p {work}/upper {work}/over {work}/root
mount -t overlay -o lowerdir={lower},upperdir={work}/upper,workdir={work}/over overlay {work}/root
mount -t cgroup2 none /sys/fs/cgroup
group=/sys/fs/cgroup/treadle-booted-$$
mkdir $group
echo $$ > $group/cgroup.procs
mkdir -p {work}/root/var/lib/treadle
mount -o loop {work}/card {work}/root/var/lib/treadle
exec systemd-nspawn --quiet --register=no --keep-unit --link-journal=no --private-network --resolv-conf=off \
  --machine=darkroom --boot --directory={work}/root systemd.journald.forward_to_console=no
"""
BOOT_SECONDS: Final = 60


def missing() -> str:
    """Return what this machine lacks to boot a container, or nothing."""
    return ", ".join(name for name in _NEEDED if shutil.which(name) is None)


def pack(checkout: Path) -> bytes:
    """Return a checkout's own files, changed ones as they are now, as an archive."""
    listed = ["git", "-C", str(checkout), "ls-files", "-z", "-c", "-o", "--exclude-standard"]
    names = [name for name in subprocess.run(listed, capture_output=True, check=True).stdout.split(b"\0") if name]
    there = b"\0".join(name for name in names if (checkout / os.fsdecode(name)).exists())
    tar = ["tar", "-C", str(checkout), "--null", "--owner=0", "--group=0", "-T", "-", "-cf", "-"]
    return subprocess.run(tar, input=there, capture_output=True, check=True).stdout


class NotBooted(Exception):
    """The container did not come up; the text says what it said."""


class Container:
    """One booted machine over a kept root that stays as it is."""

    def __init__(self, lower: Path, work: Path) -> None:
        self._work = work
        work.mkdir(parents=True, exist_ok=True)
        card = work / "card"
        with card.open("wb") as file:
            file.truncate(CARD_MB * 1_000_000)
        subprocess.run(["mke2fs", "-q", "-t", "ext4", "-m", "0", str(card)], check=True, capture_output=True)
        self._console = (work / "console").open("w+b")
        script = _STARTED.format(lower=lower, work=work)
        self._process = subprocess.Popen(
            ["unshare", "--mount", "--propagation", "private", "sh", "-c", script],
            stdin=subprocess.DEVNULL,
            stdout=self._console,
            stderr=subprocess.STDOUT,
        )
        try:
            self._first = self._wait_for_first()
            self.wait(lambda: self.run("systemctl is-system-running").stdout.strip() in {"running", "degraded"}, 60)
            # its own number of the boot would be another one in a unit that is shut off from the kernel's own settings
            self.say("umount /proc/sys/kernel/random/boot_id")
        except BaseException:
            self.close()
            raise

    def _wait_for_first(self) -> int:
        """Return the process, as this machine counts it, that is the container's first."""
        until = time.monotonic() + BOOT_SECONDS
        children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children")
        while time.monotonic() < until and self._process.poll() is None:
            for pid in children.read_text().split():
                with suppress(OSError):
                    status = Path(f"/proc/{pid}/status").read_text()
                    if "\tsystemd\n" in status and any(
                        line.split()[-1] == "1" for line in status.splitlines() if line.startswith("NSpid")
                    ):
                        return int(pid)
            time.sleep(0.05)
        raise NotBooted(self.console()[-2000:])

    def console(self) -> str:
        """Return what the container said in booting."""
        return (self._work / "console").read_text(errors="replace")

    def run(
        self, command: str, *, input_: bytes | None = None, seconds: float = 120
    ) -> subprocess.CompletedProcess[str]:
        """Run a line of shell in the container, as root, and return how it went."""
        environment = {"PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root"}
        done = subprocess.run(
            ["nsenter", "--target", str(self._first), "--all", "--", "sh", "-c", command],
            input=input_,
            stdin=subprocess.DEVNULL if input_ is None else None,
            capture_output=True,
            check=False,
            timeout=seconds,
            env=environment,
        )
        said, wrong = (text.decode(errors="replace") for text in (done.stdout, done.stderr))
        return subprocess.CompletedProcess(command, done.returncode, said, wrong)

    def say(self, command: str) -> str:
        """Return what a line of shell says; one that fails fails the test."""
        done = self.run(command)
        assert done.returncode == 0, f"{command}: {done.returncode}\n{done.stdout}\n{done.stderr}"
        return done.stdout.strip()

    def bring(self, files: Path, into: str) -> None:
        """Copy a checkout's own files into a folder of the container."""
        done = self.run(f"mkdir -p {into} && tar -C {into} -xf -", input_=pack(files))
        assert done.returncode == 0, done.stderr

    def wait(self, holds: Callable[[], object], seconds: float = 30) -> None:
        """Wait until something holds; where it does not in time, say where it was waited for."""
        until = time.monotonic() + seconds
        while not holds():
            assert time.monotonic() < until, f"not within {seconds} s"
            time.sleep(0.1)

    def close(self) -> None:
        """Switch it off, and leave nothing behind."""
        if self._process.poll() is None:
            with suppress(AttributeError, subprocess.TimeoutExpired):
                self.run("systemctl --no-block poweroff", seconds=5)
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(15)
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        self._console.close()
