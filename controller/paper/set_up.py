"""From the set-up a paper was read at to the one a print is made at: seconds hold for one light at the easel."""

from __future__ import annotations

from fractions import Fraction

from controller.paper.papers import Setup
from controller.printing.aperture import aperture_factor
from controller.printing.size import size_factor


def set_up_factor(
    read_at: Setup, magnification: float | None, aperture: float | None, pupil: float = 1.0
) -> tuple[float, bool]:
    """Return what a paper's seconds are multiplied by at another magnification and marked aperture.

    Also whether that is all: False where either set-up does not say one of them, which then counts as the same.
    (1 + m/P)² and marked stops, as `printing.size` and `printing.aperture`.
    """
    factor, whole = Fraction(1), True
    if read_at.magnification is not None and magnification is not None:
        factor *= size_factor(_exact(read_at.magnification), _exact(magnification), _exact(pupil))
    else:
        whole = False
    if read_at.aperture is not None and aperture is not None:
        factor *= aperture_factor(read_at.aperture, aperture)
    else:
        whole = False
    return float(factor), whole


def _exact(value: float) -> Fraction:
    return Fraction(str(value))
