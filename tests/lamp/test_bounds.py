"""Checks that the least and the most light a printer reads still hold between them what the lamp may have given."""

from __future__ import annotations

from hypothesis import example, given
from hypothesis import strategies as st

from controller.exposure.lag import bounds_ms
from hardware.clock import NS_PER_MS

SPANS = st.integers(0, 900_000 * NS_PER_MS)


@given(SPANS, SPANS)
@example(282_400_000, 1_419_042_025)
def test_rounded_bounds_never_leave_out_a_light_they_stand_for(one_ns: int, other_ns: int) -> None:
    """Whatever lies between the bounds in ns lies between them in whole ms, and they widen by under 1 ms each."""
    least_ns, most_ns = sorted((one_ns, other_ns))
    least_ms, most_ms = bounds_ms(least_ns, most_ns)
    if least_ns < most_ns:
        assert least_ms * NS_PER_MS <= least_ns
        assert most_ns <= most_ms * NS_PER_MS
    assert abs(least_ms * NS_PER_MS - least_ns) < NS_PER_MS
    assert abs(most_ms * NS_PER_MS - most_ns) < NS_PER_MS


@given(SPANS)
def test_a_light_known_exactly_stays_one_figure(given_ns: int) -> None:
    """A light whose bounds agree is shown once, as the nearest ms: exact light must not look doubtful."""
    least_ms, most_ms = bounds_ms(given_ns, given_ns)
    assert least_ms == most_ms
    assert 2 * abs(most_ms * NS_PER_MS - given_ns) <= NS_PER_MS
