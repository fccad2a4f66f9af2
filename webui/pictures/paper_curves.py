"""What a paper makes of soft and hard light: its curves with lettered flags, what can be had, and the two-way grid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.words import say
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, Stroke, cut_to

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.contrast.asks import Grid
    from controller.paper.graphs import Curves, Flag, Reach

LETTERING: Final = 12.0
LEFT: Final = 32.0
RIGHT: Final = WIDTH - 14.0
TOP: Final = 26.0
FLOOR: Final = 210.0
ROW: Final = 18
STROKES: Final[dict[str, Stroke]] = {"both": "whole", "soft": "dotted", "hard": "dashed"}
"""Soft is dotted and hard is dashed, so that no colour carries meaning alone."""
_REACHES: Final = tuple((side, far) for far in (20.0, 34.0, 48.0, 62.0, 76.0) for side in (-1.0, 1.0))
LETTERS: Final = "ABCDEFGHIJKL"
CELL: Final = 48.0
GAP: Final = 2.0
GRID_LEFT: Final = 38.0
GRID_TOP: Final = 42.0

Points = list[tuple[float, float]]


@dataclass(frozen=True)
class _Scales:
    """Where values stand on the picture: `across` from `low` to `high`, `up` from none to `most`."""

    low: float
    high: float
    most: float

    def x(self, value: float) -> float:
        return LEFT + (RIGHT - LEFT) * (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)

    def y(self, value: float) -> float:
        return FLOOR - (FLOOR - TOP) * min(max(value, 0.0), self.most) / self.most

    def points(self, across: Sequence[float], up: Sequence[float]) -> Points:
        return [(self.x(a), self.y(u)) for a, u in zip(across, up, strict=True)]


def curves_picture(curves: Curves, *, ident: str, face: Face = Face.DAY, letters: Sequence[str] = LETTERS) -> Picture:
    """Draw the characteristic curves of soft, hard and both, the tones as lettered flags on the curve of both.

    Across: light on the paper in stops, more to the right. Up: print density. A dodge is an arrow to the left,
    a burn one to the right. The words and densities of each tone stand below, after its letter.
    """
    drawing = Drawing(ident, face)
    scales = _Scales(curves.low_stops, curves.high_stops, curves.most_density)
    legend_at = FLOOR + 2 * ROW
    _frame(drawing, scales, say("paper.picture-up"), say("paper.picture-stops"))
    for stop in range(round(scales.high - scales.low) + 1):
        x = scales.x(scales.low + stop)
        drawing.trace([(x, FLOOR), (x, FLOOR + 4)], "hair")
    for curve in curves.curves:
        step = (scales.high - scales.low) / (len(curve.densities) - 1)
        stops = [scales.low + step * n for n in range(len(curve.densities))]
        drawing.trace(scales.points(stops, curve.densities), STROKES[curve.light])
    _legend(drawing, [curve.light for curve in curves.curves], legend_at)
    spots = [(scales.x(flag.stops), scales.y(flag.density)) for flag in curves.flags]
    for spot, place, flag, letter in zip(spots, _flag_places(spots), curves.flags, letters, strict=False):
        # The pole ends short of the letter, so that it does not strike it through.
        short = 1.0 - (LETTERING * 0.6) / math.hypot(place[0] - spot[0], place[1] - spot[1])
        pole = spot[0] + (place[0] - spot[0]) * short, spot[1] + (place[1] - spot[1]) * short
        drawing.trace([spot, pole], "hair")
        drawing.dot(*spot, 2.5)
        if flag.moved_stops:
            _arrow(drawing, *spot, scales.x(flag.stops + flag.moved_stops))
        drawing.text(place[0], place[1] + 4, letter, anchor="middle", bold=True)
    rows = [_tone_row(letter, flag) for letter, flag in zip(letters, curves.flags, strict=False)]
    for n, row in enumerate(rows, 1):
        drawing.text(6, legend_at + ROW * n, cut_to(row, WIDTH - 8, LETTERING))
    title = say("paper.picture-curves", paper=curves.paper)
    return drawing.finish(legend_at + ROW * len(rows) + 10, ". ".join((title, *rows)))


def flag_points(curves: Curves) -> list[dict[str, float | str]]:
    """Return where each tone's letter stands on `curves_picture`, its density, and what a unit up is in density."""
    scales = _Scales(curves.low_stops, curves.high_stops, curves.most_density)
    spots = [(scales.x(flag.stops), scales.y(flag.density)) for flag in curves.flags]
    each = curves.most_density / (FLOOR - TOP)
    return [
        {"name": flag.name, "x": x, "y": y, "density": flag.density, "each": each, "most": curves.most_density}
        for flag, (x, y) in zip(curves.flags, _flag_places(spots), strict=True)
    ]


