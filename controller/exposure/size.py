"""Another print size: how much more light, and how far the lens stands from easel and negative.

Magnification m is image length on the easel over the same length on the negative. Thin lens; `pupil` is the
lens's pupil magnification P. E₂/E₁ = ((1 + m₂/P)/(1 + m₁/P))² at the same f-number; v = f(1 + m),
u = f(1 + 1/m) (optics handbooks; check values from the British Journal Almanac and the Sinclair Handbook).
"""

from __future__ import annotations

import math
from fractions import Fraction

from controller.exposure.stops import light_factor


def size_factor(before: Fraction, after: Fraction, pupil: Fraction = Fraction(1)) -> Fraction:
    """Return the factor of time from magnification `before` to `after` at the same f-number."""
    return ((1 + after / pupil) / (1 + before / pupil)) ** 2


def area_rule(before: Fraction, after: Fraction) -> Fraction:
    """Return the factor by the area of the prints, which is right only for large magnifications."""
    return (after / before) ** 2


def lens_to_easel_mm(focal_mm: Fraction, magnification: Fraction) -> Fraction:
    """Return the distance from lens to easel, v = f(1 + m)."""
    return focal_mm * (1 + magnification)


def lens_to_negative_mm(focal_mm: Fraction, magnification: Fraction) -> Fraction:
    """Return the distance from negative to lens, u = f(1 + 1/m)."""
    return focal_mm * (1 + 1 / magnification)


def negative_to_easel_mm(focal_mm: Fraction, magnification: Fraction) -> Fraction:
    """Return the distance from negative to easel, f(2 + m + 1/m)."""
    return lens_to_easel_mm(focal_mm, magnification) + lens_to_negative_mm(focal_mm, magnification)


def magnification_at(focal_mm: Fraction, lens_to_easel: Fraction) -> Fraction:
    """Return the magnification at a distance from lens to easel, m = v/f − 1."""
    return lens_to_easel / focal_mm - 1


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


def depth_mm(f_number: Fraction, circle_mm: Fraction, magnification: Fraction) -> Fraction:
    """Return the depth of focus at the negative, whole, in mm: 2·N·c·(m + 1)/m².

    How far the negative, or one corner of it, may lie out of the plane of focus until a point spreads to a circle of
    `circle_mm` on the print (thin lens; derived, as optics handbooks have it for a magnified image).
    """
    return 2 * f_number * circle_mm * (magnification + 1) / (magnification * magnification)
