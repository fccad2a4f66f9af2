"""A scene within walls, in stops about middle grey: a cloister.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.picture.brushes import Canvas, Shapes
from controller.picture.pencils import rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float32]

DEPTHS: Final = (1.0, 1.42, 1.95, 2.65, 3.6, 5.0, 7.0)
"""Of the cloister's arches, in depths of the nearest."""
EYE: Final = (0.66, 0.50)


def cloister(at: Canvas) -> None:
    """A vaulted walk with the sun coming in from a court on the right: shafts of light on a dark floor."""
    stone = at.noise(321, 16, 14, 5)
    at.stops[:] = -2.7 + 0.25 * stone
    walls = Shapes()
    left_near, right_near = -0.12, 1.42
    walls.polygon(
        [
            (left_near, 1.1),
            _deep(left_near, 1.1, 7.0),
            _deep(left_near, -0.1, 7.0),
            (left_near, -0.1),
            (-0.4, -0.1),
            (-0.4, 1.1),
        ],
        -2.1,
    )
    at.add(at.lay(walls), (0.45 * stone).astype(np.float32))
    floor = Shapes()
    floor.polygon(
        [_deep(left_near, 1.04, 7.0), (left_near, 1.04), (right_near + 0.3, 1.04), _deep(right_near, 1.04, 7.0)], -2.5
    )
    flags = _flags(at)
    at.add(at.lay(floor), flags + 0.3 * stone)

    court = Shapes()
    court.polygon(
        [
            _deep(right_near, 0.83, 7.0),
            _deep(right_near, 0.83, 0.8),
            _deep(right_near, -0.05, 0.8),
            _deep(right_near, -0.05, 7.0),
        ],
        3.1,
    )
    leaves = at.noise(323, 45, 32, 4)
    at.add(
        at.lay(court),
        (0.9 * leaves - 2.2 * rise(at.y + 0.05 * leaves, 0.50, 0.05) + 0.9 * rise(at.y, 0.62, 0.05)).astype(np.float32),
    )

    light, wall_light = Shapes(), Shapes()
    for near, far in pairwise(DEPTHS):
        one, two = near + 0.22 * (far - near), near + 0.80 * (far - near)
        slant = 0.55 * (far - near)
        light.polygon(
            [
                _deep(right_near, 1.03, one),
                _deep(right_near, 1.03, two),
                _deep(0.18, 1.03, two + slant),
                _deep(0.18, 1.03, one + slant),
            ],
            2.0,
        )
        wall_light.polygon(
            [
                _deep(left_near, 1.02, one + 1.4 * slant),
                _deep(left_near, 1.02, two + 1.4 * slant),
                _deep(left_near, 0.70, two + 1.4 * slant),
                _deep(left_near, 0.62, (one + two) / 2 + 1.4 * slant),
                _deep(left_near, 0.70, one + 1.4 * slant),
            ],
            0.9,
        )
    at.add(at.lay(light, 0.003), 0.9 * flags + 0.25 * stone)
    at.add(at.lay(wall_light, 0.004), 0.35 * stone)

    for number in range(len(DEPTHS) - 1, -1, -1):
        _bay(at, DEPTHS[number], right_near, left_near, stone)
    end = Shapes()
    deep = 7.0
    x1, y1 = _deep(0.36, 1.03, deep)
    x2, _ = _deep(1.0, 1.03, deep)
    _, top = _deep(0.5, 0.28, deep)
    end.box(x1, top, x2, y1, 2.4)
    end.ellipse((x1 + x2) / 2, top, (x2 - x1) / 2, (x2 - x1) / 2, 2.4)
    at.lay(end, 0.002)
    at.glow((x1 + x2) / 2, top + 0.03, 0.07, 0.5)
    haze = np.exp(-(((at.x - 1.0) / 0.42) ** 2) - ((at.y - 0.52) / 0.30) ** 2)
    at.stops[:] = np.log2(np.exp2(at.stops) + 0.09 * haze)


def _deep(x: float, y: float, depth: float) -> tuple[float, float]:
    """Return where a point of the nearest arch's plane is seen at a depth."""
    return EYE[0] + (x - EYE[0]) / depth, EYE[1] + (y - EYE[1]) / depth


