"""Scenes out of doors, in stops about middle grey: a lighthouse, misty hills, birches in snow, a bare oak.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from controller.picture.brushes import Canvas, Shapes
from controller.picture.pencils import rise

SUN_RIGHT: Final = (0.80, -0.25, 0.45)


def lighthouse(at: Canvas) -> None:
    """A white lighthouse on a headland, its sky much lighter than land and sea."""
    horizon = 0.635
    clouds = at.noise(101, 4, 7, 5)
    streaks = at.noise(102, 3, 16, 4)
    at.stops[:] = 2.0 + 1.15 * at.y / horizon + 0.85 * np.clip(clouds + 0.35 * streaks, -0.35, 0.9)
    sea = rise(at.y, horizon, 0.0015)
    depth = np.clip((at.y - horizon) / (1.0 - horizon), 0.0, 1.0)
    waves = at.noise(103, 10, 90, 4) * (0.25 + 0.75 * np.sqrt(depth))
    water = 1.3 - 1.9 * np.sqrt(depth) + 0.55 * waves
    sparkle = np.exp(-(((at.x - 1.16) / (0.10 + 0.22 * depth)) ** 2)) * np.clip(1.6 * waves + 0.35, 0.0, 1.0)
    at.stops += sea * (water + 2.3 * sparkle - at.stops)
    far = Shapes()
    far.polygon([(1.02, horizon), (1.10, 0.625), (1.22, 0.612), (1.36, 0.606), (1.52, 0.60), (1.52, horizon)], 1.2)
    at.lay(far, 0.0015)

    edge = at.row(104, 9) * 0.014
    outline = [(-0.05, 0.50), (0.10, 0.492), (0.24, 0.497), (0.36, 0.508), (0.46, 0.515), (0.55, 0.53), (0.62, 0.555)]
    outline += [(0.68, 0.60), (0.735, 0.62), (0.76, 0.68), (0.83, 0.725), (0.86, 0.79), (0.95, 0.83), (1.0, 0.90)]
    outline += [(1.12, 0.935), (1.2, 1.05)]
    xs, ys = zip(*outline, strict=True)
    steps = np.linspace(-0.05, 1.2, 160)
    ridge = np.interp(steps, xs, ys) + np.interp(steps, at.x[0], edge)
    land = Shapes()
    land.polygon([*zip(steps.tolist(), ridge.tolist(), strict=True), (-0.05, 1.05)], -1.5)
    laid = at.lay(land)
    rough = at.noise(105, 22, 40, 5)
    high = np.interp(at.x[0], steps, ridge).astype(np.float32)[None, :]
    under = at.y - high
    grass = np.exp(-under / 0.05) * 1.9 + np.exp(-under / 0.2) * 0.6
    cliffs = rise(at.x - 0.35 * at.y, 0.42, 0.12) * np.float32(-0.9)
    at.add(laid, (0.75 * rough + grass + cliffs).astype(np.float32))
    path = Shapes()
    path.polygon(
        [
            (0.40, 0.515),
            (0.425, 0.515),
            (0.36, 0.60),
            (0.40, 0.72),
            (0.20, 1.02),
            (0.02, 1.02),
            (0.30, 0.72),
            (0.32, 0.60),
        ],
        0.55,
    )
    at.add(at.lay(path, 0.004), 0.4 * rough)

    house = Shapes()
    house.polygon([(0.145, 0.50), (0.145, 0.43), (0.30, 0.43), (0.30, 0.505)], 1.2)
    house.polygon([(0.30, 0.43), (0.335, 0.455), (0.335, 0.51), (0.30, 0.51)], 2.5)
    house.polygon([(0.13, 0.433), (0.17, 0.378), (0.305, 0.378), (0.315, 0.433)], -1.2)
    house.polygon([(0.305, 0.378), (0.345, 0.458), (0.335, 0.462), (0.30, 0.433)], 0.8)
    house.box(0.205, 0.355, 0.228, 0.40, -0.2)
    for x in (0.165, 0.205, 0.255):
        house.box(x, 0.448, x + 0.020, 0.478, -2.6)
    at.lay(house)
    tower = [(0.16, 0.040), (0.24, 0.044), (0.35, 0.050), (0.525, 0.064)]
    at.turned(0.445, tower, white=4.6, light=SUN_RIGHT, ambient=0.15, wrap=0.12)
    at.turned(0.445, [(0.255, 0.0447), (0.335, 0.0497)], white=0.75, light=SUN_RIGHT, ambient=0.18)
    at.turned(0.445, [(0.148, 0.056), (0.164, 0.056)], white=1.6, light=SUN_RIGHT, ambient=0.2)
    lantern = Shapes()
    lantern.box(0.417, 0.098, 0.473, 0.148, 2.2)
    for x in (0.418, 0.436, 0.454, 0.472):
        lantern.line([(x, 0.096), (x, 0.15)], 0.005, -2.2)
    lantern.line([(0.388, 0.128), (0.502, 0.128)], 0.003, -1.5)
    for x in (0.39, 0.405, 0.485, 0.50):
        lantern.line([(x, 0.128), (x, 0.15)], 0.003, -1.5)
    lantern.line([(0.445, 0.03), (0.445, 0.065)], 0.004, -2.4)
    lantern.ellipse(0.445, 0.062, 0.009, 0.009, -2.4)
    at.lay(lantern)
    at.turned(0.445, [(0.066, 0.004), (0.075, 0.018), (0.088, 0.029), (0.099, 0.034)], white=0.35, light=SUN_RIGHT)
    windows = Shapes()
    for y in (0.215, 0.37, 0.445):
        windows.box(0.447, y, 0.459, y + 0.026, -2.4)
    windows.box(0.436, 0.482, 0.458, 0.524, -2.8)
    at.lay(windows)
    birds = Shapes()
    for x, y, long in ((0.80, 0.24, 0.020), (0.88, 0.20, 0.015), (0.93, 0.27, 0.013)):
        birds.bird(x, y, long, 0.2)
    at.lay(birds)


def hills(at: Canvas) -> None:
    """Ridge behind ridge in morning mist, firs on the nearest: a scene of hardly three stops."""
    at.stops[:] = 1.15 - 0.25 * at.y + 0.10 * at.noise(111, 3, 5, 3)
    at.glow(1.05, 0.16, 0.10, 0.8)
    ridges = (
        (0.34, 0.060, 4, 0.95, 0.16),
        (0.43, 0.070, 5, 0.70, 0.17),
        (0.52, 0.075, 5, 0.38, 0.19),
        (0.63, 0.070, 6, 0.0, 0.20),
        (0.76, 0.060, 7, -0.5, 0.22),
    )
    for number, (top, swing, cells, stops, mist) in enumerate(ridges):
        line = top + swing * at.row(112 + number, cells, 6)
        shape = rise((at.y - line[None, :]) * at.per_y, 0.0, 0.8)
        under = np.clip((at.y - line[None, :]) / mist, 0.0, 1.4)
        wooded = 0.10 * at.noise(120 + number, 60, 50, 3) * (0.3 + 0.2 * number)
        at.stops += shape * (stops + 0.62 * under + wooded - at.stops)
    lake = Shapes()
    lake.polygon([(-0.1, 0.885), (0.3, 0.872), (0.8, 0.868), (1.2, 0.874), (1.6, 0.882), (1.6, 1.1), (-0.1, 1.1)], 0.55)
    at.add(at.lay(lake, 0.006), 0.16 * at.noise(131, 6, 90, 3) - 0.45 * np.clip((at.y - 0.88) / 0.12, 0.0, 1.0))
    rng = np.random.default_rng(132)
    firs = Shapes()
    for number in range(34):
        x = float(rng.uniform(-0.05, 0.62) if number % 3 else rng.uniform(1.15, 1.55))
        near = 1.0 - min(abs(x), abs(1.55 - x)) / 0.7
        tall = float(rng.uniform(0.10, 0.22)) * (0.45 + 0.85 * near)
        _fir(firs, x, 0.90 + 0.03 * near, tall, rng)
    firs.polygon([(-0.1, 0.90), (0.18, 0.895), (0.45, 0.905), (0.72, 0.925), (0.40, 0.945), (-0.1, 0.99)], -1.35)
    firs.polygon([(1.6, 0.905), (1.35, 0.905), (1.12, 0.925), (1.30, 0.94), (1.6, 0.97)], -1.35)
    at.add(at.lay(firs), 0.25 * at.noise(133, 70, 60, 3))


def _fir(shapes: Shapes, x: float, foot: float, tall: float, rng: np.random.Generator) -> None:
    dark = -1.35 + float(rng.uniform(-0.1, 0.15))
    shapes.line([(x, foot), (x, foot - tall)], 0.004, dark)
    tiers = 9
    for tier in range(tiers):
        top = foot - tall + tall * tier / (tiers + 1.2)
        half = tall * (0.02 + 0.026 * tier) * float(rng.uniform(0.8, 1.2))
        drop = tall * 0.16
        shapes.polygon(
            [
                (x, top - 0.01 * tall),
                (x + half, top + drop),
                (x + 0.3 * half, top + 0.8 * drop),
                (x - half, top + drop * float(rng.uniform(0.9, 1.1))),
            ],
            dark,
        )


def birches(at: Canvas) -> None:
    """Birches in snow, a dark wood behind them: nearly all of it lighter than middle grey."""
    at.stops[:] = 2.0 - 0.3 * at.y + 0.10 * at.noise(141, 4, 4, 3)
    wood = at.noise(142, 90, 5, 4)
    top = 0.30 + 0.05 * at.row(143, 12, 6)
    far = rise((at.y - top[None, :]) * at.per_y, 0.0, 6.0)
    at.stops += far * (0.15 + 0.9 * wood * np.clip((at.y - 0.28) / 0.1, 0.2, 1.0) - at.stops)
    ground = 0.60 + 0.018 * at.row(144, 4, 4)
    snow = rise((at.y - ground[None, :]) * at.per_y, 0.0, 2.0)
    drift = at.noise(145, 5, 9, 5)
    at.stops += snow * (2.75 + 0.22 * drift + 0.35 * np.clip((at.y - 0.6) / 0.4, 0.0, 1.0) - at.stops)
    rng = np.random.default_rng(146)
    trunks = [(0.07, 0.86, 0.020), (0.21, 0.70, 0.012), (0.36, 0.93, 0.026), (0.47, 0.665, 0.009), (0.60, 0.74, 0.014)]
    trunks += [
        (0.745, 0.655, 0.008),
        (0.90, 0.84, 0.019),
        (1.02, 0.68, 0.010),
        (1.16, 0.96, 0.029),
        (1.29, 0.72, 0.013),
    ]
    trunks += [(1.40, 0.80, 0.017)]
    shadows, twigs = Shapes(), Shapes()
    for x, foot, half in trunks:
        long = 10.0 * half
        shadows.polygon(
            [
                (x - half, foot),
                (x + half, foot),
                (x + 4.5 * long, foot + 0.75 * long),
                (x + 4.3 * long, foot + 0.78 * long),
            ],
            -0.75,
        )
    at.shade(shadows, 0.006)
    bark = at.noise(147, 26, 110, 4)
    spots = np.where(bark > 0.62, -3.2 * (bark - 0.62) / 0.3, 0.0).clip(-2.6, 0.0).astype(np.float32)
    for x, foot, half in sorted(trunks, key=lambda trunk: trunk[1]):
        low = np.where(at.y > foot - 5.0 * half, (foot - 5.0 * half - at.y) * (0.22 / half), 0.0) * (0.6 + 0.5 * bark)
        lean = [(-0.05, 0.72 * half), (0.3, 0.86 * half), (foot - 0.03, half), (foot, 1.14 * half)]
        at.turned(x, lean, white=4.2, light=(-0.72, -0.1, 0.62), ambient=0.17, marks=spots + low.astype(np.float32))
        for _ in range(5):
            side = float(rng.choice((-1.0, 1.0)))
            start = float(rng.uniform(0.02, 0.36))
            _twig(twigs, x + side * 0.6 * half, start, side, half, rng)
    at.lay(twigs)
    stems = Shapes()
    for _ in range(34):
        x, y = float(rng.uniform(0.0, 1.5)), float(rng.uniform(0.66, 0.98))
        tall = 0.05 * (y - 0.5) * float(rng.uniform(0.6, 1.8))
        stems.line([(x, y), (x + float(rng.uniform(-0.004, 0.004)), y - tall)], 0.0022, 0.2)
    at.lay(stems)


def _twig(shapes: Shapes, x: float, y: float, side: float, half: float, rng: np.random.Generator) -> None:
    points, thick = [(x, y)], 0.2 * half
    for _ in range(4):
        x += side * float(rng.uniform(0.02, 0.05))
        y -= float(rng.uniform(0.005, 0.05))
        points.append((x, y))
    shapes.line(points, thick, -1.4)
    for px, py in points[1:]:
        shapes.line(
            [(px, py), (px + side * float(rng.uniform(0.01, 0.04)), py + float(rng.uniform(0.03, 0.09)))], 0.0022, -1.0
        )


def oak(at: Canvas) -> None:
    """A bare oak on a hill against a bright sky, its meadow in shade: a scene of eight stops."""
    clouds = at.noise(151, 3, 6, 6)
    at.stops[:] = 2.3 + 1.2 * at.y + 0.95 * np.clip(clouds, -0.6, 0.9)
    hill = 0.80 + 0.055 * np.sin(2.1 * at.x[0] - 0.35) * -1.0 + 0.006 * at.row(152, 40, 4)
    ground = rise((at.y - hill[None, :]) * at.per_y, 0.0, 0.9)
    blades = at.noise(153, 120, 36, 4)
    under = at.y - hill[None, :]
    meadow = -1.2 + 0.65 * blades - 2.0 * under + 0.8 * np.exp(-under / 0.02)
    at.stops += ground * (meadow.astype(np.float32) - at.stops)
    tree = Shapes()
    for x1, y1, x2, y2, thick in branches(154):
        tree.line([(x1, y1), (x2, y2)], thick, -2.9)
    tree.polygon(
        [
            (0.55, 0.80),
            (0.585, 0.74),
            (0.594, 0.54),
            (0.646, 0.54),
            (0.662, 0.74),
            (0.715, 0.80),
            (0.66, 0.79),
            (0.63, 0.81),
            (0.60, 0.79),
        ],
        -2.9,
    )
    bark = at.noise(155, 160, 30, 3)
    at.add(at.lay(tree), 0.5 * bark)
    fence = Shapes()
    for number in range(9):
        x = 0.86 + 0.085 * number
        y = 0.80 - 0.055 * float(np.sin(2.1 * x - 0.35)) + 0.012
        fence.line([(x, y), (x + 0.003 * (number % 3 - 1), y - 0.075)], 0.009, -2.3)
        for wire in (0.028, 0.058):
            ahead = x + 0.085
            fence.line(
                [(x, y - wire), (ahead, 0.80 - 0.055 * float(np.sin(2.1 * ahead - 0.35)) + 0.012 - wire)], 0.002, -1.2
            )
    at.lay(fence)
    walk = Shapes()
    walk.polygon([(0.30, 0.80), (0.34, 0.80), (0.42, 0.88), (0.36, 1.02), (0.12, 1.02), (0.30, 0.88)], 0.35)
    at.add(at.lay(walk, 0.006), 0.3 * blades)


Branch = tuple[float, float, float, float, float]


@lru_cache(maxsize=4)
def branches(seed: int) -> tuple[Branch, ...]:
    """Return the boughs and twigs of a bare tree: (from x, y, to x, y, thick)."""
    rng = np.random.default_rng(seed)
    made: list[Branch] = []
    ends = [(0.62, 0.66, -np.pi / 2, 0.125, 0.052, 0)]
    while ends:
        x, y, turn, long, thick, order = ends.pop()
        x2, y2 = x + long * float(np.cos(turn)), y + long * float(np.sin(turn))
        made.append((x, y, x2, y2, max(thick, 0.0016)))
        if order >= 8:
            continue
        for side in (-1, 1) if order % 3 else (-1, 1, 0):
            bend = side * float(rng.uniform(0.28, 0.72)) + float(rng.uniform(-0.18, 0.18))
            shorter = float(rng.uniform(0.70, 0.86))
            ends.append((x2, y2, turn + bend, long * shorter, thick * 0.66, order + 1))
    return tuple(made)
