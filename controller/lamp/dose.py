"""When has the paper had its dose? Reckoned from what the sensor has counted of a light so far. Pure.

A light r times as strong as the last good level has its dose when lit for lag + (plan − lag)/r (derived); where r
changes on the way, what has come counts as it came, and what is to come goes on as it went of late. How the lamp comes
up is in the good light as in this one, so it is left out. One word that puts the end off, as late as it may be said,
and then only shorter ones: that is the order's rule (see `hardware.wire.Dose`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from controller.foot.state import State
from controller.foot.turn import longest_dose_ms
from controller.lamp.measure import RISE_NS, dark_level
from hardware.clock import NS_PER_MS
from hardware.light_sensor import Reading
from hardware.wire import LONGEST_DOSE

AHEAD_MS: Final = 350
"""So long before an end its word is said: two of the sensor's cycles may be late, and it still comes in time."""
SHADED: Final = 2.0 ** (-0.5)
"""A cycle this much below the rest is a hand before the sensor, not the mains: then the plan stands."""
_LATELY: Final = 10


@dataclass(frozen=True, slots=True)
class DosePlan:
    """What a light is to give, in ms of lit line: its plan, its longest, and the lag that is in both."""

    lit_ms: int
    longest_ms: int
    lag_ms: int


def dose_plan(state: State) -> DosePlan | None:
    """Return what the light that is on is to give; None where its dose is not asked for."""
    longest_ms = longest_dose_ms(state.loaded, state.habits, state.lit_ms)
    return DosePlan(state.lit_ms, longest_ms, state.habits.lag_ms) if longest_ms else None


def next_word(readings: Sequence[Reading], on_ns: int, good: float, plan: DosePlan, told_ms: int | None) -> int | None:
    """Return for how long a light is to be lit, in ms, where that is to be said now; None where nothing is.

    Args:
        readings: what was counted, up to now; the dark before the light is among it.
        on_ns: when it came on.
        good: the last good level, in counts a second.
        plan: what was ordered.
        told_ms: what was said last; None where nothing was.
    """
    dark = dark_level(readings, on_ns)
    inside = [r for r in readings if r.end_ns > on_ns]
    settled = [r for r in inside if r.start_ns >= on_ns + RISE_NS]
    if dark is None or len(settled) < _LATELY // 2 or inside[0].start_ns > on_ns:
        return None
    now_ms = (inside[-1].end_ns - on_ns) / NS_PER_MS
    rates = [(r.light - dark) * 1e9 / (r.end_ns - r.start_ns) for r in settled]
    doubtful = any(r.full for r in inside) or min(rates) < SHADED * max(rates)
    strength = [rate / good for rate in rates]
    end_ms = plan.lit_ms if doubtful else _end_ms(strength, (settled[0].start_ns - on_ns) / NS_PER_MS, plan, now_ms)
    stands_ms = plan.lit_ms if told_ms is None else told_ms
    if doubtful and told_ms is None:
        return None
    wanted_ms = min(plan.longest_ms, max(math.ceil(plan.lit_ms / LONGEST_DOSE), end_ms))
    soon = min(stands_ms, wanted_ms) - now_ms <= AHEAD_MS
    if not soon or abs(wanted_ms - stands_ms) < 1 or (told_ms is not None and wanted_ms > told_ms):
        return None
    return wanted_ms


def _end_ms(strength: Sequence[float], settled_ms: float, plan: DosePlan, now_ms: float) -> int:
    """Return when the dose is given, in ms of lit line; `strength` is each cycle's, from `settled_ms` on."""
    if (lately := fmean(strength[-_LATELY:])) <= 0:
        return plan.lit_ms
    over_ms = (fmean(strength) - 1) * (now_ms - settled_ms)
    over_ms += (fmean(strength[:_LATELY]) - 1) * (settled_ms - plan.lag_ms)
    return round(now_ms + (plan.lit_ms - now_ms - over_ms) / lately)
