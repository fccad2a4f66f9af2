"""What of a sheet is counted in minutes of safelight, on the monotonic clock.

Paper fogs slowly under a safelight too. The printer's own test says for how many minutes it may lie there.
"""

from __future__ import annotations

from typing import Final

NS_PER_S: Final = 1_000_000_000


def safe_left_s(opened_ns: int, now_ns: int, safe_minutes: float) -> int | None:
    """Return the whole seconds of safelight a sheet still has, 0 when they are over; None where untested.

    Both moments belong to one boot. They count from the sheet's first light: paper that lay out before it had
    less, so the test's safe time is halved by whoever reads it off (Kodak Publication K-4, 2006: safe time is
    at most half the time that makes a visible change; seen).
    """
    if safe_minutes <= 0:
        return None
    left_ns = round(safe_minutes * 60 * NS_PER_S) - (now_ns - opened_ns)
    return max(0, left_ns // NS_PER_S)
