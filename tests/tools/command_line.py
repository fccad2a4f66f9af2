"""The command line as a person or a script calls it: here, or in a process whose streams are led elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import treadle

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "tests" / "examples"
TABLET = EXAMPLES / "paper-one.tablet.csv"
CRANE = EXAMPLES / "crane.recipe.json"
FEET = EXAMPLES / "crane.feet.json"
LONGEST_S = 60


def carried_out(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Carry out a command here; return its exit status, what it printed, and what it complained of."""
    capsys.readouterr()
    try:
        status = treadle.main(words)
    except SystemExit as end:
        status = int(end.code or 0)
    told = capsys.readouterr()
    return status, told.out, told.err


def refusal(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Return the one sentence with which a command refuses bad input."""
    status, out, err = carried_out(words, capsys)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1, err
    return err


def in_process(words: list[str], shell: str = "", **environ: str) -> subprocess.CompletedProcess[bytes]:
    """Carry out a command in a process of its own, its streams led as a shell is told to (`>/dev/full`)."""
    line = ["/bin/bash", "-c", f'"$@" {shell}', "bash", sys.executable, str(ROOT / "treadle.py"), *words]
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "LC_"))}
    return subprocess.run(line, capture_output=True, timeout=LONGEST_S, env=plain | environ, check=False)
