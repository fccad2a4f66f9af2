"""What Lighthouse says of a page of ours: an outside judge's marks from 0 to 100, measured in a Chromium of its own.

Its performance is measured as a slow phone's on a slow network, which this machine has to play: where it is busy, the
mark tells of that and of no page.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest

COMMAND: Final = (
    Path(__file__).resolve().parents[2] / ".venv" / "lighthouse" / "node_modules" / "lighthouse" / "cli" / "index.js"
)
CATEGORIES: Final = ("performance", "accessibility", "best-practices")
PATIENCE_S: Final = 180
QUIET: Final = 0.8
"""So much of the processors has to lie idle for a moment that is called quiet."""
LOOK_S: Final = 1.0
needs_lighthouse = pytest.mark.skipif(
    not COMMAND.exists() or shutil.which("node") is None,
    reason="Lighthouse is not there: tests/long gets it with npm, which cannot be had here",
)


@dataclass(frozen=True)
class Marks:
    """One run's marks, and what it found wrong."""

    performance: int
    accessibility: int
    best_practices: int
    wrong: tuple[str, ...]
    """Names of audits of accessibility and best practices that were not passed."""
    idle: float
    """The share of the processors that lay idle just before the run."""


def measure(url: str, cookie: str = "") -> Marks:
    """Have a page judged once."""
    idle = idle_share()
    command = ["node", COMMAND, url, "--quiet", "--output=json", "--no-enable-error-reporting"]
    command += [f"--only-categories={','.join(CATEGORIES)}", "--chrome-flags=--headless=new --no-sandbox --disable-gpu"]
    if cookie:
        command.append(f"--extra-headers={json.dumps({'Cookie': cookie})}")
    chromium = {"CHROME_PATH": shutil.which("chromium") or ""}
    done = subprocess.run(
        command, env=os.environ | chromium, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    told = json.loads(done.stdout)
    assert told.get("runtimeError") is None, told["runtimeError"]
    marks = {name: told["categories"][name]["score"] for name in CATEGORIES}
    assert None not in marks.values(), marks
    return Marks(
        *(round(100 * marks[name]) for name in CATEGORIES),
        wrong=tuple(
            one["id"]
            for name in CATEGORIES[1:]
            for one in told["categories"][name]["auditRefs"]
            if one["weight"] and (told["audits"][one["id"]]["score"] or 0) < 1
            if told["audits"][one["id"]]["scoreDisplayMode"] not in {"notApplicable", "manual", "informative"}
        ),
        idle=idle,
    )


def idle_share() -> float:
    """Return which share of the processors lies idle for a moment; what a hypervisor took away counts as busy."""
    idle, whole = _spent()
    time.sleep(LOOK_S)
    later, end = _spent()
    return (later - idle) / max(1, end - whole)


def _spent() -> tuple[int, int]:
    """Return the processors' time so far, idle and in all (proc(5), /proc/stat)."""
    figures = [int(word) for word in Path("/proc/stat").read_text(encoding="ascii").splitlines()[0].split()[1:9]]
    return figures[3], sum(figures)
