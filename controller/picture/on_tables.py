"""Still lifes, in stops about middle grey: a table by a window, a shelf of cups.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from controller.picture.brushes import Canvas, Shapes, rounded

FROM_WINDOW: Final = (-0.86, -0.22, 0.40)


def jug(at: Canvas) -> None:
    """A jug, a bottle and apples on a table beside a window, whose light does not reach the right half."""
    away = np.clip(at.x / 1.5, 0.0, 1.0)
    plaster = at.noise(301, 5, 4, 5)
    at.stops[:] = 1.1 - 4.0 * away**0.85 - 0.5 * np.abs(at.y - 0.35) + 0.16 * plaster
    window = Shapes()
    window.polygon([(-0.1, -0.1), (0.225, -0.1), (0.225, 0.60), (-0.1, 0.64)], 1.5)
    window.polygon([(-0.1, -0.1), (0.195, -0.1), (0.195, 0.572), (-0.1, 0.608)], 0.2)
    window.polygon([(-0.1, -0.1), (0.085, -0.1), (0.085, 0.25), (-0.1, 0.245)], 4.1)
    window.polygon([(0.108, -0.1), (0.178, -0.1), (0.178, 0.254), (0.108, 0.251)], 4.1)
    window.polygon([(-0.1, 0.278), (0.085, 0.282), (0.085, 0.560), (-0.1, 0.584)], 4.0)
    window.polygon([(0.108, 0.283), (0.178, 0.285), (0.178, 0.548), (0.108, 0.557)], 4.0)
    at.add(at.lay(window, 0.002), 0.12 * at.noise(302, 6, 8, 3))
    sill = Shapes()
    sill.polygon([(-0.1, 0.640), (0.225, 0.598), (0.262, 0.622), (-0.1, 0.668)], 2.7)
    sill.polygon([(-0.1, 0.668), (0.262, 0.622), (0.262, 0.645), (-0.1, 0.70)], -0.2)
    at.lay(sill)
    at.glow(0.08, 0.30, 0.34, 0.9)

    table = Shapes()
    table.polygon([(-0.1, 0.735), (1.6, 0.715), (1.6, 1.1), (-0.1, 1.1)], 0.0)
    grain = at.noise(303, 3, 130, 4) + 0.4 * at.noise(304, 30, 200, 2)
    light = 1.35 - 3.6 * np.clip(away - 0.05, 0.0, 1.0) + 0.4 * (at.y - 0.72)
    at.add(at.lay(table, 0.0015), (light + 0.42 * grain).astype(np.float32))
    edge = Shapes()
    edge.polygon([(-0.1, 0.955), (1.6, 0.93), (1.6, 0.942), (-0.1, 0.967)], 0.55)
    at.shade(edge, 0.004)
    front = Shapes()
    front.polygon([(-0.1, 0.967), (1.6, 0.942), (1.6, 1.1), (-0.1, 1.1)], -1.7)
    at.shade(front, 0.003)

    shadows = Shapes()
    shadows.polygon(
        [(0.62, 0.855), (0.70, 0.79), (1.15, 0.770), (1.42, 0.775), (1.40, 0.83), (1.0, 0.87), (0.72, 0.885)], -1.5
    )
    shadows.polygon([(0.415, 0.835), (0.44, 0.80), (0.66, 0.79), (0.74, 0.80), (0.60, 0.845)], -1.1)
    shadows.polygon([(0.90, 0.915), (0.94, 0.875), (1.20, 0.868), (1.22, 0.895), (1.02, 0.925)], -1.3)
    shadows.polygon([(1.04, 0.875), (1.09, 0.84), (1.32, 0.835), (1.33, 0.86), (1.16, 0.885)], -1.2)
    at.shade(shadows, 0.014)

    glass = [
        (0.285, 0.0155),
        (0.30, 0.0185),
        (0.312, 0.0165),
        (0.43, 0.0175),
        (0.475, 0.026),
        (0.52, 0.047),
        (0.56, 0.056),
        (0.60, 0.058),
    ]
    glass += [(0.81, 0.057), (0.828, 0.051)]
    at.turned(0.415, glass, white=0.30, light=FROM_WINDOW, wrap=0.3, ambient=0.12, gloss=2.2)
    shine = Shapes()
    shine.polygon([(0.374, 0.56), (0.384, 0.55), (0.384, 0.70), (0.374, 0.715)], 2.9)
    shine.polygon([(0.4045, 0.33), (0.4085, 0.33), (0.4095, 0.44), (0.405, 0.44)], 2.3)
    shine.polygon([(0.452, 0.57), (0.463, 0.58), (0.463, 0.79), (0.452, 0.80)], -0.4)
    at.lay(shine, 0.002)
    label = at.noise(305, 50, 60, 3)
    at.turned(
        0.415,
        [(0.645, 0.0585), (0.755, 0.0583)],
        white=2.3,
        light=FROM_WINDOW,
        wrap=0.3,
        ambient=0.10,
        marks=0.12 * label,
    )

    body = [
        (0.345, 0.094),
        (0.352, 0.098),
        (0.362, 0.092),
        (0.40, 0.080),
        (0.44, 0.078),
        (0.49, 0.095),
        (0.55, 0.130),
        (0.62, 0.158),
    ]
    body += [(0.69, 0.163), (0.76, 0.146), (0.815, 0.112), (0.845, 0.096), (0.862, 0.100)]
    handle = Shapes()
    bow = rounded([(0.785, 0.395), (0.85, 0.385), (0.905, 0.43), (0.925, 0.50), (0.895, 0.57), (0.845, 0.615)])
    handle.line(bow, 0.030, -2.6)
    at.lay(handle, 0.0015)
    rim = Shapes()
    rim.line([(x - 0.004, y - 0.008) for x, y in bow[len(bow) // 5 : 3 * len(bow) // 5]], 0.006, -0.6)
    at.lay(rim, 0.003)
    glaze = at.noise(306, 40, 40, 3)
    drip = at.noise(307, 60, 2, 3)
    dipped = np.where(at.y < 0.60 + 0.03 * drip, 0.0, -1.05).astype(np.float32)
    at.turned(0.70, body, white=3.1, light=FROM_WINDOW, wrap=0.3, ambient=0.05, gloss=1.5, marks=0.10 * glaze + dipped)
    mouth = Shapes()
    mouth.ellipse(0.70, 0.347, 0.094, 0.017, 1.5)
    mouth.ellipse(0.702, 0.350, 0.083, 0.012, -3.0)
    mouth.polygon([(0.606, 0.345), (0.572, 0.336), (0.612, 0.375)], 1.7)
    at.lay(mouth)

    for x, y, size, white in ((1.055, 0.826, 0.062, 0.75), (0.935, 0.862, 0.066, 1.35)):
        turns = np.linspace(0.06, np.pi - 0.10, 16)
        round_ = [
            (y - 0.94 * size * float(np.cos(t)), size * float(np.sin(t)) ** 0.85 * (1.06 - 0.06 * float(np.cos(t))))
            for t in turns
        ]
        streaks = at.noise(int(308 + 10 * x), 130, 9, 3)
        at.turned(x, round_, white=white, light=FROM_WINDOW, wrap=0.3, ambient=0.05, gloss=1.3, marks=0.35 * streaks)
        stalk = Shapes()
        stalk.ellipse(x + 0.004, y - 0.90 * size, 0.42 * size, 0.10 * size, -2.4)
        stalk.line([(x + 0.004, y - 0.88 * size), (x + 0.014, y - 1.28 * size)], 0.006, -2.8)
        at.lay(stalk, 0.003)
    cloth = Shapes()
    cloth.polygon(
        [(0.10, 0.84), (0.30, 0.865), (0.395, 0.905), (0.36, 0.955), (0.30, 1.03), (0.10, 1.03), (-0.02, 0.90)], 2.2
    )
    folds = np.sin(46.0 * (at.x * 0.75 - at.y) + 2.2 * at.noise(311, 5, 5, 3)).astype(np.float32)
    at.add(at.lay(cloth, 0.003), 0.5 * folds - 0.4 * (at.y > 0.955))
    knife = Shapes()
    knife.polygon([(0.47, 0.925), (0.60, 0.905), (0.64, 0.905), (0.61, 0.918), (0.475, 0.938)], 2.5)
    knife.polygon([(0.365, 0.945), (0.47, 0.925), (0.475, 0.938), (0.372, 0.960)], -2.6)
    at.lay(knife)


def cups(at: Canvas) -> None:
    """Cups and bowls on two shelves in the light of an overcast day: soft, all of it near middle grey."""
    at.stops[:] = 0.55 - 0.75 * at.x / 1.5 + 0.14 * at.noise(331, 6, 5, 5) + 0.05 * at.noise(332, 80, 60, 3)
    boards = Shapes()
    for line in range(1, 8):
        boards.line([(0.21 * line, -0.1), (0.21 * line, 1.1)], 0.005, -1.1)
    at.shade(boards, 0.0025)
    shelves = Shapes()
    for y in (0.455, 0.905):
        shelves.box(-0.1, y, 1.6, y + 0.028, 0.9)
        shelves.box(-0.1, y + 0.028, 1.6, y + 0.055, -0.9)
    grain = at.noise(333, 4, 160, 4)
    at.add(at.lay(shelves), (0.35 * grain - 0.35 * at.x).astype(np.float32))
    under = Shapes()
    for y in (0.51, 0.96):
        under.box(-0.1, y, 1.6, y + 0.05, -1.3)
    at.shade(under, 0.016)
    things = (
        (0.16, 0.455, 0.105, 0.150, "bowl", 2.0),
        (0.44, 0.455, 0.072, 0.165, "cup", 2.6),
        (0.66, 0.455, 0.060, 0.245, "pot", 0.55),
        (0.90, 0.455, 0.085, 0.120, "bowl", 0.85),
        (1.10, 0.455, 0.058, 0.150, "cup", 1.5),
        (1.33, 0.455, 0.080, 0.230, "pot", 1.9),
        (0.15, 0.905, 0.068, 0.160, "cup", 0.7),
        (0.40, 0.905, 0.088, 0.275, "pot", 2.3),
        (0.68, 0.905, 0.120, 0.135, "bowl", 1.6),
        (0.95, 0.905, 0.070, 0.165, "cup", 2.7),
        (1.17, 0.905, 0.070, 0.165, "cup", 2.4),
        (1.38, 0.905, 0.075, 0.215, "pot", 0.45),
    )
    shade = Shapes()
    for x, foot, half, tall, _, _ in things:
        shade.polygon(
            [
                (x, foot - 0.9 * tall),
                (x + half, foot - 0.8 * tall),
                (x + 2.0 * half, foot - 0.5 * tall),
                (x + 1.8 * half, foot),
                (x, foot),
            ],
            -0.85,
        )
    at.shade(shade, 0.022)
    glaze = at.noise(334, 50, 50, 4)
    light = (-0.62, -0.45, 0.62)
    for number, (x, foot, half, tall, kind, white) in enumerate(things):
        if kind == "cup":
            bow = [
                (x + half * 0.9, foot - 0.78 * tall),
                (x + 1.42 * half, foot - 0.74 * tall),
                (x + 1.58 * half, foot - 0.52 * tall),
                (x + 1.36 * half, foot - 0.30 * tall),
                (x + 0.80 * half, foot - 0.22 * tall),
            ]
            ear = Shapes()
            ear.line(rounded(bow), 0.020, float(np.log2(white)) - 1.3)
            at.lay(ear, 0.0015)
        at.turned(
            x,
            [(foot - tall * (1.0 - share), half * wide) for share, wide in _PROFILES[kind]],
            white=white,
            light=light,
            ambient=0.13,
            wrap=0.45,
            gloss=0.9,
            marks=0.16 * glaze,
        )
        mouth = Shapes()
        rim = half * _PROFILES[kind][0][1]
        bright = float(np.log2(white))
        mouth.ellipse(x, foot - tall, rim, 0.16 * rim, bright - 0.3)
        mouth.ellipse(x, foot - tall + 0.03 * rim, 0.93 * rim, 0.125 * rim, bright - 2.0 - 0.1 * (number % 3))
        at.lay(mouth, 0.0012)
        if kind == "cup" and white > 2.0:
            band = foot - tall * 0.62
            at.turned(
                x, [(band, half * 0.985), (band + 0.016, half * 0.975)], white=0.3, light=light, ambient=0.2, wrap=0.45
            )


_PROFILES: Final = {
    "cup": ((0.0, 1.0), (0.25, 0.985), (0.6, 0.93), (0.86, 0.80), (0.97, 0.58), (1.0, 0.60)),
    "bowl": ((0.0, 1.0), (0.12, 0.985), (0.4, 0.88), (0.68, 0.66), (0.88, 0.42), (0.93, 0.38), (1.0, 0.42)),
    "pot": (
        (0.0, 0.62),
        (0.06, 0.66),
        (0.12, 0.56),
        (0.2, 0.58),
        (0.42, 0.92),
        (0.6, 1.0),
        (0.82, 0.86),
        (0.97, 0.62),
        (1.0, 0.64),
    ),
}
"""(How far down, half the width against its widest) from the rim to the foot."""
