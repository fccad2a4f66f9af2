"""Holds the one booted machine that the tests of the service share, or says why there is none."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator
from pathlib import Path

import pytest
from booted.container import Container, missing
from booted.debian_root import ROOT, NoRoot, debian_root

CLONE = "/opt/treadle"


def lacking() -> str:
    """Return why nothing can be booted here, or nothing."""
    if os.geteuid() != 0:
        return "only root may start a container"
    if platform.machine() != "x86_64":
        return f"the wheels that are kept are those of x86_64, this is {platform.machine()}"
    if not Path("/etc/debian_version").exists():
        return "the container is made from Debian's packages, and this is no Debian"
    if absent := missing():
        return f"not installed: {absent} (tests/setup test installs them)"
    return ""


@pytest.fixture(scope="session")
def machine(by_real_time: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Container]:
    """Boot a Debian without any network, and put the checkout where a printer would; nothing is installed yet."""
    if why := lacking():
        pytest.skip(f"booted: {why}")
    try:
        root = debian_root("bookworm")
    except NoRoot as problem:
        pytest.skip(f"booted: {problem}")
    container = Container(root, tmp_path_factory.mktemp("booted"))
    try:
        container.bring(ROOT, CLONE)
        # as a clone made by somebody who lets nobody else read what is his
        container.say(f"chmod -R go-rwx {CLONE}")
        yield container
    finally:
        container.close()