def reach_picture(reach: Reach, *, ident: str, face: Face = Face.DAY) -> Picture:
    """Draw what soft and hard can do with a light and a dark tone of a negative, what was wanted, and what comes.

    Across: the light tone's print density. Up: the dark tone's. All soft is the dotted edge, all hard the dashed
    one; between them everything can be had.
    """
    drawing = Drawing(ident, face)
    scales = _Scales(0.0, reach.right, reach.most_density)
    told = [line for words in (reach.refused or say("paper.reach-had"), _comes(reach)) for line in _wrapped(words)]
    legend_at = FLOOR + 3 * ROW
    softest, hardest = (scales.points(reach.light, edge) for edge in (reach.all_soft, reach.all_hard))
    drawing.area([*softest, *hardest[::-1]])
    _frame(drawing, scales, say("paper.picture-dark-tone"), say("paper.picture-light-tone"), FLOOR + 17 + ROW)
    for tenth in range(0, int(reach.right * 10) + 1, 2):
        x = scales.x(tenth / 10.0)
        drawing.trace([(x, FLOOR), (x, FLOOR + 4)], "hair")
        if tenth:
            drawing.text(x, FLOOR + 17, f"{tenth / 10.0:.1f}", anchor="middle")
    drawing.trace(softest, STROKES["soft"])
    drawing.trace(hardest, STROKES["hard"])
    _legend(drawing, ["soft", "hard"], legend_at)
    wanted, comes = ((scales.x(light), scales.y(dark)) for light, dark in (reach.wanted, reach.comes))
    if reach.refused:
        drawing.trace([wanted, comes], "hair")
        drawing.dot(*comes, 3.0)
    drawing.dot(*wanted, 6.0, filled=False)
    aside = wanted[0] < (LEFT + RIGHT) / 2
    at = wanted[0] + (11 if aside else -11)
    drawing.text(at, wanted[1] + 4, say("paper.picture-wanted"), anchor="start" if aside else "end")
    for n, row in enumerate(told, 1):
        drawing.text(6, legend_at + ROW * n, row)
    title = say("paper.picture-reach", paper=reach.paper)
    return drawing.finish(legend_at + ROW * len(told) + 10, f"{title}. {' '.join(told)}")


def grid_picture(grid: Grid, *, ident: str, words: tuple[str, str, str], face: Face = Face.DAY) -> Picture:
    """Draw what each pair of times prints; `words` are the whole in one sentence, and the two axes' names.

    Soft seconds across, hard seconds down, each cell split: highlight above, shadow below. The answer's own cell has
    a frame. Densities stand in the greys, so that no grey has to be judged on a screen.
    """
    drawing = Drawing(ident, face)
    sentence, across, down = words
    wide = min(CELL, (WIDTH - GRID_LEFT) / len(grid.soft_seconds))
    drawing.text(GRID_LEFT, 14, across)
    drawing.rect(GRID_LEFT + wide * len(grid.soft_seconds) - 26, 4, 26, 12, fill=drawing.texture("soft"))
    for column, seconds in enumerate(grid.soft_seconds):
        drawing.text(GRID_LEFT + wide * (column + 0.5), GRID_TOP - 8, _short(seconds), anchor="middle", bold=True)
    for row, seconds in enumerate(grid.hard_seconds):
        drawing.text(GRID_LEFT - 5, GRID_TOP + CELL * (row + 0.5) + 4, _short(seconds), anchor="end", bold=True)
        for column, tones in enumerate(grid.cells[row]):
            _draw_cell(drawing, GRID_LEFT + wide * column, GRID_TOP + CELL * row, wide, tones)
    row, column = grid.chosen
    x, y = GRID_LEFT + wide * column, GRID_TOP + CELL * row
    drawing.rect(x - 1, y - 1, wide, CELL, stroke=face.ink, thick=3)
    foot = GRID_TOP + CELL * len(grid.hard_seconds)
    drawing.rect(GRID_LEFT, foot + 6, 26, 12, fill=drawing.texture("hard"))
    drawing.text(GRID_LEFT + 32, foot + 17, down)
    return drawing.finish(foot + 24, sentence)


