"""Safe minutes are counted from the sheet's first light, on the monotonic clock."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.foot.status import safe_left_s

MINUTE_NS = 60_000_000_000


def test_untested_is_not_zero() -> None:
    """Where no safelight test was made, nothing is said."""
    assert safe_left_s(0, 0, 0) is None


def test_four_minutes_of_six_are_left_after_two() -> None:
    """Six safe minutes, two minutes after the first light, are four minutes."""
    assert safe_left_s(5 * MINUTE_NS, 7 * MINUTE_NS, 6) == 240


@given(st.integers(0, 10**15), st.integers(0, 10**13), st.integers(0, 10**13), st.floats(0.1, 30))
def test_safe_seconds_only_run_down_and_end_at_zero(opened: int, first: int, more: int, minutes: float) -> None:
    """Later there is never more left, never more than was tested, and never less than nothing."""
    early = safe_left_s(opened, opened + first, minutes)
    late = safe_left_s(opened, opened + first + more, minutes)
    assert early is not None
    assert late is not None
    assert 0 <= late <= early <= minutes * 60
