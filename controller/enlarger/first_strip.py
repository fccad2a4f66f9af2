"""Where a negative's first strip begins: reckoned from the contact proof, and from what this enlarger has taught.

t = t_proof · ((1 + m_e)/(1 + m_p))² · 2^aperture · 2^look · 2^k, in which
m_e and m_p are the magnifications for the print and for the proof, the aperture counts in marked stops (f/8 → f/5.6 is
−1), the look is how the frame stands on the proof (+ where it is too light there and wants more), and k is this
enlarger's own: how many stops more than the rest of the rule its negatives have wanted.
The size rule is that of `controller.exposure.size`; a standard proof as the base of first exposures is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import Final, Literal

from controller.errors import Impossible
from controller.exposure.size import aperture_stops, size_factor
from controller.exposure.stops import light_factor, round_ms, seconds_text
from controller.words import say

MOST_LOOK: Final = Fraction(1)
"""Stops either way; a frame that stands farther off on its proof is one to proof again."""
LAST: Final = 10
"""So many negatives are remembered: bulbs age, and developers change."""
FAR: Final = 2.0
"""Stops: what is farther off says that something stood otherwise than was told, and teaches nothing."""
SURE: Final = 3
"""From so many negatives on the strip is finer."""
_SHORTEST_MS: Final = 100
_DENSITY_A_Q: Final = 1.25
"""The density that light passes in a middling negative's highlights, which a condenser's light multiplies by Q."""

LightSource = Literal["diffuser", "condenser"]


@dataclass(frozen=True)
class Learned:
    """What an enlarger has taught: its k in stops, and how many negatives that rests on."""

    k: float
    rests_on: int


@dataclass(frozen=True)
class Fineness:
    """How a first strip is divided: stops from band to band, and how many bands."""

    step: Fraction
    bands: int


COARSE: Final = Fineness(Fraction(1, 2), 5)
USUAL: Final = Fineness(Fraction(1, 3), 7)


def factor(
    *,
    proof_magnification: Fraction,
    magnification: Fraction,
    proof_aperture: float | Fraction | None = None,
    aperture: float | Fraction | None = None,
    look: Fraction = Fraction(0),
    k: float | Fraction = 0.0,
) -> Fraction:
    """Return the factor of time from the proof to the middle of the first strip.

    Apertures are marked f-numbers; where either is not told they count as the same. `look` and `k` are stops.
    """
    stops = look + Fraction(k)
    if proof_aperture is not None and aperture is not None:
        stops += aperture_stops(proof_aperture, aperture)
    return size_factor(proof_magnification, magnification) * light_factor(stops)


def centre_ms(proof_ms: int, times: Fraction) -> int:
    """Return the middle of the first strip, to 0.1 s half up; `times` is the `factor`.

    Raises:
        Impossible: it comes to less than 0.1 s.
    """
    ms = round_ms(proof_ms * times)
    if ms < _SHORTEST_MS:
        raise Impossible(say("reckoning.first-strip-short", least=seconds_text(_SHORTEST_MS)))
    return ms


def wanted_more(found_ms: int, estimate_ms: Fraction) -> float:
    """Return how many stops more than the estimate with k 0 a negative wanted: log₂(found/estimate)."""
    return math.log2(found_ms / estimate_ms)


def k_at_first(source: LightSource, callier: float) -> float:
    """Return k before any negative has taught it, in stops: 0, or what a condenser's Callier factor Q comes to.

    A condenser's light makes the negative denser than the contact proof saw it: (Q − 1)·1.25 density, which is
    0.42, 0.83 and 1.25 stops at Q 1.1, 1.2 and 1.3 (derived; a start to learn from, no more).
    """
    if source == "diffuser":
        return 0.0
    return (callier - 1.0) * _DENSITY_A_Q / math.log10(2.0)


def learn(wanted: Sequence[float], start: float) -> Learned:
    """Return what negatives have taught: `wanted` is `wanted_more` of each, the latest last; `start` without any."""
    near = [each for each in wanted if abs(each) <= FAR][-LAST:]
    return Learned(median(near) if near else start, len(near))


def fineness(learned: Learned) -> Fineness:
    """Return how the first strip is divided: five bands by halves until k rests on three negatives, then by thirds."""
    return USUAL if learned.rests_on >= SURE else COARSE
