"""The timing table."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.short_spans import scaled

from hardware.errors import TimingError
from hardware.timing import _LIMITS, Timing

LAW = settings(deadline=None)  # a busy machine breaks no law
CONTACT = {"down_closed_ms": 25, "down_window_ms": 60, "up_open_ms": 60, "rest_wait_ms": 100}


def test_the_default_table_keeps_its_own_limits() -> None:
    """The table as delivered passes its own check, with real lines too."""
    assert Timing().checked(practice=False) == Timing()


def test_every_span_has_limits() -> None:
    """No span of the table is without a floor and a ceiling."""
    assert {field.name for field in fields(Timing)} == set(_LIMITS)


def test_a_gesture_is_decided_before_there_is_light() -> None:
    """Any lead-in that the table lets pass outlasts the hold, the double and 50 ms."""
    with pytest.raises(TimingError, match="outlast"):
        Timing(hold_ms=1500, lead_in_ms=1899).checked(practice=False)
    assert Timing(hold_ms=1500, lead_in_ms=1900).checked(practice=False)


@LAW
@given(st.sampled_from(sorted(_LIMITS)), st.integers(-10, 2_000_000))
def test_real_lines_get_no_span_outside_its_limits(name: str, value: int) -> None:
    """With real lines a span is refused exactly where it lies outside its limits, and the refusal names it."""
    least, most = _LIMITS[name]
    # the longest hold and the shortest lead-in do not go together; that law has a test of its own
    table = replace(Timing(), **{"lead_in_ms": 5000, name: value})
    if least <= value <= most:
        assert table.checked(practice=False) == table
    else:
        with pytest.raises(TimingError, match=name):
            table.checked(practice=False)


@pytest.mark.parametrize("name", CONTACT)
def test_the_contacts_own_spans_are_never_scaled(name: str) -> None:
    """Practice lines may scale gestures, never the contact's own spans."""
    assert getattr(scaled(0.01), name) == CONTACT[name]
    with pytest.raises(TimingError, match=name):
        replace(Timing(), **{name: CONTACT[name] - 1}).checked(practice=True)


@LAW
@given(st.floats(0.1, 1.0))
def test_a_scaled_table_serves_practice_lines_only(factor: float) -> None:
    """A table with shorter gestures passes with practice lines and is refused with real ones."""
    short = scaled(factor)
    if short == Timing():
        return
    try:
        short.checked(practice=True)
    except TimingError as problem:
        assert "outlast" in str(problem)  # noqa: PT017 - the 50 ms beside hold and double are not scaled
    if short.hold_ms < 800:
        with pytest.raises(TimingError):
            short.checked(practice=False)
