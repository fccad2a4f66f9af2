"""Scenes by the water, in stops about middle grey: a pier in a long exposure, a viaduct over a river.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

import numpy as np

from controller.picture.brushes import Canvas, Shapes
from controller.picture.pencils import rise

SUN_LEFT = (-0.70, -0.30, 0.55)


def pier(at: Canvas) -> None:
    """The posts of an old pier in a still sea under a grey sky: a long exposure, all softness but for the posts."""
    horizon = 0.40
    at.stops[:] = 0.55 + 1.15 * at.y / horizon + 0.42 * at.noise(341, 2, 9, 5)
    sea = rise(at.y, horizon, 0.006)
    depth = np.clip((at.y - horizon) / (1.0 - horizon), 0.0, 1.0)
    veil = at.noise(342, 2, 26, 4)
    at.stops += sea * (1.45 - 1.7 * depth + 0.22 * veil - at.stops)
    glass = Shapes()
    glass.ellipse(0.80, 0.62, 0.42, 0.20, 0.55)
    at.shade(glass, 0.09)
    rows = []
    for number in range(11):
        deep = 1.0 + 0.62 * number + 0.06 * number**2
        for side in (-1.0, 1.0):
            if (number, side) in {(2, 1.0), (5, -1.0), (6, 1.0), (9, 1.0)}:
                continue
            x = 0.80 + (side * 0.50 - 0.10) / deep
            foot = horizon + 0.50 / deep
            rows.append((deep, x, foot, side))
    mirror = Shapes()
    for deep, x, foot, side in rows:
        half, tall = 0.026 / deep, (0.30 + 0.05 * np.sin(7.0 * deep + side)) / deep
        mirror.polygon(
            [
                (x - half, foot),
                (x + half, foot),
                (x + 1.25 * half, foot + 0.9 * tall),
                (x - 0.9 * half, foot + 0.9 * tall),
            ],
            -1.5 / deep**0.45,
        )
    at.shade(mirror, 0.007)
    wood = at.noise(343, 130, 14, 4)
    for deep, x, foot, side in sorted(rows, reverse=True):
        half, tall = 0.026 / deep, (0.30 + 0.05 * np.sin(7.0 * deep + side)) / deep
        fog = min(0.75, 0.07 * (deep - 1.0))
        wet = (-1.1 * rise(at.y, foot - 0.30 * tall, 0.03 / deep)).astype(np.float32)
        at.turned(
            x,
            [(foot - tall, 0.90 * half), (foot, half)],
            white=0.62 + 1.5 * fog,
            light=SUN_LEFT,
            ambient=0.16 + 0.5 * fog,
            wrap=0.3,
            marks=0.55 * wood + wet,
        )
    beams = Shapes()
    for deep, x, foot, side in sorted(rows, reverse=True):
        if deep in {1.0} and side < 0.0:
            continue
        if side > 0.0 and deep < 2.5:
            tall = 0.26 / deep
            other = 0.80 - 0.60 / deep
            beams.polygon(
                [
                    (other - 0.02, foot - 0.80 * tall),
                    (x + 0.03 / deep, foot - 0.88 * tall),
                    (x + 0.03 / deep, foot - 0.76 * tall),
                    (other - 0.02, foot - 0.69 * tall),
                ],
                -2.2,
            )
    if beams.strokes:
        at.add(at.lay(beams), 0.4 * at.noise(344, 8, 120, 3))
    gulls = Shapes()
    for x, y, long in ((0.33, 0.16, 0.022), (0.42, 0.21, 0.015)):
        gulls.bird(x, y, long, -1.0)
    at.lay(gulls)


def viaduct(at: Canvas) -> None:
    """A viaduct of seven arches across a valley, in the sun, and its image in the river."""
    at.stops[:] = 2.2 + 0.5 * at.y + 0.55 * np.clip(at.noise(351, 3, 5, 6), -0.5, 0.9)
    woods = at.noise(352, 60, 44, 4)
    for number, (top, swing, stops, seed) in enumerate(((0.34, 0.05, 0.75, 353), (0.42, 0.06, 0.05, 354))):
        line = top + swing * at.row(seed, 4, 6) + 0.07 * np.abs(at.x[0] - 0.72) * (-1.0 if number else 0.4)
        shape = rise((at.y - line[None, :]) * at.per_y, 0.0, 0.8)
        at.stops += shape * (stops + (0.25 + 0.3 * number) * woods - at.stops)
    deck, spring, foot = 0.355, 0.475, 0.735
    bays, pitch, first = 8, 0.205, -0.06
    stone = at.noise(355, 90, 80, 4)
    face, inside = Shapes(), Shapes()
    face.polygon([(-0.1, deck), (1.6, deck), (1.6, foot + 0.01), (-0.1, foot + 0.01)], 1.25)
    turns = np.linspace(0.0, np.pi, 28)
    holes = []
    for bay in range(bays):
        middle, half = first + pitch * (bay + 0.5), 0.078
        holes.append((middle, half))
    # what is seen through an arch is what was there before the stone
    behind = at.stops.copy()
    laid = at.lay(face)
    courses = np.where(np.abs((at.y * 55.0) % 1.0 - 0.5) > 0.42, -0.28, 0.0) * min(1.0, at.per_y / 600.0)
    at.add(laid, (0.5 * stone + courses - 0.5 * np.clip((at.y - spring) / 0.26, 0.0, 1.0)).astype(np.float32))
    through = Shapes()
    for middle, half in holes:
        arch = [(middle + half * float(np.cos(t)), spring - half * float(np.sin(t))) for t in turns]
        through.polygon([*arch, (middle - half, foot + 0.02), (middle + half, foot + 0.02)], 0.0)
        # the arch's own thickness is seen on its left, in shade
        seen = [float(t) for t in turns if t > 0.5]
        rim = [(middle + half * float(np.cos(t)), spring - half * float(np.sin(t))) for t in seen]
        inner = [
            (x + 0.015 * (0.88 - float(np.cos(t))), y + 0.008 * float(np.sin(t - 0.5)))
            for (x, y), t in zip(rim, seen, strict=True)
        ]
        feet = [(middle - half, foot + 0.02), (middle - half + 0.028, foot + 0.02)]
        inside.polygon([*rim, *feet, *reversed(inner)], -1.75)
    opened = at.lay(through)
    at.stops[opened.window] += opened.cover * behind[opened.window]
    at.add(at.lay(inside), 0.35 * stone)
    edges = Shapes()
    edges.box(-0.1, deck - 0.030, 1.6, deck - 0.004, 1.7)
    edges.box(-0.1, deck - 0.004, 1.6, deck + 0.006, -0.7)
    for bay in range(bays + 1):
        x = first + pitch * bay
        edges.polygon(
            [
                (x - 0.014, deck - 0.038),
                (x + 0.014, deck - 0.038),
                (x + 0.018, foot + 0.005),
                (x - 0.018, foot + 0.005),
            ],
            1.55,
        )
        edges.polygon(
            [
                (x + 0.014, deck - 0.038),
                (x + 0.020, deck - 0.034),
                (x + 0.027, foot + 0.005),
                (x + 0.018, foot + 0.005),
            ],
            -0.9,
        )
    for middle, half in holes:
        edges.line(
            [(middle + 1.07 * half * float(np.cos(t)), spring - 1.07 * half * float(np.sin(t))) for t in turns],
            0.006,
            0.25,
        )
    at.add(at.lay(edges), 0.4 * stone)
    _train(at, deck - 0.030)
    bank = foot + 0.012 * at.row(356, 7, 5)
    shore = rise((at.y - bank[None, :]) * at.per_y, 0.0, 1.0)
    at.stops += shore * (-0.75 + 0.75 * at.noise(357, 50, 40, 4) - at.stops)
    _river(at, 0.775)


def _train(at: Canvas, rail: float) -> None:
    """A small engine with four carriages, and its steam."""
    steam = Shapes()
    for number in range(14):
        x = 0.865 - 0.030 * number
        steam.ellipse(
            x, rail - 0.070 - 0.0035 * number, 0.022 + 0.0022 * number, 0.012 + 0.0016 * number, 1.35 - 0.09 * number
        )
    at.shade(steam, 0.012)
    train = Shapes()
    train.box(0.80, rail - 0.030, 0.875, rail - 0.006, -2.6)
    train.box(0.80, rail - 0.042, 0.825, rail - 0.006, -2.6)
    train.box(0.858, rail - 0.046, 0.866, rail - 0.028, -2.6)
    for number in range(4):
        x = 0.695 - 0.105 * number
        train.box(x, rail - 0.038, x + 0.098, rail - 0.007, -1.5)
        for window in range(6):
            train.box(x + 0.007 + 0.015 * window, rail - 0.031, x + 0.017 + 0.015 * window, rail - 0.021, 1.0)
    for x in np.arange(0.39, 0.88, 0.022):
        train.ellipse(float(x), rail - 0.005, 0.006, 0.006, -2.8)
    at.lay(train)


def _river(at: Canvas, top: float) -> None:
    """Turn what lies below `top` into water that mirrors what stands over it."""
    first = int(top * at.height)
    rows = at.height - first
    if rows < 2 or first < 2:
        return
    ripple = at.noise(358, 14, 150, 4)[first:]
    depth = np.linspace(0.0, 1.0, rows, dtype=np.float32)[:, None]
    source = first - 1 - 1.55 * np.arange(rows, dtype=np.float32)[:, None] + ripple * depth * 0.030 * at.height
    taken = np.clip(source, 0, first - 1).astype(np.int32)
    mirrored = np.take_along_axis(at.stops[:first], np.broadcast_to(taken, (rows, at.width)), axis=0)
    at.stops[first:] = mirrored * 0.85 - 0.65 + 0.35 * ripple * (0.4 + depth)
