"""What runs apart from other tests is really there, and is really kept apart."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ALONE, EMULATED, FIRST
from tools.real_time import real_starts

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent
_CONFTEST = """
from tools.real_time import NAME, by_real_time, real_time_is_said

def pytest_collection_modifyitems(items):
    for item in items:
        if NAME in item.fixturenames:
            item.add_marker("real")
"""
_TEST = """
import subprocess, sys
import pytest

def start():
    subprocess.run([sys.executable, "-c", "pass", *{words!r}], check=True)

@pytest.fixture
def started({asked}):
    start()

@pytest.fixture(scope="module")
def started_for_all({asked}):
    start()

def test_in_its_body({asked}):
    start()

def test_by_its_fixture(started):
    pass

def test_by_a_module_s_fixture(started_for_all):
    pass

def test_that_starts_nothing():
    pass
"""


def test_every_place_that_runs_alone_is_there() -> None:
    """Each folder or file that is named to run alone exists, so that a renamed one does not slip among the others.

    So does each that is named to come first.
    """
    assert [place for place in (*ALONE, *EMULATED, *FIRST) if not (TESTS / place).exists()] == []


def _run(folder: Path, words: list[str], asked: str) -> str:
    (folder / "conftest.py").write_text(_CONFTEST)
    (folder / "test_it.py").write_text(_TEST.format(words=words, asked=asked))
    (folder / "pytest.ini").write_text(f"[pytest]\nmarkers = real\npythonpath = {ROOT} {TESTS}\n")
    run = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-rE",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:xdist",
        "-p",
        "no:hypothesispytest",
    ]
    done = subprocess.run([*run, str(folder)], cwd=folder, capture_output=True, text=True, check=False)
    return done.stdout


def test_what_works_by_real_time_says_so(tmp_path: Path) -> None:
    """A test that starts a keeper fails where it has not said so, whoever of its fixtures starts it; no other does."""
    keeper = ["-m", "hardware.keeper.process"]
    said = _run(tmp_path, keeper, asked="")
    assert "4 passed, 3 errors" in said, said
    assert len(re.findall(r"^works by real time, and does not ask for by_real_time:", said, re.M)) == 3, said
    assert "4 passed in" in _run(tmp_path, keeper, asked="by_real_time")
    assert "4 passed in" in _run(tmp_path, ["-m", "hardware.dark"], asked="")


@pytest.mark.parametrize(
    "command",
    [
        "python -P -m hardware.keeper.process {}",
        "python -c with Tether(config, hear) as tether: ...",
        "python treadle.py serve --simulate",
        "python tests/tools/daemon_driver.py folder",
        "python tests/tools/service_driver.py folder",
        "/usr/bin/chromium --headless",
        "playwright/driver/node cli.js run-driver",
    ],
)
def test_what_counts_as_real_time(command: str) -> None:
    """Keepers, processes with a tether, daemons, their drivers and browsers count as working by real time."""
    assert real_starts([command, "python treadle.py replay", "python -c import hardware.keeper.process"]) == [command]


def test_the_files_of_the_later_passes_are_noted(tmp_path: Path) -> None:
    """The first pass notes which files hold tests by real time, that run alone, or are of a machine; and no others."""
    some = ["tests/hardware/test_clock.py", "tests/paper/test_speed.py", "tests/kernel/test_kernel.py"]
    some += ["tests/paper/test_iso.py"]
    run = [sys.executable, "-m", "pytest", "-q", "--collect-only", "-m", "not long", "--note-apart", str(tmp_path)]
    subprocess.run([*run, *some], cwd=ROOT, capture_output=True, check=True)
    assert (tmp_path / "real").read_text().split() == some[:1]
    assert (tmp_path / "alone").read_text().split() == some[1:2]
    assert (tmp_path / "emulated").read_text().split() == some[2:3]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["alone", "emulated", "real"]
