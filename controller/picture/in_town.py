"""Scenes in town, in stops about middle grey: a street after rain, house fronts, roofs at dusk.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from controller.picture.brushes import Canvas, Shapes
from controller.picture.outdoors import branches
from controller.picture.pencils import rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float32]

Point = tuple[float, float]

EYE: Final[Point] = (0.80, 0.46)
"""Where the street's lines meet."""


def _towards(point: Point, share: float, eye: Point = EYE) -> Point:
    """Return a point so much of the way from the picture's edge to where the lines meet."""
    return point[0] + (eye[0] - point[0]) * share, point[1] + (eye[1] - point[1]) * share


def street(at: Canvas) -> None:
    """A street at night after rain: lamps and windows far over the meter, and fronts in deep shade."""
    at.stops[:] = -5.2 + 1.1 * at.y + 0.25 * at.noise(201, 4, 4, 3)
    road = Shapes()
    road.polygon([EYE, (-0.35, 1.05), (1.75, 1.05)], -3.4)
    road.polygon([EYE, (-0.65, 0.93), (-0.35, 1.05)], -2.7)
    road.polygon([EYE, (2.05, 0.93), (1.75, 1.05)], -2.7)
    wet = at.lay(road)
    ripples = at.noise(202, 40, 130, 4)
    at.add(wet, (0.8 * ripples - 1.2 * (at.y - 0.5)).astype(np.float32))
    fronts = Shapes()
    fronts.polygon([(-0.01, -0.30), _towards((-0.01, -0.30), 0.86), _towards((-0.01, 0.80), 0.86), (-0.01, 0.80)], -3.9)
    fronts.polygon([(1.51, -0.42), _towards((1.51, -0.42), 0.84), _towards((1.51, 0.78), 0.84), (1.51, 0.78)], -4.1)
    fronts.polygon([(0.70, 0.31), (0.74, 0.285), (0.78, 0.31), (0.78, 0.475), (0.70, 0.475)], -4.3)
    fronts.box(0.775, 0.345, 0.895, 0.475, -4.0)
    laid = at.lay(fronts)
    bricks = at.noise(203, 70, 60, 4)
    near_lamps = 1.7 * np.exp(-(((at.y - 0.42) / 0.22) ** 2))
    at.add(laid, (0.5 * bricks + near_lamps).astype(np.float32))
    openings = Shapes()
    rng = np.random.default_rng(204)
    for x, top, floors in ((-0.01, -0.18, 4), (1.51, -0.28, 4)):
        for number in range(8):
            share = 0.10 + 0.76 * (1.0 - 0.78**number) / (1.0 - 0.78**8)
            wide = 0.060 * 0.80**number
            for floor in range(floors):
                y = top + 0.245 * floor
                lit = float(rng.choice((-4.9, -4.9, -4.6, 0.9, 2.0), p=(0.3, 0.2, 0.16, 0.14, 0.2)))
                if floor == floors - 1 and number in (1, 2, 5):
                    lit = 2.6
                _opening(openings, x, y, share, wide, lit)
    at.lay(openings)
    sills = Shapes()
    for x, ys in ((-0.01, (0.03, 0.275, 0.50)), (1.51, (-0.07, 0.175, 0.44))):
        for y in ys:
            sills.line([_towards((x, y), 0.0), _towards((x, y), 0.85)], 0.004, -2.9)
    at.lay(sills)
    lamps = ((0.0, -0.16, 0.30), (0.0, -0.16, 0.60), (0.0, -0.16, 0.77), (1.50, -0.16, 0.47), (1.50, -0.16, 0.70))
    posts, heads = Shapes(), Shapes()
    for edge, top, share in lamps:
        inward = 0.20 if edge < EYE[0] else -0.20
        x, y = _towards((edge + inward, top), share)
        _, foot = _towards((edge + inward, 0.96), share)
        small = 1.0 - share
        posts.line([(x, y), (x, foot)], 0.017 * small, -4.4)
        posts.line([(x - 0.05 * small, y), (x + 0.05 * small, y)], 0.012 * small, -4.2)
        heads.ellipse(x, y - 0.055 * small, 0.066 * small, 0.066 * small, 4.6)
        streak = np.exp(-(((at.x - x) / (0.05 * small + 0.012)) ** 2)) * rise(at.y, foot, 0.01)
        streak = streak * np.exp(-np.clip(at.y - foot, 0.0, 1.0) / (0.75 * small + 0.05))
        broken = np.clip(0.55 + 1.1 * ripples, 0.0, 1.6)
        at.stops[:] = np.log2(np.exp2(at.stops) + 3.2 * streak * broken)
    at.lay(posts)
    at.lay(heads, 0.002)
    for edge, top, share in lamps:
        inward = 0.20 if edge < EYE[0] else -0.20
        x, y = _towards((edge + inward, top), share)
        small = 1.0 - share
        at.glow(x, y - 0.055 * small, 0.17 * small, 1.0)
        at.glow(x, y, 0.55 * small, 0.10)
    shop = np.exp(-(((at.x - 0.34) / 0.10) ** 2) - ((at.y - 0.86) / 0.13) ** 2) * np.clip(0.6 + ripples, 0.1, 1.6)
    at.stops[:] = np.log2(np.exp2(at.stops) + 0.30 * shop)
    _walker(at)


