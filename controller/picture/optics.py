"""The practice enlarger: lens, aperture, magnification, light source; how much light comes, and how evenly.

Light by (1 + m/P)² and marked stops as in `controller.printing`. cos⁴ is the law of natural fall-off (optics
handbooks): off the axis by the angle θ, cos⁴ θ of the light. A lens covers a negative whose diagonal is up to 1/0.9
of its focal length, and a condenser for a smaller format lights only the middle of a larger one (common practice).
Callier's Q multiplies every density of a projected negative; flare lays a share of the mean light over everything.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from pydantic import Field

from controller.printing.aperture import aperture_factor
from controller.printing.size import size_factor
from controller.sheet import Frozen

TABLE_MAGNIFICATION: Final = Fraction(2)
TABLE_APERTURE: Final = 8.0
"""Where the filters' table of light holds."""
LENS_COVERS: Final = 1.0 / 0.9
"""Diagonal of the negative over the lens's focal length."""
EDGE: Final = 0.12
"""Of its radius: how softly a lens's or condenser's circle of light ends."""


class Enlarger(Frozen):
    """How the enlarger stands. As it comes, its source is graded to make up for its lens's own fall-off."""

    focal_mm: float = Field(default=150.0, gt=0.0, le=1000.0)
    aperture: float = Field(default=8.0, ge=0.5, le=128.0)
    magnification: float = Field(default=2.0, gt=0.0, le=200.0)
    pupil: float = Field(default=1.0, gt=0.1, le=10.0)
    condenser_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    """The diagonal that the condensers in the head are made for; none for a diffuser, which lights every format."""
    callier: float = Field(default=1.0, ge=0.8, le=2.0)
    flare_share: float = Field(default=0.0, ge=0.0, le=0.5)
    """Of the light that reaches the paper."""
    falloff: float = Field(default=0.0, ge=0.0, le=1.0)
    """How much of the lens's cos⁴ fall-off is left: 0 with a graded source, 1 with an even one."""

    @property
    def light_factor(self) -> float:
        """How much light comes against the filters' table: by size and by marked stops."""
        size = size_factor(
            TABLE_MAGNIFICATION,
            Fraction(self.magnification).limit_denominator(10_000),
            Fraction(self.pupil).limit_denominator(1000),
        )
        return 1.0 / float(size * aperture_factor(TABLE_APERTURE, self.aperture))

    @property
    def lens_circle_mm(self) -> float:
        """The diameter, on the negative, that the lens covers."""
        return self.focal_mm * LENS_COVERS
