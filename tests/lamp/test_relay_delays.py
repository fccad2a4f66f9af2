"""The relay's part of the lag: in the lag in force, and never counted twice."""

from __future__ import annotations

from pathlib import Path

import pytest
from tools.daemon_bench import bench

from controller.errors import Impossible

pytestmark = pytest.mark.usefixtures("by_real_time")

WIRING = "[lamp]\npin = 17\n\n[foot]\npin = 27\n\n[sounder]\npin = 18\n\n[relay]\noperate_ms = 25.0\nrelease_ms = 5.0\n"


def test_the_relay_counts_once(tmp_path: Path) -> None:
    """A lag found has the relay in it: what is set is the lamp's own, and what is in force is what was found."""
    with bench(tmp_path, wiring=WIRING) as one:
        desk = one.desk.lamp()
        assert desk.view().lag_ms == 20.0
        desk.take_typed(0.12)
        assert one.desk.settings().lamp_lag_seconds == 0.1
        assert desk.view().lag_ms == pytest.approx(120.0)
        assert one.darkroom._runner.state.habits.lag_ms == 120
        with pytest.raises(Impossible, match="operate_ms"):
            desk.take_typed(0.01)
