"""Burns and dodges: light added to and held back from an area, of the base through the same filter.

A burn of e stops adds base · (2^e − 1); a dodge of e stops holds back base · (1 − 2^−e) (derived: one stop
doubles the light). Computed times are rounded to 0.1 s; the open part is what the rounded parts leave.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final, Literal

from controller.errors import Impossible
from controller.exposure.stops import light_factor, round_ms, seconds_text
from controller.words import say

SHORTEST_OPEN_MS: Final = 500
DODGER_IN_MS: Final = 2000
"""A running dodge: the hands' time from light, or from the dodge before it, to "dodger in"."""
EASY_PART_MS: Final = 5000
"""From about here a dodge goes well as a part of its own (common practice)."""


def burn_ms(base_ms: int, stops: Fraction) -> int:
    """Return the light that a burn of `stops` adds to a base, rounded to 0.1 s."""
    return round_ms(base_ms * (light_factor(stops) - 1))


def held_back_ms(base_ms: int, stops: Fraction) -> int:
    """Return the light that a dodge of `stops` holds back from a base, rounded to 0.1 s."""
    return round_ms(base_ms * (1 - light_factor(-stops)))


def open_ms(base_ms: int, parts_ms: tuple[int, ...]) -> int:
    """Return what the dodged parts leave of a base for the open sheet.

    Raises:
        Impossible: less than 0.5 s is left; the sentence has the sum.
    """
    left = base_ms - sum(parts_ms)
    if left < SHORTEST_OPEN_MS:
        raise Impossible(
            say(
                "reckoning.open-too-short",
                sum=" + ".join(seconds_text(part) for part in parts_ms),
                parts=seconds_text(sum(parts_ms)),
                base=seconds_text(base_ms),
                least=seconds_text(SHORTEST_OPEN_MS),
            )
        )
    return left


def running_ms(light_ms: int, held_ms: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Return when each dodger goes in and out in one running light, in milliseconds after light on.

    The first goes in at 2.0 s and each stays in for its held-back seconds; the next follows 2 s later.

    Raises:
        Impossible: they do not fit into the light; the sentence has the sum.
    """
    times: list[tuple[int, int]] = []
    at = 0
    for held in held_ms:
        at += DODGER_IN_MS
        times.append((at, at + held))
        at += held
    if at > light_ms:
        raise Impossible(
            say(
                "reckoning.running-too-long",
                sum=" + ".join(f"{seconds_text(DODGER_IN_MS)} + {seconds_text(held)}" for held in held_ms),
                needed=seconds_text(at),
                light=seconds_text(light_ms),
            )
        )
    return tuple(times)


def propose_how(light_ms: int, held_ms: int) -> Literal["parts", "running"]:
    """Return how a dodge is best given: running where the part is under 5 s and there is time for the hands."""
    fits = DODGER_IN_MS + held_ms <= light_ms
    return "running" if held_ms < EASY_PART_MS and fits else "parts"
