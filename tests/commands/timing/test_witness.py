"""The witness of the machine's pace, and what is played again on its word."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tools.tether_bench import children, until
from tools.witness import MS, Witness

pytestmark = pytest.mark.usefixtures("by_real_time")

TESTS = Path(__file__).resolve().parents[2]
CONFTEST = """\
from tools.held_up import pytest_runtest_protocol, pytest_sessionfinish, pytest_terminal_summary, witness

def pytest_configure(config):
    config.addinivalue_line("markers", "real: by real time")
"""
FAILS = """\
import os, signal, time
from pathlib import Path
import pytest

@pytest.mark.real
def test_it(witness):
    goes = Path("goes")
    goes.write_text(goes.read_text() + "x" if goes.exists() else "x")
    if {stalls}:
        os.kill(witness.pid, signal.SIGSTOP)
        time.sleep(0.06)
        os.kill(witness.pid, signal.SIGCONT)
    else:
        witness.stalls = lambda since, until: []
    assert len(goes.read_text()) > {bad}, "too soon"
"""


def test_a_stall_is_seen_and_measured(witness: Witness) -> None:
    """What keeps the witness from running is told as a stall of that length, and only where it was."""
    begin_ns = time.monotonic_ns()
    os.kill(witness.pid, signal.SIGSTOP)
    time.sleep(0.2)
    os.kill(witness.pid, signal.SIGCONT)
    end_ns = time.monotonic_ns()
    assert witness.held_ms(begin_ns, end_ns) >= 150
    assert witness.held_ms(begin_ns + 50 * MS, begin_ns + 100 * MS) == pytest.approx(50)
    spans = witness.stalls(begin_ns - 1000 * MS, end_ns)
    assert all(before[1] < after[0] for before, after in itertools.pairwise(spans))


def test_it_is_nobodys_child_and_goes_when_it_is_let_go() -> None:
    """Tests that count their own processes do not find it; closed, it ends."""
    before = children()
    made = Witness()
    assert children() == before
    assert Path(f"/proc/{made.pid}").exists()
    made.close()
    until(lambda: not Path(f"/proc/{made.pid}").exists())


@pytest.mark.parametrize(
    ("stalls", "bad", "goes", "passes"), [(False, 1, 1, False), (True, 1, 2, True), (True, 9, 3, False)]
)
def test_only_what_was_held_up_is_played_again(tmp_path: Path, stalls: bool, bad: int, goes: int, passes: bool) -> None:
    """A failure beside no stall is one at once; beside a stall the test is played again, three times at the most."""
    (tmp_path / "conftest.py").write_text(CONFTEST)
    (tmp_path / "test_it.py").write_text(FAILS.format(stalls=stalls, bad=bad))
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_it.py"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode == 0) is passes, done.stdout + done.stderr
    assert (tmp_path / "goes").read_text() == "x" * goes
    assert ("played again: the machine stood still" in done.stdout) is (goes > 1)
    assert ("the longest" in done.stdout and "too soon" in done.stdout) or not passes
