"""The pin library for a Debian that pip has no wheel of it for: built once from its source."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Final

from booted.debian_root import NoRoot

_SOURCE: Final = "lgpio==0.2.2.0"
_SECONDS: Final = 900
_BUILD: Final = """\
set -e
mkdir -p {work}/upper {work}/over {work}/root
mount -t overlay -o lowerdir={lower},upperdir={work}/upper,workdir={work}/over overlay {work}/root
mount -t proc proc {work}/root/proc
cp /etc/resolv.conf {work}/root/etc/resolv.conf
cp {work}/lgpio-*.tar.gz {work}/root/srv/
chroot {work}/root sh -ec '
  apt-get update -qq
  apt-get install -y -qq --no-install-recommends swig python3-dev gcc libc6-dev python3-pip python3-setuptools
  PYPI=1 pip wheel -q --no-deps --no-build-isolation -w /srv/built /srv/lgpio-*.tar.gz'
cp {work}/root/srv/built/*.whl {work}/
"""


def pin_library(lower: Path) -> Path:
    """Return a folder that holds the pin library for a kept root's Python, built first where there is none.

    Raises:
        NoRoot: it cannot be built here.
    """
    kept, work = lower.parent / "lgpio", lower.parent / "building"
    if kept.exists():
        return kept
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir()
    environment = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root", "DEBIAN_FRONTEND": "noninteractive"}
    fetch = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "-q",
        "--no-deps",
        "--no-binary",
        "lgpio",
        "-d",
        str(work),
        _SOURCE,
    ]
    build = ["unshare", "--mount", "sh", "-c", _BUILD.format(work=work, lower=lower)]
    for words, env in ((fetch, None), (build, environment)):
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=_SECONDS, env=env)
        if done.returncode:
            raise NoRoot(f"the pin library cannot be built: {(done.stderr.strip().splitlines() or ['no word'])[-1]}")
    with zipfile.ZipFile(next(work.glob("*.whl"))) as wheel:
        wheel.extractall(work / "library")
    (work / "library").rename(kept)
    shutil.rmtree(work)
    return kept
