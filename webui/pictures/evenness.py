"""The light on an easel as a map in stops, and the heights at its corners; as one stands before it, far side above."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture

LEFT: Final = 4.0
TOP: Final = 18.0
TALL: Final = 190.0
SIZE: Final = 14.0
SMALL: Final = 12.0
BURN: Final = (8.0, 3.0, 32.0)
"""How wide an edge burn is drawn: at the least, more for each twelfth of a stop, and at the most."""
_DARKEST: Final = 0.9
"""Density of grey that a stop less light is drawn with."""


def evenness_picture(
    stops: Mapping[tuple[int, int], float],
    burns: Mapping[str, int],
    *,
    ident: str,
    words: tuple[str, str, str],
    face: Face = Face.DAY,
) -> Picture:
    """Draw the map: nine fields, as dark as light is weak there, each with its stops.

    `stops` are by the halves of the picture, to the right and away; `burns` in twelfths by the side of the easel:
    hatched. `words` are the whole in one sentence, and what stands at the far and at the near side.
    """
    drawing = Drawing(ident, face)
    sentence, far, near = words
    wide, high = (WIDTH - 2 * LEFT) / 3, TALL / 3
    drawing.text(WIDTH / 2, TOP - 6, far, size=SMALL, anchor="middle")
    for (x, y), value in stops.items():
        left, top = LEFT + (x + 1) * wide, TOP + (1 - y) * high
        drawing.rect(left, top, wide, high, fill=face.grey(grey(value)))
    for side, twelfths in burns.items():
        least, each, most = BURN
        depth = min(most, least + each * twelfths)
        drawing.rect(*_strip(side, depth), fill=drawing.hatch("+"))
    drawing.rect(LEFT, TOP, 3 * wide, TALL, stroke=face.ink)
    for (x, y), value in stops.items():
        across, down = LEFT + (x + 1.5) * wide, TOP + (1.5 - y) * high
        drawing.text(across, down + 5, figure(value), size=SIZE, anchor="middle", fill=face.on_grey(grey(value)))
    drawing.text(WIDTH / 2, TOP + TALL + 15, near, size=SMALL, anchor="middle")
    return drawing.finish(TOP + TALL + 22, sentence)


def corners_picture(
    heights_mm: Sequence[tuple[tuple[int, int], float]],
    *,
    ident: str,
    words: tuple[str, str, str],
    face: Face = Face.DAY,
) -> Picture:
    """Draw the easel with the height at which each corner is sharp; `words` as `evenness_picture`."""
    drawing = Drawing(ident, face)
    sentence, far, near = words
    right, bottom = WIDTH - LEFT, TOP + 120.0
    drawing.text(WIDTH / 2, TOP - 6, far, size=SMALL, anchor="middle")
    drawing.rect(LEFT, TOP, right - LEFT, bottom - TOP, fill=face.shade, stroke=face.ink)
    drawing.dot(WIDTH / 2, (TOP + bottom) / 2, 3.0)
    for (x, y), height in heights_mm:
        across = right - 10 if x > 0 else LEFT + 10
        down = TOP + 22 if y > 0 else bottom - 12
        told = f"{height:+.1f} mm".replace("-", "−") if round(height, 1) else "0 mm"
        drawing.text(across, down, told, size=SIZE, anchor="end" if x > 0 else "start")
    drawing.text(WIDTH / 2, bottom + 15, near, size=SMALL, anchor="middle")
    return drawing.finish(bottom + 22, sentence)


def grey(stops: float) -> float:
    """Return the density with which so much less light is drawn; what is brighter than the centre is white."""
    return max(0.0, min(1.6, -stops * _DARKEST))


def figure(stops: float) -> str:
    """Return stops as they stand in a field: two places, and "dark" figures rounded."""
    if stops <= -3.0:
        return f"−{-stops:.0f}"
    return "0" if round(stops, 2) == 0 else f"{stops:+.2f}".replace("-", "−")


def _strip(side: str, depth: float) -> tuple[float, float, float, float]:
    across, down = WIDTH - 2 * LEFT, TALL
    return {
        "far": (LEFT, TOP, across, depth),
        "near": (LEFT, TOP + down - depth, across, depth),
        "left": (LEFT, TOP, depth, down),
        "right": (LEFT + across - depth, TOP, depth, down),
    }[side]
