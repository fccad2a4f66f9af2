"""The figures of many latenesses, in microseconds."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Final

from controller.sheet import Frozen

P999_FROM: Final = 3000
"""Fewer lights than this have at most three beyond the 99.9th hundredth, which says nothing."""


class LateUs(Frozen):
    """How late, in microseconds: half of the lights at most `p50`, and so on; `p999` is None under 3,000 lights."""

    p50: float
    p99: float
    p999: float | None
    max: float


def late_us(late_ns: Sequence[int]) -> LateUs:
    """Return the figures of latenesses in nanoseconds; the percentiles are by nearest rank.

    Raises:
        ValueError: there are none.
    """
    if not late_ns:
        raise ValueError("there are no lights to take figures of")
    ordered = sorted(late_ns)

    def at(part: float) -> float:
        return round(ordered[max(0, ceil(part * len(ordered)) - 1)] / 1000, 1)

    return LateUs(
        p50=at(0.50),
        p99=at(0.99),
        p999=at(0.999) if len(ordered) >= P999_FROM else None,
        max=round(ordered[-1] / 1000, 1),
    )
