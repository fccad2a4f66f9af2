"""Where negatives' frames, and the areas of their printing maps, lie on a sheet, in pixels of its scene."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from controller.picture.negatives import Negative, Outline
    from controller.picture.scene import Scene

CONTACT_GAP_MM: Final = 3.0
"""Bare paper between films that lie on it."""
STRIP_GAP_MM: Final = 12.0
"""Bare paper between strips of a roll, which curl."""
FILM_MM: Final = 35.0
"""How wide the film of a roll is."""
PLACES: Final = ((0.5, 0.2), (0.5, 0.8), (0.5, 0.5), (0.2, 0.5), (0.8, 0.5), (0.2, 0.2), (0.8, 0.2), (0.2, 0.8))
"""Where the areas A, B, C … of a negative are that has no printing map of its own; then from the first again."""
_PLACE_HALF: Final = 0.15
BEYOND: Final = 0.3
"""Of the image: so far a tool that is drawn to its edge reaches outside."""
_ON_EDGE: Final = 0.004
"""Of the image: a finger that comes so near to its edge means it."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a negative's picture lies, in pixels of the sheet (parts may lie outside), and a pixel's length."""

    negative: Negative
    left: float
    top: float
    width: float
    height: float
    margin: float
    """The clear rebate round it."""


def pixels_per_mm(scene: Scene) -> float:
    """Return how many pixels a millimetre of the sheet has."""
    return scene.shape[1] / scene.paper_mm[0]


def frames_on(scene: Scene) -> tuple[Frame, ...]:
    """Return where each negative's frame lies: in the middle, or as contacts, row by row.

    Sheets of film lie two by two; the frames of a roll lie as strips of it, as many on each.
    """
    height, width = scene.shape
    per_mm = pixels_per_mm(scene)
    rows = -(-len(scene.negatives) // 2) if not scene.negatives[0].of_a_roll else 2
    columns = -(-len(scene.negatives) // rows)
    scale = scene.enlarger.magnification if scene.way == "enlargement" else 1.0
    frames = []
    for number, negative in enumerate(scene.negatives):
        wide, high = (side * scale * per_mm for side in negative.frame_mm)
        margin = (negative.film_mm[0] - negative.frame_mm[0]) / 2 * scale * per_mm
        middle_x, middle_y = width / 2, height / 2
        if scene.way == "contact":
            gap = CONTACT_GAP_MM * per_mm / 2
            beside, below = gap + margin + wide / 2, gap + margin + high / 2
            if negative.of_a_roll:
                beside, below = margin + wide / 2, (FILM_MM + STRIP_GAP_MM) * per_mm / 2
            middle_x += beside * (2 * (number % columns) - columns + 1)
            middle_y += below * (2 * (number // columns) - rows + 1)
        frames.append(Frame(negative, middle_x - wide / 2, middle_y - high / 2, wide, high, margin))
    return tuple(frames)


def open_box(scene: Scene) -> tuple[float, float, float, float]:
    """Return what the easel leaves open: left, top, right, bottom."""
    height, width = scene.shape
    if scene.open_mm is None:
        return 0.0, 0.0, float(width), float(height)
    per_mm = pixels_per_mm(scene)
    wide, high = (min(side * per_mm, most) for side, most in zip(scene.open_mm, (width, height), strict=True))
    return (width - wide) / 2, (height - high) / 2, (width + wide) / 2, (height + high) / 2


def second_frame(scene: Scene) -> Frame | None:
    """Return where the picture of the negative in carrier B lies: in the middle too, at the same magnification."""
    if scene.second is None:
        return None
    return frames_on(replace(scene, negatives=(scene.second,), second=None, way="enlargement"))[0]


def image_box(scene: Scene) -> tuple[float, float, float, float]:
    """Return the image on its sheet, of which a recipe's outlines are shares: left, top, right, bottom.

    It is what the easel leaves open, or where its blades lie off the picture, the picture of the (first) negative.
    """
    left, top, right, bottom = open_box(scene)
    if scene.open_mm is not None:
        return left, top, right, bottom
    frame = frames_on(scene)[0]
    box = (
        max(left, frame.left),
        max(top, frame.top),
        min(right, frame.left + frame.width),
        min(bottom, frame.top + frame.height),
    )
    return box if box[0] < box[2] and box[1] < box[3] else (left, top, right, bottom)


def outlines_on(letter: str, scene: Scene, frames: Iterable[Frame]) -> tuple[Outline, ...]:
    """Return an area's outlines on a sheet: as the recipe has it drawn, else as its negatives have it."""
    tool = scene.tool(letter)
    if tool is None or not tool.outline:
        return outlines(letter, frames)
    left, top, right, bottom = image_box(scene)
    return (tuple((left + x * (right - left), top + y * (bottom - top)) for x, y in tool.outline),)


def beyond_edges(outline: Outline) -> tuple[Outline, ...]:
    """Return what of a drawn tool lies outside the image, in shares of it: one drawn to its edge reaches beyond.

    A finger stops at the picture's edge, and a mask does not: without this its edge there would blur into the print.
    """
    found = []
    for one, two in zip(outline, (*outline[1:], *outline[:1]), strict=True):
        for axis in (0, 1):
            for edge, out in ((0.0, -BEYOND), (1.0, BEYOND)):
                if abs(one[axis] - edge) <= _ON_EDGE and abs(two[axis] - edge) <= _ON_EDGE:
                    low, high = sorted((one[1 - axis], two[1 - axis]))
                    low -= BEYOND if low <= _ON_EDGE else 0.0
                    high += BEYOND if high >= 1.0 - _ON_EDGE else 0.0
                    corners = ((edge, low), (edge + out, low), (edge + out, high), (edge, high))
                    found.append(tuple(corner if axis == 0 else corner[::-1] for corner in corners))
    return tuple(found)


def outlines(letter: str, frames: Iterable[Frame]) -> tuple[Outline, ...]:
    """Return an area's outlines on the sheet as negatives have them by themselves: one for each negative."""
    found = []
    for frame in frames:
        outline = next((area.outline for area in frame.negative.areas if area.letter == letter), None)
        if outline is None:
            x, y = PLACES[(ord(letter[:1] or "A") - ord("A")) % len(PLACES)]
            h = _PLACE_HALF
            outline = ((x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h))
        found.append(tuple((frame.left + x * frame.width, frame.top + y * frame.height) for x, y in outline))
    return tuple(found)
