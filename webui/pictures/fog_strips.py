"""The three strips of a test of what fogs paper: their quarters with the minutes, their notches, and what changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to

MINUTES: Final = (7, 3, 1, 0)
_GREY: Final = 0.35
_BARE: Final = 0.05
_MORE: Final = (0.22, 0.13, 0.07, 0.0)
"""How much darker each quarter is drawn that differs: enough to be told apart."""
_LEFT: Final = 4.0
_QUARTER: Final = (WIDTH - 2 * _LEFT) / len(MINUTES)
_TALL: Final = 34.0
_WORDS: Final = 18.0
_NOTCH: Final = 5.0
_SIZE: Final = 12.0


def fog_strips_picture(
    names: Sequence[str],
    quarters: Sequence[str],
    same: Sequence[int] | None,
    *,
    ident: str,
    words: str,
    face: Face = Face.DAY,
) -> Picture:
    """Draw three strips, one below the other; the covered quarter with its notches stands right.

    `names` are the strips, `quarters` the words for 7, 3, 1 and 0 minutes; `same` is for each strip the most minutes
    that left no change, None where nobody has said. `words` are the whole in a sentence.
    """
    drawing = Drawing(ident, face)
    top = 2.0
    for number, (name, grey, notches) in enumerate(zip(names, (_GREY, _GREY, _BARE), (1, 2, 0), strict=True)):
        drawing.text(_LEFT, top + _SIZE, cut_to(name, WIDTH - 2 * _LEFT, _SIZE), size=_SIZE)
        top += _WORDS
        last_same = MINUTES[0] if same is None else same[number]
        for quarter, (minutes, more) in enumerate(zip(MINUTES, _MORE, strict=True)):
            density = grey + (more if minutes > last_same else 0.0)
            left = _LEFT + quarter * _QUARTER
            drawing.rect(left, top, _QUARTER, _TALL, fill=face.grey(density), stroke=face.faint, thick=0.75)
            middle = left + _QUARTER / 2
            drawing.text(
                middle,
                top + _TALL / 2 + 4,
                quarters[quarter],
                size=_SIZE,
                anchor="middle",
                fill=face.on_grey(density),
            )
        right = WIDTH - _LEFT
        for notch in range(notches):
            at = top + _TALL * (notch + 1) / (notches + 1)
            cut = f"M{right:g} {at - _NOTCH:.2f}L{right - 2 * _NOTCH:g} {at:.2f}L{right:g} {at + _NOTCH:.2f}z"
            drawing.path(cut, fill=face.paper, stroke=face.faint, thick=0.75)
        top += _TALL + 10
    return drawing.finish(top, words)
