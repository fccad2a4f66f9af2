"""A session's wall: sheets as small cards in order, with threads from strips to prints, and from print to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from controller.words import say
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to, width_of
from webui.pictures.strip import band_words, expected_density
from webui.wording import seconds

if TYPE_CHECKING:
    from controller.recipe.plan import StripPlan
    from controller.store.records import SheetRecord
    from controller.store.sessions import Thread

_LEFT: Final = 46.0
_WIDE: Final = 112.0
_HIGH: Final = 90.0
_PITCH: Final = 112.0
_WORDS: Final = _LEFT + _WIDE + 10
_LINE: Final = 17.0
_LANES: Final = 4
"""Threads side by side before they share a lane."""


def wall_picture(
    records: Sequence[SheetRecord],
    threads: Mapping[str, Thread],
    *,
    ident: str,
    shown: Mapping[str, str] = MappingProxyType({}),
    face: Face = Face.DAY,
) -> Picture:
    """Draw a session's sheets in the order of `records`; each card leads to its sheet's record.

    `threads` are the sheets' own, by their ids: one is drawn where both its ends are on this wall, and a print names
    its strip wherever that is. `shown` are addresses of pictures of prints, by their sheets, for the day alone.
    """
    drawing = Drawing(ident, face)
    tops = {record.id: 3.0 + place * _PITCH for place, record in enumerate(records)}
    drawn = [(thread.before.id, sheet) for sheet, thread in threads.items() if thread.before and sheet in tops]
    for lane, (before, sheet) in enumerate(pair for pair in drawn if pair[0] in tops):
        _draw_thread(drawing, tops[before] + _HIGH / 2, tops[sheet] + _HIGH / 2, lane % _LANES)
    for record in records:
        seen = shown.get(record.id, "") if face is Face.DAY else ""
        strip = threads[record.id].strip if record.id in threads else None
        _draw_card(drawing, record, tops[record.id], seen=seen, origin=strip.number if strip else None)
    return drawing.finish(len(records) * _PITCH, say("wall.words"), role="group")


def _draw_thread(drawing: Drawing, start: float, end: float, lane: int) -> None:
    """Draw a hanging line down the side, from a strip or print to a knot at the sheet that follows it."""
    side = _LEFT - 16 - lane * 8
    ink = drawing.face.ink
    middle = (start + end) / 2
    drawing.path(
        f"M{_LEFT:.1f} {start:.1f}C{side:.1f} {start:.1f} {side:.1f} {start:.1f} {side:.1f} {middle:.1f}"
        f"S{side:.1f} {end:.1f} {_LEFT - 4:.1f} {end:.1f}",
        stroke=ink,
        thick=1.6,
    )
    drawing.path(f"M{_LEFT - 8:.1f} {end:.1f}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z", fill=ink)


def _draw_card(drawing: Drawing, record: SheetRecord, top: float, *, seen: str, origin: int | None) -> None:
    face, strip = drawing.face, record.plan.strip
    outcome = say(f"page.outcome-{record.outcome}")
    total = say("wall.light", seconds=seconds(sum(step.given_most_ms for step in record.steps)))
    label = say("wall.card", number=record.number, title=record.plan.title, outcome=outcome, light=total)
    if origin is not None:
        label = f"{label} {say('wall.from-strip', number=origin)}"
    drawing.open_link(f"/sheets/{record.id}", label)
    drawing.rect(_LEFT, top, WIDTH - _LEFT - 1, _HIGH, fill=face.paper)  # the words beside it can be tapped, too
    if seen:
        drawing.image(seen, _LEFT, top, _WIDE, _HIGH)
    elif strip is not None:
        _draw_bands(drawing, strip, top)
    drawing.rect(_LEFT, top, _WIDE, _HIGH, stroke=face.ink, thick=1.2)
    if record.outcome == "spoiled":
        drawing.line(_LEFT, top + _HIGH, _LEFT + _WIDE, top, thick=1.2)
    room = WIDTH - _WORDS - 1
    lines = [(str(record.number), 15.0, True)]
    lines += [(words, 13.0, False) for words in _in_two(record.plan.title, room, 13.0)]
    lines += [(outcome, 12.0, False), (total, 12.0, False)]
    if origin is not None:
        lines.append((say("wall.from-strip", number=origin), 12.0, False))
    foot = top + 13
    for words, size, bold in lines:
        drawing.text(_WORDS, foot, cut_to(words, room, size, bold=bold), size=size, bold=bold)
        foot += _LINE
    drawing.close_link()


def _in_two(words: str, room: float, size: float) -> list[str]:
    """Return words in one line, or in two where they need them, broken between words."""
    first, rest = "", words.split()
    while rest and width_of(f"{first} {rest[0]}".strip(), size) <= room:
        first = f"{first} {rest.pop(0)}".strip()
    return [line for line in (first, " ".join(rest)) if line]


def _draw_bands(drawing: Drawing, strip: StripPlan, top: float) -> None:
    """Draw a strip's bands in their expected greys, with their seconds where there is room."""
    count = len(strip.totals_ms)
    wide = _WIDE / count
    words = [band_words(strip, band) for band in range(1, count + 1)]
    for band, word in enumerate(words, start=1):
        left, density = _LEFT + (band - 1) * wide, expected_density(strip, band)
        drawing.rect(left, top, wide, _HIGH, fill=drawing.face.grey(density))
        on, middle = drawing.face.on_grey(density), left + wide / 2
        if max(width_of(each, 11, bold=True) for each in words) <= wide - 2:
            drawing.text(middle, top + _HIGH / 2 + 4, word, size=11, anchor="middle", bold=True, fill=on)
        elif wide >= 11.5 and width_of(word, 11, bold=True) <= _HIGH:
            drawing.text(middle, top + _HIGH / 2, word, size=11, bold=True, fill=on, upright=True)
