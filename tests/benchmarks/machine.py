"""What a figure depends on: the machine it was measured on, and how a table of figures is printed."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]


def facts() -> str:
    """Return the machine in one line: processor, cores, load, kernel, Python."""
    model = next(
        (line.partition(":")[2].strip() for line in _lines("/proc/cpuinfo") if line.startswith("model name")),
        platform.machine(),
    )
    load = (_lines("/proc/loadavg") or ["?"])[0].split()[0]
    cores = len(os.sched_getaffinity(0))
    return f"{model}, {cores} cores, load {load}, Linux {platform.release()}, Python {platform.python_version()}"


def kind() -> str:
    """Return the machine in one line for the documents: a Pi's model, or what kind it is, without its maker's names."""
    load = (_lines("/proc/loadavg") or ["?"])[0].split()[0]
    cores, kernel = len(os.sched_getaffinity(0)), ".".join(platform.release().split(".")[:2])
    virtual = any("hypervisor" in line.split() for line in _lines("/proc/cpuinfo") if line.startswith("flags"))
    other = f"a {cores}-core {platform.machine().replace('_', '-')} {'virtual machine' if virtual else 'machine'}"
    pi = "".join(_lines("/proc/device-tree/model")).rstrip("\0")
    said = pi or f"{other}, no Raspberry Pi"
    return f"{said}, load {load}, Linux {kernel}, Python {platform.python_version()}"


def _lines(path: str) -> list[str]:
    try:
        return Path(path).read_text("utf-8").splitlines()
    except OSError:
        return []


def table(title: str, rows: Iterable[Sequence[object]]) -> None:
    """Print figures: a title, the machine, and one line a figure, its name first."""
    print(title)
    print(f"  {facts()}")
    for name, *figures in rows:
        print(f"  {name!s:<44} {'  '.join(str(figure) for figure in figures)}")


def share(figures: Sequence[float], percent: float) -> float:
    """Return the figure that `percent` of all figures do not exceed."""
    ordered = sorted(figures)
    return ordered[max(0, -(-int(percent * len(ordered)) // 100) - 1)]


def folder() -> tempfile.TemporaryDirectory[str]:
    """Return a folder that is gone afterwards."""
    return tempfile.TemporaryDirectory(prefix="treadle-bench-")