def _opening(shapes: Shapes, x: float, y: float, share: float, wide: float, stops: float) -> None:
    """Add a window or a shop's front to a row of houses that goes into the depth, with its cross."""
    tall = 0.135
    one, two = share, min(share + wide, 0.86)
    shapes.polygon(
        [_towards((x, y), one), _towards((x, y), two), _towards((x, y + tall), two), _towards((x, y + tall), one)],
        stops,
    )
    if stops > 0.0:
        thick = 0.008 * (1.0 - share)
        middle = (one + two) / 2
        shapes.line([_towards((x, y), middle), _towards((x, y + tall), middle)], thick, -3.2)
        shapes.line([_towards((x, y + 0.4 * tall), one), _towards((x, y + 0.4 * tall), two)], thick, -3.2)


def _walker(at: Canvas) -> None:
    """Someone with an umbrella, from behind."""
    x, foot = 0.965, 0.845
    shade = Shapes()
    shade.polygon([(x - 0.03, foot), (x + 0.03, foot), (x + 0.055, foot + 0.17), (x - 0.045, foot + 0.17)], -1.3)
    at.shade(shade, 0.010)
    who = Shapes()
    who.polygon([(x - 0.030, 0.60), (x + 0.030, 0.60), (x + 0.044, 0.755), (x - 0.042, 0.755)], -4.9)
    who.polygon([(x - 0.026, 0.75), (x - 0.004, 0.75), (x - 0.010, foot), (x - 0.026, foot)], -5.2)
    who.polygon([(x + 0.004, 0.75), (x + 0.028, 0.75), (x + 0.032, foot - 0.012), (x + 0.016, foot - 0.010)], -5.2)
    who.ellipse(x, 0.578, 0.018, 0.024, -4.6)
    who.line([(x + 0.028, 0.66), (x + 0.036, 0.50)], 0.005, -4.4)
    arch = [
        (x + 0.02 + 0.115 * float(np.cos(turn)), 0.555 - 0.085 * float(np.sin(turn)))
        for turn in np.linspace(0, np.pi, 24)
    ]
    scallop = [(x - 0.095 + 0.23 * share / 6, 0.555 - (0.012 if share % 2 else 0.0)) for share in range(7)]
    who.polygon([*arch, *scallop], -4.3)
    at.lay(who)
    rim = Shapes()
    rim.line(arch[2:12], 0.004, -1.2)
    at.lay(rim, 0.0015)


