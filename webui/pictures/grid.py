"""The two-way grid: soft seconds across, hard seconds down, each cell split: highlight above, shadow below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture

if TYPE_CHECKING:
    from controller.contrast.asks import Grid

LEFT: Final = 38.0
TOP: Final = 42.0
CELL: Final = 48.0
GAP: Final = 2.0
SIZE: Final = 12.0


def grid_picture(grid: Grid, *, ident: str, words: tuple[str, str, str], face: Face = Face.DAY) -> Picture:
    """Draw what each pair of times prints; `words` are the whole in one sentence, and the two axes' names.

    The answer's own cell has a frame. Densities stand in the greys, so that no grey has to be judged on a screen.
    """
    drawing = Drawing(ident, face)
    sentence, across, down = words
    wide = min(CELL, (WIDTH - LEFT) / len(grid.soft_seconds))
    drawing.text(LEFT, 14, across, size=SIZE)
    drawing.rect(LEFT + wide * len(grid.soft_seconds) - 26, 4, 26, 12, fill=drawing.texture("soft"))
    for column, seconds in enumerate(grid.soft_seconds):
        drawing.text(LEFT + wide * (column + 0.5), TOP - 8, _short(seconds), size=SIZE, anchor="middle", bold=True)
    for row, seconds in enumerate(grid.hard_seconds):
        drawing.text(LEFT - 5, TOP + CELL * (row + 0.5) + 4, _short(seconds), size=SIZE, anchor="end", bold=True)
        for column, tones in enumerate(grid.cells[row]):
            _draw_cell(drawing, LEFT + wide * column, TOP + CELL * row, wide, tones)
    row, column = grid.chosen
    x, y = LEFT + wide * column, TOP + CELL * row
    drawing.rect(x - 1, y - 1, wide, CELL, stroke=face.ink, thick=3)
    foot = TOP + CELL * len(grid.hard_seconds)
    drawing.rect(LEFT, foot + 6, 26, 12, fill=drawing.texture("hard"))
    drawing.text(LEFT + 32, foot + 17, down, size=SIZE)
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
