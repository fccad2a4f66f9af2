"""How late the dark edge comes: figures, load, steal time, and the command as a process."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from argparse import Namespace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import treadle
from controller.commands.timing.command import LateUs, Thread, TimingAnswer, answer, late_us
from controller.commands.timing.load import Load, Machine, read_load
from controller.errors import StoreTrouble, Unreadable
from controller.store.folder import DataFolder

ROOT = Path(__file__).resolve().parents[3]


@given(st.lists(st.integers(-1_000_000, 100_000_000), min_size=1, max_size=4000))
def test_percentiles_are_those_of_another_library(late_ns: list[int]) -> None:
    """Half, 99 and 99.9 hundredths are nearest ranks, as numpy's "inverted_cdf" has them (an independent library)."""
    found = late_us(late_ns)
    for part, value in ((50, found.p50), (99, found.p99), (99.9, found.p999)):
        if value is not None:
            other = float(np.percentile(late_ns, part, method="inverted_cdf"))
            assert value == pytest.approx(other / 1000, abs=0.051)
    assert found.max == pytest.approx(max(late_ns) / 1000, abs=0.051)


def test_too_few_lights_say_nothing_of_a_thousandth() -> None:
    """Under 3,000 lights the 99.9th hundredth is left out; from 3,000 on it is told."""
    assert late_us(range(2999)).p999 is None
    assert late_us(range(3000)).p999 is not None


def test_no_lights_have_no_figures() -> None:
    """Figures of nothing are refused, not made up."""
    with pytest.raises(ValueError, match="no lights"):
        late_us([])


@given(st.integers(0, 64), st.integers(0, 20))
def test_a_load_reads_back(cpu: int, pages: int) -> None:
    """A load's text reads back as the same load."""
    load = Load(cpu=cpu, pages=pages)
    assert read_load(load.text()) == load


@pytest.mark.parametrize("text", ["cpu", "cpu=-1", "cpu=65", "pages=21", "cpu=1,cpu=2", "disk=1", "cpu=2;pages=3"])
def test_what_is_no_load_is_refused(text: str) -> None:
    """Anything else is refused with what would do."""
    with pytest.raises(Unreadable, match="cpu=2,pages=20"):
        read_load(text)


def test_steal_time_is_the_eighth_figure(tmp_path: Path) -> None:
    """Steal is read where proc(5) puts it, as its share of all time since; a file that tells none gives None."""
    stat = tmp_path / "stat"
    stat.write_text("cpu  100 0 100 700 0 0 0 10 0 0\ncpu0 1 1 1 1 1 1 1 1 0 0\n")
    machine = Machine(stat)
    stat.write_text("cpu  150 0 150 880 0 0 0 30 5 0\n")
    assert machine.steal_percent() == pytest.approx(100 * 20 / 300, abs=0.001)
    stat.write_text("nothing\n")
    assert machine.steal_percent() is None
    assert Machine(tmp_path / "missing").steal_percent() is None


def timing(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "treadle.py", "timing", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )


@pytest.mark.alone
def test_the_command_measures_keeper_and_thread_under_load() -> None:
    """Lights are given by a real keeper, looked at by real phones, and both figures come out as JSON."""
    done = timing("--lights", "12", "--seconds", "0.02", "--load", "cpu=1,pages=3", "--compare", "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["lights"] == 12
    assert told["load"] == {"cpu": 1, "pages": 3}
    assert told["scheduling"] in ("fifo", "other")
    assert told["late_us"]["p999"] is None
    # lateness, not length: 20 ms lights that are told as 20 ms late would be 20,000
    assert -1000 < told["late_us"]["p50"] < 15_000
    assert told["late_us"]["p50"] <= told["late_us"]["p99"] <= told["late_us"]["max"]
    assert told["thread"]["lights"] >= 1
    assert told["thread"]["late_us"]["p50"] >= 0
    assert told["real_lines"] is False


def test_a_thread_that_was_not_asked_for_is_no_figure() -> None:
    """Without `--compare` there is no key for it, as there is no line."""
    late = LateUs(p50=1.0, p99=2.0, p999=None, max=3.0)
    told = TimingAnswer(
        lights=1,
        seconds=0.02,
        load=Load(cpu=0, pages=0),
        real_lines=False,
        scheduling="fifo",
        memory_locked=True,
        steal_percent=None,
        late_us=late,
    )
    figures = json.loads(told.model_dump_json())
    assert "thread" not in figures
    assert figures["late_us"] == {"p50": 1.0, "p99": 2.0, "p999": None, "max": 3.0}
    compared = told.model_copy(update={"thread": Thread(lights=1, late_us=late)})
    assert json.loads(compared.model_dump_json())["thread"]["late_us"] == figures["late_us"]


@pytest.mark.parametrize(
    "words", [("--lights", "0"), ("--lights", "30001"), ("--seconds", "nan"), ("--seconds", "11"), ("--load", "x")]
)
def test_what_cannot_be_measured_is_one_sentence(words: tuple[str, ...]) -> None:
    """Figures out of range end with status 2 and one sentence that names the option."""
    done = timing(*words)
    assert done.returncode == 2
    assert words[0] in done.stderr
    assert len(done.stderr.splitlines()) == 1


def asked(**changes: object) -> Namespace:
    options = {"lights": 1, "seconds": 0.02, "load": "", "compare": False, "real_lines": True}
    return Namespace(**{**options, **changes})


def test_real_lines_are_not_driven_beside_a_daemon(tmp_path: Path) -> None:
    """While a daemon owns the data folder, real lines are refused before anything is asked or driven."""
    served = DataFolder(tmp_path)
    with served.locked(), pytest.raises(StoreTrouble):
        answer(asked(), DataFolder(tmp_path), treadle._open_page, io.StringIO("yes\n"))
