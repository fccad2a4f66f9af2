"""Whether the carrier lies square to lens and easel, pure: from the heights at which a grain focuser is sharp.

A negative that lies higher at one corner than at another is sharp nearer to the lens there, by about m² times as much
(thin lens, 1/u + 1/v = 1/f, here exactly; optics handbooks). So at m 6 half a millimetre at the carrier is some 18 mm
at the easel, which a ruler and a few blocks under the focuser tell. The lens turns left and right, near and far.
What may be: the depth at the negative, 2·N·c·(m + 1)/m², of `controller.exposure.size`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, get_args

from pydantic import Field

from controller.errors import Impossible, Unreadable
from controller.exposure.size import depth_mm, lens_to_easel_mm, lens_to_negative_mm
from controller.model import Frozen
from controller.words import say

Corner = Literal["far left", "far right", "near right", "near left"]
CORNERS: Final[tuple[Corner, ...]] = get_args(Corner)
"""Of the picture on the easel, as one stands before it; in the order in which they are looked at."""
CarrierSide = Literal["left", "right", "front", "back"]
CIRCLE_MM: Final = 0.25
"""On the print: what is sharp to an eye a foot away (common practice, a hundredth of an inch)."""
MOST_HEIGHT_MM: Final = 200.0
MOVED: Final = 0.5
"""Of the depth at the easel: by so much the centre may be sharp elsewhere in the end, or the lens has moved."""


class AlignmentFound(Frozen):
    """How far the carrier is out of square, and what that allows; lengths in mm."""

    trial: Literal["alignment"] = "alignment"
    heights_mm: dict[Corner, float] = Field(min_length=len(CORNERS), max_length=len(CORNERS))
    """Where the grain is sharp at each corner of the easel, above where it is sharp in the centre."""
    magnification: float = Field(gt=0.0)
    focal_mm: float = Field(gt=0.0)
    f_number: float = Field(gt=0.0)
    circle_mm: float = Field(gt=0.0)
    across_mm: float
    """How much higher the carrier's left side lies than its right one."""
    along_mm: float
    """And its back than its front."""
    depth_mm: float = Field(gt=0.0)
    """From the highest corner to the lowest, what may be at this f-number."""
    out_mm: float = Field(ge=0.0)
    """And what is."""
    bent_mm: float = Field(default=0.0, ge=0.0)
    """By how much the corners miss lying in one plane."""

    @property
    def square(self) -> bool:
        """Whether every corner is sharp at this f-number, with the centre focused."""
        return self.out_mm <= self.depth_mm


@dataclass(frozen=True, slots=True)
class Lens:
    """How the enlarger stood while the corners were looked at."""

    focal_mm: float
    magnification: float
    f_number: float


def raised_mm(height_mm: float, lens: Lens) -> float:
    """Return how much higher the negative lies where its grain is sharp `height_mm` above the easel's own plane."""
    focal, m = _exact(lens.focal_mm), _exact(lens.magnification)
    v = lens_to_easel_mm(focal, m) - _exact(height_mm)
    return float(focal * v / (v - focal) - lens_to_negative_mm(focal, m))


def sharp_mm(raised: float, lens: Lens) -> float:
    """Return how far above the easel's plane grain is sharp that lies `raised` mm higher; `raised_mm` turned round."""
    focal, m = _exact(lens.focal_mm), _exact(lens.magnification)
    u = lens_to_negative_mm(focal, m) + _exact(raised)
    return float(lens_to_easel_mm(focal, m) - focal * u / (u - focal))


def found(
    heights_mm: Mapping[Corner, float], lens: Lens, *, again_mm: float = 0.0, circle_mm: float = CIRCLE_MM
) -> AlignmentFound:
    """Return how the carrier lies.

    `heights_mm` are told from where the centre was sharp at first, as is `again_mm`, where it was in the end.

    Raises:
        Unreadable: a height is missing or none that can be; its place is the corner.
        Impossible: the centre was sharp elsewhere in the end: nothing is found then.
    """
    for corner in CORNERS:
        if corner not in heights_mm:
            raise Unreadable(say("alignment.missing", corner=corner_words(corner)), (corner,))
        _within(heights_mm[corner], corner, lens)
    _within(again_mm, "again", lens)
    m = _exact(lens.magnification)
    depth = float(depth_mm(_exact(lens.f_number), _exact(circle_mm), m))
    at_easel = sharp_mm(depth / 2.0, lens) - sharp_mm(-depth / 2.0, lens)
    if abs(again_mm) > MOVED * at_easel:
        raise Impossible(say("alignment.moved", height=f"{again_mm:+.1f}".replace("-", "−")))
    raised = {corner: raised_mm(heights_mm[corner], lens) for corner in CORNERS}
    # the image stands on its head: what is right and near on the easel is left and at the back in the carrier
    left = (raised["far right"] + raised["near right"]) / 2.0
    right = (raised["far left"] + raised["near left"]) / 2.0
    back = (raised["near left"] + raised["near right"]) / 2.0
    front = (raised["far left"] + raised["far right"]) / 2.0
    one = raised["far left"] + raised["near right"]
    other = raised["far right"] + raised["near left"]
    return AlignmentFound(
        heights_mm={corner: heights_mm[corner] for corner in CORNERS},
        magnification=lens.magnification,
        focal_mm=lens.focal_mm,
        f_number=lens.f_number,
        circle_mm=circle_mm,
        across_mm=_told(left - right),
        along_mm=_told(back - front),
        depth_mm=round(depth, 3),
        out_mm=_told(max(raised.values()) - min(raised.values())),
        bent_mm=abs(_told((one - other) / 2.0)),
    )


def higher_sides(of: AlignmentFound) -> tuple[tuple[CarrierSide, float], ...]:
    """Return which sides of the carrier lie too high, and by how much, the worse one first.

    What is under a tenth of what may be, or under a twentieth of a millimetre, is not told: grain is not seen sharper.
    """
    least = max(0.1 * of.depth_mm, 0.05)
    across: CarrierSide = "left" if of.across_mm > 0 else "right"
    along: CarrierSide = "back" if of.along_mm > 0 else "front"
    both = ((across, abs(of.across_mm)), (along, abs(of.along_mm)))
    return tuple(sorted((each for each in both if each[1] >= least), key=lambda each: -each[1]))


def bent(of: AlignmentFound) -> bool:
    """Tell whether the corners lie in no plane: a negative that bulges, or a corner that was misread."""
    return of.bent_mm > max(of.depth_mm / 2.0, 0.1)


def sharp_from(of: AlignmentFound) -> float:
    """Return the f-number from which on all corners are sharp as the carrier lies, with the centre focused."""
    return of.f_number * of.out_mm / of.depth_mm


def corner_words(corner: Corner) -> str:
    """Return what a corner is called."""
    return say(f"evenness.place-{corner.replace(' ', '-')}")


def _within(height_mm: float, place: str, lens: Lens) -> None:
    # beyond half the way to the sharp image at one focal length from the lens there is none that a focuser finds
    most = min(MOST_HEIGHT_MM, lens.focal_mm * lens.magnification / 2.0)
    if not -most <= height_mm <= most:
        raise Unreadable(say("alignment.height", height=f"{height_mm:g}", most=f"{most:.0f}"), (place,))


def _told(mm: float) -> float:
    return round(mm, 3) + 0.0


def _exact(value: float) -> Fraction:
    return Fraction(str(value))
