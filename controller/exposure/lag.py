"""Lamp lag: what a light really gives, when one switching loses `lag_ms` of full light.

A nominal base of N stands for one uninterrupted light, N − d of full light. All shares are of that: a
dodged part its share of it, a burn (N − d)(2^e − 1), a strip's later bands the difference of totals. A light
is lit for its share + d, and one stopped after t has given max(0, t − d). So an uninterrupted base is lit N,
and every further part d longer. Source: derived (each switching loses the same light, light adds up).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from controller.errors import Impossible
from controller.words import say
from hardware.clock import NS_PER_MS

SHORTEST_LIGHT_MS: Final = 200
"""A remainder under this, or under the lag, is never offered as light."""


def planned_full_ns(planned_ms: int, base_ms: int | None, lag_ms: int) -> int:
    """Return the full light, in ns, that a nominal `planned_ms` stands for (rounded down).

    `base_ms` is the uninterrupted nominal light it is a share of; None where it is a difference of totals.
    """
    if base_ms is None:
        return planned_ms * NS_PER_MS
    return planned_ms * NS_PER_MS * max(0, base_ms - lag_ms) // base_ms


def given_full_ns(lit_ns: int, lag_ms: int) -> int:
    """Return the full light, in ns, that a line lit for `lit_ns` has given."""
    return max(0, lit_ns - lag_ms * NS_PER_MS)


def lit_ms(missing_full_ns: int, lag_ms: int) -> int:
    """Return how long to light, in ms, for `missing_full_ns` more of full light; never too long."""
    return missing_full_ns // NS_PER_MS + lag_ms


def nominal_ns(full_ns: int, base_ms: int | None, lag_ms: int) -> int:
    """Return the nominal light, in ns, that `full_ns` of full light counts for; undoes `planned_full_ns`."""
    if base_ms is None or base_ms <= lag_ms:
        return full_ns
    return full_ns * base_ms // (base_ms - lag_ms)


def worth_lighting(missing_full_ns: int, lag_ms: int) -> bool:
    """Tell whether a remainder is long enough to be offered as light."""
    return missing_full_ns >= max(lag_ms, SHORTEST_LIGHT_MS) * NS_PER_MS


def bounds_ms(least_ns: int, most_ns: int) -> tuple[int, int]:
    """Return two bounds in whole ms: the nearest where both are one figure, else outward, so that they still bound."""
    if least_ns == most_ns:
        nearest = (least_ns + NS_PER_MS // 2) // NS_PER_MS
        return nearest, nearest
    return least_ns // NS_PER_MS, -(-most_ns // NS_PER_MS)


def lag_seconds(long_seconds: Fraction, pulses: int, each_seconds: Fraction) -> Fraction:
    """Return the full light one switching loses, where `pulses` of `each_seconds` match one long light.

    (n · each − long)/(n − 1), since both lose once and the train loses n − 1 times more (derived).

    Raises:
        Impossible: the train is shorter than the long light, which no lamp lag explains.
    """
    lost = pulses * each_seconds - long_seconds
    if lost < 0:
        raise Impossible(say("reckoning.lag-negative", train=float(pulses * each_seconds), long=float(long_seconds)))
    return lost / (pulses - 1)
