"""Apertures as the lens ring means them: marked stops, not the rounded numbers printed on it.

ISO 517 f-numbers are 2^(n/2); what is printed (5.6, 11, 22) is rounded. f/8 to f/5.6 is one stop exactly,
though (8/5.6)² is 1.029 stop.
"""

from __future__ import annotations

import math
from fractions import Fraction

from controller.printing.stops import light_factor


def marked_stops(f_number: float | Fraction) -> Fraction:
    """Return the place of a printed f-number on the ring, in stops from f/1: the nearest sixth of a stop.

    Sixths hold full, half and third stops, and every printed number is nearest to the one it stands for.
    """
    return Fraction(round(12 * math.log2(f_number)), 6)


def aperture_stops(before: float | Fraction, after: float | Fraction) -> Fraction:
    """Return the stops of time from one marked aperture to another: −1 for opening up from f/8 to f/5.6."""
    return marked_stops(after) - marked_stops(before)


def aperture_factor(before: float | Fraction, after: float | Fraction) -> Fraction:
    """Return the factor of time from one marked aperture to another: 1/2 from f/8 to f/5.6."""
    return light_factor(aperture_stops(before, after))
