"""The tests' own patience ends."""

from __future__ import annotations

import subprocess
import sys

import pytest
from tools.patience import line_from
from tools.tether_bench import hold_still

pytestmark = pytest.mark.usefixtures("by_real_time")


def test_a_process_that_says_nothing_is_given_up() -> None:
    """A process that says something is heard; one that stands still is killed, and the test says so."""
    says = "import time; print('here', flush=True); time.sleep(600)"
    with subprocess.Popen([sys.executable, "-c", says], stdout=subprocess.PIPE, text=True) as process:
        assert line_from(process) == "here\n"
        hold_still(process.pid)
        with pytest.raises(AssertionError, match=r"said nothing for 0\.2 s, and was killed"):
            line_from(process, 0.2)
        assert line_from(process) == ""
        assert process.wait(10) != 0
