"""The witness of the machine's pace, and what is played again on its word."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from tools.tether_bench import children, until
from tools.witness import MS, Witness

pytestmark = pytest.mark.usefixtures("by_real_time")

TESTS = Path(__file__).resolve().parents[2]
CONFTEST = """\
from tools.held_up import (
    pytest_configure_node,
    pytest_runtest_protocol,
    pytest_sessionfinish,
    pytest_sessionstart,
    pytest_terminal_summary,
    witness,
)

def pytest_configure(config):
    config.addinivalue_line("markers", "real: by real time")
"""
FAILS = """\
import os, signal, subprocess, sys, time
from pathlib import Path
import pytest
from tools import held_up

@pytest.mark.real
def test_it(witness):
    goes = Path("goes")
    goes.write_text(goes.read_text() + "x" if goes.exists() else "x")
    if {by!r} == "stalls":
        os.kill(witness.pid, signal.SIGSTOP)
        time.sleep(0.06)
        os.kill(witness.pid, signal.SIGCONT)
    else:
        witness.stalls = lambda since, until: []
    if {by!r} == "others":
        os.sched_setaffinity(0, {{min(os.sched_getaffinity(0))}})
        other = subprocess.Popen([sys.executable, "-S", "-c", "while True: pass"])
        os.nice(19)
        end = time.thread_time() + 0.05
        while time.thread_time() < end:
            pass
        other.kill()
        other.wait()
    else:
        held_up.LITTLE = 0
    assert len(goes.read_text()) > {bad}, "too soon"
"""
NAMES_IT = """\
import os
from pathlib import Path

def test_it(witness):
    Path(os.environ["PYTEST_XDIST_WORKER"]).write_text(str(witness.pid))
"""


def play(folder: Path, tests: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Play these tests in a run of their own."""
    (folder / "conftest.py").write_text(CONFTEST)
    (folder / "test_it.py").write_text(tests)
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words, "test_it.py"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_stall_is_seen_and_measured() -> None:
    """What keeps a witness from running is told as a stall of that length, and only where it was; to whoever asks."""
    with closing(Witness()) as made, closing(Witness(made.place)) as shared:  # its own: this one's word is no excuse
        assert shared.pid == made.pid
        begin_ns = time.monotonic_ns()
        os.kill(made.pid, signal.SIGSTOP)
        time.sleep(0.2)
        os.kill(made.pid, signal.SIGCONT)
        end_ns = time.monotonic_ns()
        for asked in (made, shared):
            assert asked.held_ms(begin_ns, end_ns) >= 150
            assert asked.held_ms(begin_ns + 50 * MS, begin_ns + 100 * MS) == pytest.approx(50)
            spans = asked.stalls(begin_ns - 1000 * MS, end_ns)
            assert all(before[1] < after[0] for before, after in itertools.pairwise(spans))


def test_it_is_nobodys_child_and_goes_when_it_is_let_go() -> None:
    """Tests that count their own processes do not find it; closed, it ends."""
    before = children()
    made = Witness()
    assert children() == before
    Witness(made.place).close()
    made.held_ms(0, time.monotonic_ns())
    assert Path(f"/proc/{made.pid}").exists()
    made.close()
    until(lambda: not Path(f"/proc/{made.pid}").exists())


@pytest.mark.parametrize(
    ("by", "bad", "goes", "passes"),
    [("", 1, 1, False), ("stalls", 1, 2, True), ("stalls", 9, 3, False), ("others", 1, 2, True)],
)
def test_only_what_was_held_up_is_played_again(tmp_path: Path, by: str, bad: int, goes: int, passes: bool) -> None:
    """Only a failure that nothing held up is one at once; else the test is played again, three times at the most."""
    done = play(tmp_path, FAILS.format(by=by, bad=bad))
    assert (done.returncode == 0) is passes, done.stdout + done.stderr
    assert (tmp_path / "goes").read_text() == "x" * goes
    assert ("played again: held up by the machine" in done.stdout) is (goes > 1)
    assert ({"stalls": "the longest", "others": "of the processor"}[by] in done.stdout) if passes else not passes
    assert not passes or "too soon" in done.stdout


def test_the_workers_of_one_run_share_a_witness(tmp_path: Path) -> None:
    """It is their main process's, and goes with it."""
    done = play(tmp_path, NAMES_IT, "-n", "2", "--dist", "each")
    assert done.returncode == 0, done.stdout + done.stderr
    first, second = ((tmp_path / worker).read_text() for worker in ("gw0", "gw1"))
    assert first == second
    until(lambda: not Path(f"/proc/{first}").exists())