def fronts(at: Canvas) -> None:
    """Old house fronts in the afternoon sun, a bare tree's shadow over them: a scene of six stops."""
    at.stops[:] = 2.1 + 0.2 * at.noise(211, 4, 4, 3)
    brick = _bricks(at)
    houses = (
        (-0.02, 0.36, 0.10, 0.2, 1.0),
        (0.36, 0.80, 0.05, 1.45, 0.25),
        (0.80, 1.14, 0.12, -0.35, 1.0),
        (1.14, 1.52, 0.07, 0.75, 0.5),
    )
    for number, (left, right, top, stops, courses) in enumerate(houses):
        wall = Shapes()
        wall.box(left, top, right, 0.86, stops)
        laid = at.lay(wall)
        at.add(laid, (courses * brick + 0.18 * at.noise(212 + number, 14, 12, 4)).astype(np.float32))
    details, glass = Shapes(), Shapes()
    for left, right, top, stops, _ in houses:
        details.box(left - 0.004, top - 0.022, right + 0.004, top + 0.006, stops + 0.7)
        details.box(left, top + 0.006, right, top + 0.030, stops - 2.4)
        details.line([(right, top), (right, 0.86)], 0.005, stops - 1.6)
        count = 3 if right - left > 0.36 else 2
        for column in range(count):
            x = left + (right - left) * (column + 0.5) / count
            for row, y in enumerate((0.155, 0.365, 0.60)):
                if row == 2 and column == count - 1:
                    continue
                _sash(details, glass, x, y, 0.155 if row < 2 else 0.175, stops)
        x = left + (right - left) * (count - 0.5) / count
        details.box(x - 0.052, 0.555, x + 0.052, 0.86, stops + 0.75)
        details.box(x - 0.040, 0.575, x + 0.040, 0.86, -2.4)
        details.box(x - 0.040, 0.575, x + 0.040, 0.622, 0.4)
        for panel in (0.645, 0.745):
            for side in (-0.031, 0.005):
                details.box(x + side, panel, x + side + 0.026, panel + 0.082, -1.9)
        details.ellipse(x + 0.033, 0.735, 0.004, 0.004, 1.6)
        details.polygon([(x - 0.06, 0.86), (x + 0.06, 0.86), (x + 0.07, 0.885), (x - 0.07, 0.885)], 1.3)
        details.box(x - 0.07, 0.885, x + 0.07, 0.90, -0.6)
    at.lay(details)
    sky = at.noise(217, 5, 7, 4)
    at.add(at.lay(glass), (0.9 * sky).astype(np.float32))
    ground = Shapes()
    ground.box(-0.1, 0.90, 1.6, 0.955, 0.75)
    ground.box(-0.1, 0.955, 1.6, 1.05, -0.9)
    ground.box(-0.1, 0.953, 1.6, 0.968, 1.2)
    at.add(at.lay(ground), (0.35 * at.noise(218, 60, 70, 4)).astype(np.float32))
    tree = Shapes()
    for x1, y1, x2, y2, thick in branches(219):
        tree.line(
            [(1.55 - 1.25 * x1 + 0.10, 1.25 * y1 - 0.10), (1.55 - 1.25 * x2 + 0.10, 1.25 * y2 - 0.10)],
            1.6 * thick,
            -1.5,
        )
    tree.line([(0.85, 0.72), (0.83, 0.92)], 0.075, -1.5)
    at.shade(tree, 0.005)
    _bicycle(at, 0.545, 0.915)


def _sash(details: Shapes, glass: Shapes, x: float, y: float, tall: float, wall: float) -> None:
    half = 0.044
    details.box(x - half - 0.012, y - 0.016, x + half + 0.012, y + tall + 0.010, wall + 0.75)
    details.box(x - half - 0.020, y + tall + 0.004, x + half + 0.020, y + tall + 0.016, wall + 1.3)
    details.box(x - half - 0.020, y + tall + 0.016, x + half + 0.020, y + tall + 0.026, wall - 1.7)
    details.box(x - half, y, x + half, y + tall, 1.9)
    for row in range(2):
        for column in range(2):
            left, top = x - half + 0.006 + column * half, y + 0.006 + row * tall / 2
            glass.box(left, top, left + half - 0.011, top + tall / 2 - 0.012, -2.3 + 0.8 * ((row + column) % 2))


def _bicycle(at: Canvas, x: float, ground: float) -> None:
    """A bicycle that leans on the wall."""
    made, shadow = Shapes(), Shapes()
    for shapes, dx, dy, stops in ((shadow, -0.03, 0.006, -1.4), (made, 0.0, 0.0, -3.0)):
        radius = 0.066
        back, front = (x - 0.088 + dx, ground - radius + dy), (x + 0.092 + dx, ground - radius + dy)
        saddle, head, crank = (
            (x - 0.045 + dx, ground - 0.155 + dy),
            (x + 0.064 + dx, ground - 0.155 + dy),
            (x - 0.008 + dx, ground - 0.058 + dy),
        )
        for middle in (back, front):
            rim = [
                (middle[0] + radius * float(np.cos(t)), middle[1] + radius * float(np.sin(t)))
                for t in np.linspace(0, 2 * np.pi, 40)
            ]
            shapes.line(rim, 0.006, stops)
        for path in (
            (back, crank, head, saddle, crank),
            (back, saddle),
            (head, front),
            (head, (head[0] - 0.012, head[1] - 0.035)),
        ):
            shapes.line(path, 0.0055, stops)
        shapes.line([(saddle[0], saddle[1]), (saddle[0] - 0.005, saddle[1] - 0.022)], 0.005, stops)
        shapes.line([(saddle[0] - 0.026, saddle[1] - 0.024), (saddle[0] + 0.016, saddle[1] - 0.022)], 0.009, stops)
        shapes.line([(head[0] - 0.036, head[1] - 0.040), (head[0] - 0.008, head[1] - 0.036)], 0.006, stops)
    at.shade(shadow, 0.002)
    at.lay(made)


