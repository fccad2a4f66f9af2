"""The benchmarks, which no test runs, still know the program's modules by their names."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "tests" / "benchmarks"
_LOAD = "import runpy, sys; sys.path[:0] = sys.argv[2:]; runpy.run_path(sys.argv[1], run_name='loaded')"


@pytest.mark.parametrize("script", sorted(FOLDER.glob("[!_]*.py")), ids=lambda script: script.stem)
def test_a_benchmark_can_be_loaded(script: Path) -> None:
    """Every module and name that a benchmark imports is there."""
    places = [str(place) for place in (ROOT, ROOT / "tests", FOLDER)]
    done = subprocess.run(
        [sys.executable, "-c", _LOAD, script, *places], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
