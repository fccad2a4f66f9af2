"""Dry-down: a fibre print dries darker, so it is given a few per cent less light.

It multiplies the light through the negative, not the flash (common practice).
"""

from __future__ import annotations

from fractions import Fraction

from controller.printing.stops import round_ms


def dried_ms(ms: int, percent: Fraction) -> int:
    """Return a time less `percent`, rounded to 0.1 s; without dry-down the time as it was typed."""
    return round_ms(ms * (1 - percent / 100)) if percent else ms