def _bay(at: Canvas, depth: float, right: float, left: float, stone: Array) -> None:
    """Lay down one bay: the arch over the walk, its column at the court, and the pillar at the wall."""
    spring, crown = 0.26, -0.32
    middle, half = (right + left) / 2, (right - left) / 2
    dark = -3.4 + 0.35 * min(depth, 5.0)
    rib = Shapes()
    turns = np.linspace(0.0, np.pi, 30)
    outer = [
        _deep(middle + half * float(np.cos(t)), spring - (spring - crown) * float(np.sin(t)), depth) for t in turns
    ]
    inner = [
        _deep(middle + 0.88 * half * float(np.cos(t)), spring - 0.86 * (spring - crown) * float(np.sin(t)), depth)
        for t in turns
    ]
    rib.polygon([*outer, *reversed(inner)], dark + 0.9)
    at.add(at.lay(rib), (0.35 * stone).astype(np.float32))
    # the arcade's own small arch between this column and the next one is seen from the side: a lintel
    if depth < DEPTHS[-1]:
        ahead = DEPTHS[DEPTHS.index(depth) + 1]
        head = Shapes()
        share = np.linspace(0.0, 1.0, 14)
        under = [
            _deep(right, 0.24 - 0.22 * float(np.sin(np.pi * s)), depth + (ahead - depth) * float(s)) for s in share
        ]
        head.polygon([*under, _deep(right, -0.35, ahead), _deep(right, -0.35, depth)], dark + 0.5)
        low = [
            _deep(right, 0.83, depth),
            _deep(right, 0.83, ahead),
            _deep(right, 1.04, ahead),
            _deep(right, 1.04, depth),
        ]
        head.polygon(low, dark + 0.4)
        at.add(at.lay(head), (0.4 * stone).astype(np.float32))
        top = Shapes()
        top.line([_deep(right, 0.825, depth), _deep(right, 0.825, ahead)], 0.012 / depth, 1.6)
        at.lay(top)
    foot = 0.83
    x, _ = _deep(right, 0.0, depth)
    slim = 0.034 / depth
    _, y1 = _deep(right, 0.24, depth)
    _, y2 = _deep(right, foot, depth)
    at.turned(
        x,
        [(y1, slim), (y2, 1.06 * slim)],
        white=2.6,
        light=(0.85, 0.0, 0.30),
        ambient=0.07,
        marks=np.float32(0.25) * stone,
    )
    caps = Shapes()
    for y in (0.24, foot - 0.012):
        _, top_of = _deep(right, y - 0.022, depth)
        _, base = _deep(right, y + 0.022, depth)
        caps.box(x - 1.7 * slim, top_of, x + 1.4 * slim, base, dark + 1.5)
        caps.box(x + 1.0 * slim, top_of, x + 1.8 * slim, base, 1.3)
    at.lay(caps)
    wall_x, _ = _deep(left, 0.0, depth)
    _, head_y = _deep(left, 0.25, depth)
    _, foot_y = _deep(left, 1.03, depth)
    wide = 0.055 / depth
    at.turned(
        wall_x,
        [(head_y, wide), (foot_y, wide)],
        white=0.52,
        light=(0.9, 0.0, 0.35),
        ambient=0.16,
        marks=np.float32(0.3) * stone,
    )


def _flags(at: Canvas) -> Array:
    """Return the joints of the floor's flagstones, in stops: lines that run to where the walk's lines meet."""
    down = np.clip(at.y - EYE[1], 0.004, 1.0)
    deep = 0.54 / down
    across = (at.x - EYE[0]) * deep
    row = np.floor(deep / 0.30)
    aside = across / 0.24 + 0.5 * (row % 2)
    each = np.sin(row * 12.9898 + np.floor(aside) * 78.233) * 43758.5453
    uneven = 0.7 * (each - np.floor(each) - 0.5)
    wide = np.clip(0.02 * deep, 0.02, 0.5)
    joint = (np.abs(aside - np.floor(aside) - 0.5) > 0.5 - wide) | (np.abs(deep / 0.30 - row - 0.5) > 0.5 - 1.6 * wide)
    seen = np.clip(1.6 - 0.30 * deep, 0.0, 1.0)
    return np.asarray(seen * (uneven + np.where(joint, -0.8, 0.0)), dtype=np.float32)
