"""The place between two bands: the geometric mean of their times, half-way in stops (derived)."""

from __future__ import annotations

from math import isqrt

from controller.printing.stops import TENTH_MS


def between_ms(one_ms: int, two_ms: int) -> int:
    """Return the geometric mean of two times, rounded to 0.1 s, half up; exact by whole-number root."""
    return (isqrt(4 * one_ms * two_ms // TENTH_MS**2) + 1) // 2 * TENTH_MS
