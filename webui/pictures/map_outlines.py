"""The head of a printing map whose areas are known: hand-drawn outlines on the print in pale grey, to scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from controller.recipe.plan import Step, StepKind
from webui.pictures.drawing import WIDTH, Drawing, TextBox, cut_to, width_of

if TYPE_CHECKING:
    from controller.picture.map_areas import PrintAreas

Points = list[tuple[float, float]]

MORE: Final = frozenset({StepKind.BURN, StepKind.EDGE})
_TOP: Final = 4.0
_HIGHEST: Final = 230.0
_PALE: Final = 0.14
"""The density of the ground: pale, and still a grey."""
_EDGE: Final = 0.18
_SIZE: Final = 14.0
_WOBBLE: Final = 1.6
_SPACING: Final = 22.0
_INSET: Final = 2.5


def letters_of(step: Step) -> tuple[str, ...]:
    """Return the letters of the areas that a step works on."""
    return tuple(dict.fromkeys(name for name in (step.area, *(mark.area for mark in step.marks)) if name))


def draw_outlines(drawing: Drawing, steps: Sequence[Step], areas: PrintAreas, masks: Mapping[str, str]) -> float:
    """Draw the print with its areas' outlines, letters and step numbers, and its burned edges; return the foot.

    `masks` are what lies in lights: letters, with the numbers of those steps.
    """
    scale = min((WIDTH - 2) / areas.across, _HIGHEST / areas.down)
    width, height = areas.across * scale, areas.down * scale
    left = (WIDTH - width) / 2
    face = drawing.face
    frame = (left, _TOP, width, height)
    drawing.rect(*frame, fill=face.grey(_PALE), stroke=face.ink, thick=1.5)
    named = _draw_edges(drawing, steps, frame)
    shapes = [
        (letter, [(left + x * width, _TOP + y * height) for x, y in outline]) for letter, outline in areas.outlines
    ]
    for letter, shape in shapes:
        way = by_hand(_inset(shape, frame))
        drawing.path(way, fill=drawing.hatch("+" if _is_more(steps, letter) else "−"))
        drawing.path(way, stroke=face.ink, thick=1.6)
        named.append((f"{letter} · {masks.get(letter) or _numbers(steps, letter)}", shape))
    _write(drawing, named, frame)
    return _TOP + height + 6


def by_hand(shape: Points) -> str:
    """Return a closed path through a shape as a hand draws it: rounded corners, sides not quite straight.

    The same shape is always drawn alike.
    """
    points: Points = []
    for (x, y), (to_x, to_y) in zip(shape, [*shape[1:], shape[0]], strict=True):
        length = ((to_x - x) ** 2 + (to_y - y) ** 2) ** 0.5
        count = max(2, round(length / _SPACING))
        for part in range(count):
            share = (part + 0.5) / count
            # a wave of no short period, square to the side
            off = _WOBBLE * ((len(points) * 0.618 + 0.3) % 1.0 - 0.5)
            points.append(
                (
                    x + share * (to_x - x) + off * (to_y - y) / (length or 1.0),
                    y + share * (to_y - y) - off * (to_x - x) / (length or 1.0),
                )
            )
    middles = [((a + c) / 2, (b + d) / 2) for (a, b), (c, d) in zip(points, [*points[1:], points[0]], strict=True)]
    begin = middles[-1]
    curves = "".join(f"Q{x:.1f} {y:.1f} {a:.1f} {b:.1f}" for (x, y), (a, b) in zip(points, middles, strict=True))
    return f"M{begin[0]:.1f} {begin[1]:.1f}{curves}Z"


def _is_more(steps: Iterable[Step], letter: str) -> bool:
    """Tell whether an area gets more light in any step."""
    return any(step.act in MORE for step in steps if letter in letters_of(step))


def _numbers(steps: Iterable[Step], letter: str) -> str:
    """Return the numbers of the steps on an area, with their signs where it is both burned and dodged."""
    here = [step for step in steps if letter in letters_of(step)]
    both = len({step.act in MORE for step in here}) > 1
    signs = [("+" if step.act in MORE else "−") if both else "" for step in here]
    return ", ".join(f"{step.number}{sign}" for step, sign in zip(here, signs, strict=True))


def _inset(shape: Points, frame: tuple[float, float, float, float]) -> Points:
    """Return a shape drawn in from the print's edge, so that its line is seen there too."""
    left, top, width, height = frame
    return [
        (
            min(max(x, left + _INSET), left + width - _INSET),
            min(max(y, top + _INSET), top + height - _INSET),
        )
        for x, y in shape
    ]


def _draw_edges(
    drawing: Drawing, steps: Iterable[Step], frame: tuple[float, float, float, float]
) -> list[tuple[str, Points]]:
    """Draw the burned edges; return their steps' numbers, each with its edge's corners."""
    left, top, width, height = frame
    named = []
    across, down = _EDGE * width, _EDGE * height
    boxes = {
        "top": (left, top, width, down),
        "bottom": (left, top + height - down, width, down),
        "left": (left, top, across, height),
        "right": (left + width - across, top, across, height),
    }
    for edge in dict.fromkeys(step.edge for step in steps if step.edge):
        x, y, wide, high = boxes[edge]
        drawing.rect(x, y, wide, high, fill=drawing.hatch("+"), stroke=drawing.face.ink, thick=0.75, dash="3 2")
        numbers = ", ".join(str(step.number) for step in steps if step.edge == edge)
        named.append((numbers, [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]))
    return named


def _write(drawing: Drawing, named: list[tuple[str, Points]], frame: tuple[float, float, float, float]) -> None:
    """Write each area's words near its middle; where no room is left, the list below alone names it."""
    left, top, width, height = frame
    taken: list[TextBox] = []
    for words, shape in named:
        shown = cut_to(words, width - 16, _SIZE, bold=True)
        half = width_of(shown, _SIZE, bold=True) / 2 + 3
        x = sum(x for x, _ in shape) / len(shape)
        y = sum(y for _, y in shape) / len(shape)
        x = min(max(x, left + half + 4), left + width - half - 4)
        for off in (0, 22, -22, 44, -44, 66, -66, 88, -88):
            foot = min(max(y + off + 5, top + 20), top + height - 9)
            box = TextBox(shown, x - half, foot - 14, x + half, foot + 5)
            if any(box.touches(other) for other in taken):
                continue
            taken.append(box)
            drawing.rect(box.left, box.top, 2 * half, 19, fill=drawing.face.paper)
            drawing.text(x, foot, shown, size=_SIZE, anchor="middle", bold=True, serif=True)
            break