def _draw_cell(drawing: Drawing, x: float, y: float, wide: float, tones: tuple[float, float]) -> None:
    half = (CELL - GAP) / 2
    for at, density in zip((y, y + half), tones, strict=True):
        drawing.rect(x, at, wide - GAP, half, fill=drawing.face.grey(density), stroke=drawing.face.faint, thick=0.5)
        fill = drawing.face.on_grey(density)
        drawing.text(x + (wide - GAP) / 2, at + half / 2 + 4, f"{density:.2f}", size=11.0, anchor="middle", fill=fill)


def _short(seconds: float) -> str:
    """Return seconds to 0.1 s, or to a whole second where that is three figures already."""
    return f"{seconds:.1f}" if seconds < 100 else f"{seconds:.0f}"


def _comes(reach: Reach) -> str:
    soft, hard = f"{reach.soft_seconds:.1f}", f"{reach.hard_seconds:.1f}"
    comes = {"light": f"{reach.comes[0]:.2f}", "dark": f"{reach.comes[1]:.2f}"}
    if soft == "0.0":
        return say("paper.picture-comes-hard", hard=hard, **comes)
    if hard == "0.0":
        return say("paper.picture-comes-soft", soft=soft, **comes)
    return say("paper.picture-comes", soft=soft, hard=hard, **comes)


def _frame(drawing: Drawing, scales: _Scales, up: str, across: str, across_at: float = FLOOR + 17) -> None:
    """Draw the two scales, density up in halves, with their words."""
    drawing.trace([(LEFT, TOP - 6), (LEFT, FLOOR), (RIGHT, FLOOR)], "hair")
    for half in range(int(scales.most * 2) + 1):
        y = scales.y(half / 2.0)
        drawing.trace([(LEFT - 4, y), (LEFT, y)], "hair")
        drawing.text(LEFT - 7, y + 4, f"{half / 2.0:.1f}", anchor="end")
    drawing.text(LEFT, TOP - 10, up)
    drawing.text(RIGHT, across_at, across, anchor="end")


def _legend(drawing: Drawing, lights: Sequence[str], y: float) -> None:
    """Say which line is which light: its word beside a piece of it."""
    wide = (WIDTH - 12) / len(lights)
    for n, name in enumerate(lights):
        x = 6 + n * wide
        drawing.trace([(x, y - 4), (x + 26, y - 4)], STROKES[name])
        drawing.text(x + 32, y, say(f"paper.picture-{name}"))


def _tone_row(letter: str, flag: Flag) -> str:
    """Return what a letter stands for and what its tone prints; a tone that is called by its letter has no name."""
    told = {"letter": letter, "words": flag.words, "density": f"{flag.density:.2f}"}
    if flag.name == letter:
        return say("paper.picture-letter", **told)
    return say("paper.picture-tone", name=cut_to(flag.name, 110, LETTERING), **told)


def _arrow(drawing: Drawing, x: float, y: float, to_x: float) -> None:
    back = 5 if to_x < x else -5
    drawing.trace([(x, y), (to_x, y)], "whole")
    drawing.trace([(to_x + back, y - 4), (to_x, y), (to_x + back, y + 4)], "whole")


def _flag_places(spots: Points) -> Points:
    """Return where each flag's letter stands: beside its spot along the curve's normal, clear of all the others.

    The curve rises to the right, so up-left and down-right of a spot are its two free sides.
    """
    placed: Points = []
    size = LETTERING + 2.0
    for x, y in spots:
        options = [(x + side * far * 0.6, y + side * far * 0.8) for side, far in _REACHES]
        inside = [(a, b) for a, b in options if LEFT + 8 < a < RIGHT - 6 and TOP < b < FLOOR - 10]
        free = [
            (a, b)
            for a, b in inside
            if all(abs(a - c) > size or abs(b - d) > size for c, d in placed)
            and all(abs(a - c) > size * 0.7 or abs(b - d) > size * 0.7 for c, d in spots)
        ]
        placed.append((free or inside or options)[0])
    return placed


def _wrapped(sentence: str) -> list[str]:
    """Return a sentence in lines that fit the picture."""
    lines = [""]
    for word in sentence.split():
        longer = f"{lines[-1]} {word}".strip()
        if cut_to(longer, WIDTH - 8, LETTERING) == longer:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
