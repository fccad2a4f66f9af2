"""Test strips: what each band has had in the end, and the lights that give it.

The totals are rounded to 0.1 s first and the pulses are their differences, so that the pulses of a strip sum
to what its last band has had. Bands are numbered from the least light to the most, whichever way the card goes.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import isqrt
from typing import Literal

from controller.errors import Impossible
from controller.exposure.burns import burn_ms
from controller.exposure.stops import TENTH_MS, light_factor, round_ms
from controller.words import say

CardWay = Literal["cover", "uncover", "window"]
SHORTEST_PULSE_MS = 100


@dataclass(frozen=True, slots=True)
class Pulse:
    """One light of a strip: the one that sets `band` apart from the band below it (a window: all its light)."""

    band: int
    ms: int


def even_totals(step_ms: int, bands: int) -> tuple[int, ...]:
    """Return the totals of a fixed-interval strip, exact multiples of the typed step."""
    return tuple(step_ms * band for band in range(1, bands + 1))


def centre_band(bands: int) -> int:
    """Return the band, from 1, that gets a strip's centre; of an even number the lower of the middle two."""
    return (bands + 1) // 2


def stop_totals(centre_ms: int, step: Fraction, bands: int) -> tuple[int, ...]:
    """Return the totals of an f-stop strip, t = centre · 2^(step · n), each rounded to 0.1 s."""
    middle = centre_band(bands)
    return tuple(round_ms(centre_ms * light_factor(step * (band - middle))) for band in range(1, bands + 1))


def burn_totals(base_ms: int, step: Fraction, bands: int) -> tuple[int, ...]:
    """Return what each band of a burn strip gets over the base: none for the first, then base · (2^stops − 1)."""
    return tuple(burn_ms(base_ms, step * band) for band in range(bands))


def burn_stops(step: Fraction, bands: int) -> tuple[Fraction, ...]:
    """Return the stops over the base of each band of a burn strip."""
    return tuple(step * band for band in range(bands))


def pulses(totals_ms: tuple[int, ...], card: CardWay) -> tuple[Pulse, ...]:
    """Return the lights of a strip in the order they are given; a band with a total of none has no light.

    Covering gives the shortest band first and then the differences; uncovering the same lights in opposite
    order; a window gives each band its whole time by itself.

    Raises:
        Impossible: two bands come out alike at 0.1 s.
    """
    if card == "window":
        lights = [Pulse(band, total) for band, total in enumerate(totals_ms, 1)]
    else:
        steps = [totals_ms[0], *(more - less for less, more in pairwise(totals_ms))]
        lights = [Pulse(band, ms) for band, ms in enumerate(steps, 1)]
    for band, (less, more) in enumerate(pairwise(totals_ms), 1):
        if more - less < SHORTEST_PULSE_MS:
            raise Impossible(say("reckoning.bands-alike", one=band, two=band + 1))
    given = [light for light in lights if light.ms > 0]
    return tuple(reversed(given)) if card == "uncover" else tuple(given)


def card_moves_ms(lights: tuple[Pulse, ...]) -> tuple[int, ...]:
    """Return when the card is moved, from the start of one long light that stands for `lights` in their order."""
    return tuple(accumulate(light.ms for light in lights))[:-1]


def between_ms(one_ms: int, two_ms: int) -> int:
    """Return the geometric mean of two times, rounded to 0.1 s, half up; exact by whole-number root."""
    return (isqrt(4 * one_ms * two_ms // TENTH_MS**2) + 1) // 2 * TENTH_MS


def flash_ms(totals_ms: tuple[int, ...], first_tone_band: int) -> int:
    """Return the flash from a strip made without a negative: the last total before the first band with a tone.

    Raises:
        Impossible: the first band has a tone already, or there is no such band.
    """
    if not 2 <= first_tone_band <= len(totals_ms):
        raise Impossible(say("reckoning.flash-band", bands=len(totals_ms)))
    return totals_ms[first_tone_band - 2]
