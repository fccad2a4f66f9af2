"""Sheets of tests as they come out: the strip of long exposures, the band that is alike, and a developer's pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture

_LEFT: Final = 4.0
_ROW: Final = 16.0
_TALL: Final = 46.0
_GREY: Final = 0.62
_A_TWELFTH: Final = 0.05
"""How much darker a band is drawn for a twelfth of a stop: enough to be told apart."""
_BLACK: Final = 2.0
_PALE: Final = 1.0
"""What is drawn of a black that is none yet."""
_WHITE: Final = 0.05
_FOGGED: Final = 0.3
_SIZE: Final = 12.0


def long_exposures_picture(
    seconds: Sequence[str],
    twelfths: Sequence[float],
    alike: float | None,
    *,
    ident: str,
    words: tuple[str, str, str],
    face: Face = Face.DAY,
) -> Picture:
    """Draw the bands of a strip of long exposures side by side, the last one being the grey, their seconds below.

    `alike` is at how many twelfths the grey lies, None where nobody has said: then all bands are drawn as on a paper
    that does not fail. `words` are the whole in a sentence, and the two f-numbers.
    """
    drawing = Drawing(ident, face)
    sentence, down, open_ = words
    wide = (WIDTH - 2 * _LEFT) / len(seconds)
    last = _LEFT + wide * (len(seconds) - 1)
    drawing.text(_LEFT, _SIZE, down, size=_SIZE)
    drawing.text(WIDTH - _LEFT, _SIZE, open_, size=_SIZE, anchor="end")
    top = _ROW + 6.0
    for n, each in enumerate(seconds):
        density = _GREY if n >= len(twelfths) else _GREY + _A_TWELFTH * (twelfths[n] - (alike or 0.0))
        x = _LEFT + wide * n
        drawing.rect(x, top, wide, _TALL, fill=face.grey(density), stroke=face.faint, thick=0.75)
        drawing.text(x + wide / 2, top + _TALL + _ROW, each, size=_SIZE, anchor="middle")
    drawing.line(last, top - 4.0, last, top + _TALL + 4.0, stroke=face.ink, thick=2.0)
    foot = top + _TALL + _ROW + 6.0
    if alike is not None:
        at = _LEFT + wide * (alike - twelfths[0] + 0.5)
        drawing.dot(at, top + _TALL / 2, 5.0, filled=False)
        drawing.dot(last + wide / 2, top + _TALL / 2, 5.0, filled=False)
    return drawing.finish(foot, sentence)


def pieces_picture(
    seconds: Sequence[int],
    least: int | None,
    fog: int | None,
    *,
    ident: str,
    words: tuple[str, Sequence[str]],
    face: Face = Face.DAY,
) -> Picture:
    """Draw pieces of paper that were developed for longer and longer: half of each black, half white.

    `least` is the first with a full black, `fog` the first with a grey white; `words` the whole in a sentence, and the
    time of each.
    """
    drawing = Drawing(ident, face)
    sentence, times = words
    gap = 10.0
    wide = (WIDTH - 2 * _LEFT - gap * (len(seconds) - 1)) / len(seconds)
    for n, (each, said) in enumerate(zip(seconds, times, strict=True)):
        x = _LEFT + n * (wide + gap)
        black = _BLACK if least is None or each >= least else _PALE
        white = _FOGGED if fog is not None and each >= fog else _WHITE
        drawing.rect(x, 2.0, wide, _TALL / 2, fill=face.grey(black))
        drawing.rect(x, 2.0 + _TALL / 2, wide, _TALL / 2, fill=face.grey(white))
        drawing.rect(x, 2.0, wide, _TALL, stroke=face.ink, thick=2.5 if each == least else 0.75)
        drawing.text(x + wide / 2, _TALL + _ROW + 2.0, said, size=_SIZE, anchor="middle", bold=each == least)
    return drawing.finish(_TALL + _ROW + 8.0, sentence)
