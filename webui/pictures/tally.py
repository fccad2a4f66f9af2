"""Paper that a bath has had, as pencil strokes in fives; how much it may have is the line they stand on. Pure."""

from __future__ import annotations

from typing import Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture

MOST_STROKES: Final = 100
"""Of more only the last hundred are drawn, after the number of those before."""
_A_ROW: Final = 25
_BETWEEN: Final = 8.6
_A_FIVE: Final = 5 * _BETWEEN + 12.0
_TALL: Final = 18.0
_ROW: Final = 30.0
_LEFT: Final = 6.0
_BAR: Final = 6.0


def tally_picture(number: int, used: float | None, *, ident: str, words: str, face: Face = Face.DAY) -> Picture:
    """Draw `number` strokes, each fifth one across the four before it, and below a bar that fills by the share `used`.

    `words` are the whole in a sentence. Without a capacity `used` is None, and there is no bar.
    """
    drawing = Drawing(ident, face)
    drawn = number if number <= MOST_STROKES else (number - 1) % MOST_STROKES + 1
    rows = max(1, -(-drawn // _A_ROW))
    for stroke in range(drawn):
        row, in_row = divmod(stroke, _A_ROW)
        five, place = divmod(in_row, 5)
        left, top = _LEFT + five * _A_FIVE, 4.0 + row * _ROW
        if place < 4:
            # as a hand draws them: no two lean alike
            lean = (stroke * 7 % 5 - 2) * 0.6
            drawing.line(left + place * _BETWEEN + lean, top, left + place * _BETWEEN - lean, top + _TALL, thick=1.8)
        else:
            drawing.line(left - 4.5, top + _TALL - 3, left + 3 * _BETWEEN + 4.5, top + 3, thick=1.8)
    foot = rows * _ROW if drawn else 4.0
    if used is not None:
        drawing.rect(_LEFT, foot, WIDTH - 2 * _LEFT, _BAR, fill="none", stroke=face.ink, thick=1)
        full = min(1.0, max(0.0, used)) * (WIDTH - 2 * _LEFT)
        if full > 0:
            drawing.rect(_LEFT, foot, full, _BAR, fill=face.ink)
        foot += _BAR
    return drawing.finish(foot + 4, words)
