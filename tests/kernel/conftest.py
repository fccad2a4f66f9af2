"""Holds the one boot of the emulated machine that every kernel test reads from, or says why there is none."""

from __future__ import annotations

import importlib.util
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from kernel.kernel_image import Kernel, NoKernel, cache_folder, kernel
from kernel.machine import boot, missing
from kernel.sheet import choose, lights_on_file
from kernel.traced import Traced
from tools.held_up import GOES, name_besides, the_witness

ROOT = Path(__file__).resolve().parent.parent.parent
MOST_SECONDS = 370
"""All boots together: pytest breaks its process at 400."""
LEAST_SECONDS = 60
PRINTING = "split_grade"
"""The scene that leaves a data folder behind."""
PACKAGES = ("hardware", "controller", "webui", "tests", "treadle.py")


@dataclass(frozen=True)
class Scene:
    """What came of one scene: what the kernel traced, and what the scene noted beside it."""

    trace: list[Traced]
    notes: dict[str, Any]

    def __getitem__(self, name: str) -> Any:
        return self.notes[name]

    def heard(self, event: str) -> list[dict[str, Any]]:
        """Return the keeper's words of one kind, in order."""
        return [told for told in self.notes["events"] if told["event"] == event]


def lacking() -> str:
    """Return why nothing can be booted here, or nothing."""
    if os.geteuid() != 0:
        return "only root may play with a kernel's lines here"
    if platform.machine() != "x86_64":
        return f"the emulated machine is an x86_64 one, this is {platform.machine()}"
    if not Path("/etc/debian_version").exists():
        return "the kernel comes from Debian's packages, and this is no Debian"
    if absent := missing():
        return f"not installed: {absent} (tests/setup test installs them)"
    if importlib.util.find_spec("lgpio") is None:
        return "lgpio is not installed for this Python (extra: pi)"
    return ""


@pytest.fixture(scope="session")
def played(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """Boot once, play every scene, and return what came of each.

    Tests only read it, so playing one of them again would change nothing: it is here that those scenes are played again
    that broke, or were not reached, while this machine itself stood still.
    """
    if why := lacking():
        pytest.skip(f"kernel lines: {why}")
    try:
        image = kernel(cache_folder())
    except NoKernel as problem:
        pytest.skip(f"kernel lines: {problem}")
    # the guest cannot write beside the sources, and compiling is slow in emulation
    subprocess.run([sys.executable, "-m", "compileall", "-q", *PACKAGES], cwd=ROOT, check=False)
    told: dict[str, dict[str, Any]] = {}
    broke: list[str] = []
    until = time.monotonic() + MOST_SECONDS
    for _ in range(GOES):
        since_ns, left = time.monotonic_ns(), until - time.monotonic()
        if left < LEAST_SECONDS:
            break
        told |= _boot(image, tmp_path_factory.mktemp("machine") / "out", broke, left)
        broke = [name for name, came in told.items() if came["trouble"]]
        if not broke or not the_witness().stalls(since_ns, time.monotonic_ns()):
            break
    return told


def _boot(image: Kernel, out: Path, scenes: list[str], seconds: float) -> dict[str, dict[str, Any]]:
    """Return what came of these scenes, or of all where none is named."""
    command = ["env", f"PYTHONPATH={ROOT}:{ROOT / 'tests'}", "LG_WD=/run", sys.executable, "-P"]
    choose(out)
    results = out / "results.json"
    for go in range(1, GOES + 1):
        ended = boot(
            image, [*command, "-m", "kernel.guest.inside", "/run/out/results.json", *scenes], out, seconds=seconds
        )
        # a kernel that falls before it has begun anything of ours has fallen by its emulation: two processors in one
        # program now and then meet code that the kernel is just changing
        if results.exists() or ended.log or "Kernel panic" not in ended.console or go == GOES:
            break
        name_besides(f"the emulated machine, go {go}: its kernel fell before anything of ours began")
    if not results.exists():
        pytest.fail(f"the emulated machine played nothing; it said:\n{ended.log}\n{ended.console[-3000:]}")
    told: dict[str, dict[str, Any]] = json.loads(results.read_text())
    if PRINTING in told:
        told[PRINTING]["came"] = lights_on_file(out)
    return told


@pytest.fixture
def scene(played: dict[str, dict[str, Any]]) -> Callable[[str], Scene]:
    """Give a scene by its name; one that broke, or was not reached in time, fails its tests."""

    def give(name: str) -> Scene:
        told = played[name]
        assert not told["trouble"], f"the scene {name} broke:\n{told['trouble']}"
        notes = {key: value for key, value in told.items() if key != "trace"}
        return Scene([Traced(**event) for event in told["trace"]], notes)

    return give
