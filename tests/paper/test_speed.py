"""The paper reckoning is quick enough for a thumb, and costs a daemon that does not use it next to nothing."""

from __future__ import annotations

import pytest
from benchmarks.bench_paper import Figure, fit_ms, idle_mb, predict_ms, soft_hard_ms


@pytest.mark.parametrize("measure", [fit_ms, soft_hard_ms, predict_ms, idle_mb], ids=lambda measure: measure.__name__)
def test_limits_hold(measure) -> None:
    """A fit takes under 1 s, a split under 50 ms, 1,000 tones under 20 ms; idle memory grows by under 5 MB."""
    figure = measure()
    assert isinstance(figure, Figure)
    assert figure.holds, f"{figure.name}: {figure.value:.2f} {figure.unit}"
