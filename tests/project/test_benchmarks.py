"""The benchmarks, which no test runs, still know the program's modules by their names."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "tests" / "benchmarks"
SCRIPTS = sorted(FOLDER.glob("[!_]*.py"))
_LOAD = """
import json, runpy, sys, traceback
places, scripts = json.load(sys.stdin)
sys.path[:0] = places
told = {}
for script in scripts:
    try:
        runpy.run_path(script, run_name="loaded")
    except BaseException:
        told[script] = traceback.format_exc()
json.dump(told, sys.stdout)
"""


@pytest.fixture(scope="module")
def broke() -> dict[str, str]:
    """What broke as one process, which has nothing else in it, loaded all of them: by script, how."""
    asked = [str(place) for place in (ROOT, ROOT / "tests", FOLDER)], [str(script) for script in SCRIPTS]
    done = subprocess.run(
        [sys.executable, "-c", _LOAD], input=json.dumps(asked), capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    told: dict[str, str] = json.loads(done.stdout)
    return told


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda script: script.stem)
def test_a_benchmark_can_be_loaded(script: Path, broke: dict[str, str]) -> None:
    """Every module and name that a benchmark imports is there."""
    assert not broke.get(str(script)), broke[str(script)]