def _bricks(at: Canvas) -> Array:
    """Return the joints and the unevenness of a brick wall, in stops."""
    course, long = 0.0125, 0.036
    row = np.floor(at.y / course)
    along = (at.x + 0.5 * long * (row % 2)) / long
    joint = np.abs(at.y / course - row - 0.5) > 0.42
    joint = joint | (np.abs(along - np.floor(along) - 0.5) > 0.47)
    each = np.sin(row * 12.9898 + np.floor(along) * 78.233) * 43758.5453
    uneven = 0.5 * (each - np.floor(each) - 0.5)
    # joints finer than a pixel come to their mean
    fine = min(1.0, max(0.0, (course * at.per_y - 2.0) / 2.0))
    return np.asarray(fine * (uneven + np.where(joint, 0.55, -0.09)), dtype=np.float32)


def roofs(at: Canvas) -> None:
    """Roofs and chimneys against the last light, some windows lit: shade below, a bright band of sky above."""
    glow = np.exp(-(((at.y - 0.36) / 0.16) ** 2))
    at.stops[:] = -0.2 + 2.9 * glow + 0.5 * np.clip(at.noise(361, 3, 9, 5), -0.5, 1.0)
    tiles = at.noise(362, 120, 110, 3)
    rng = np.random.default_rng(363)
    for row, (base, dark, size) in enumerate(
        ((0.42, -1.2, 0.55), (0.54, -1.9, 0.75), (0.68, -2.6, 1.0), (0.86, -3.2, 1.35))
    ):
        houses, lights = Shapes(), Shapes()
        x = -0.15
        while x < 1.55:
            wide = size * float(rng.uniform(0.17, 0.27))
            ridge = base - size * float(rng.uniform(0.09, 0.15))
            _house(houses, lights, x, wide, ridge, base, dark, size, rng)
            x += wide * float(rng.uniform(0.82, 1.0))
        laid = at.lay(houses)
        mist = 0.9 * np.clip((at.y - base) / 0.2, 0.0, 1.0) * (3 - row) / 3.0
        at.add(laid, (0.45 * tiles + mist).astype(np.float32))
        if lights.strokes:
            at.lay(lights, 0.001)
    smoke = Shapes()
    for number in range(22):
        x = 0.407 + 0.012 * number
        smoke.ellipse(
            x,
            0.37 - 0.012 * number + 0.00025 * number**2,
            0.008 + 0.0016 * number,
            0.010 + 0.0012 * number,
            -0.75 + 0.028 * number,
        )
    at.shade(smoke, 0.012)


def _house(
    houses: Shapes,
    lights: Shapes,
    x: float,
    wide: float,
    ridge: float,
    eaves: float,
    dark: float,
    size: float,
    rng: np.random.Generator,
) -> None:
    """Add a house that shows either its gable or its roof."""
    right, over = x + wide, 0.012 * size
    if rng.uniform() < 0.45:
        middle = x + wide / 2
        houses.polygon(
            [(x, eaves), (middle, ridge), (right, eaves), (right, eaves + 0.6), (x, eaves + 0.6)], dark - 0.25
        )
        houses.line(
            [(x - over, eaves + over), (middle, ridge - 0.004), (right + over, eaves + over)], 0.014 * size, dark + 1.0
        )
    else:
        houses.box(x, eaves, right, eaves + 0.6, dark - 0.2)
        houses.polygon(
            [
                (x - over, eaves + over),
                (x + 0.12 * wide, ridge),
                (right - 0.12 * wide, ridge),
                (right + over, eaves + over),
            ],
            dark + 0.55,
        )
        houses.line([(x + 0.12 * wide, ridge), (right - 0.12 * wide, ridge)], 0.006 * size, dark + 1.5)
    pot = x + wide * float(rng.uniform(0.2, 0.75))
    half, tall = 0.014 * size, 0.055 * size
    houses.box(pot - half, ridge - tall * 0.55, pot + half, ridge + 0.05 * size, dark - 0.1)
    houses.box(pot - 1.25 * half, ridge - tall * 0.6, pot + 1.25 * half, ridge - tall * 0.5, dark + 0.9)
    for side in (-0.5, 0.5):
        houses.box(
            pot + side * half - 0.3 * half,
            ridge - tall * 0.85,
            pot + side * half + 0.3 * half,
            ridge - tall * 0.55,
            dark + 0.3,
        )
    for number in range(2):
        if rng.uniform() < 0.42:
            left = x + wide * (0.25 + 0.34 * number)
            top = eaves + 0.035 * size
            across, down = 0.028 * size, 0.040 * size
            lights.box(left, top, left + across, top + down, float(rng.uniform(0.6, 1.9)))
            lights.line([(left + across / 2, top), (left + across / 2, top + down)], 0.004 * size, dark)
            lights.line([(left, top + down / 2), (left + across, top + down / 2)], 0.004 * size, dark)
