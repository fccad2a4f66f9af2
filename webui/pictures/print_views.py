"""Developed sheets: a print's grey scale, a strip's bands as they came out, and a session's wall with its threads."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Final

from markupsafe import Markup, escape

from controller.practice_prints import SCALE
from controller.words import say
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture
from webui.pictures.strip import band_label, band_words, expected_density

if TYPE_CHECKING:
    from controller.practice_prints import Print
    from controller.records import SheetRecord
    from controller.sheet import StripPlan

_ROW: Final = 30.0
_CARD_H: Final = 92.0
_CARD_W: Final = 116.0
_GAP: Final = 22.0
_LEFT: Final = WIDTH - _CARD_W - 118.0
_THREAD_STEP: Final = 9.0


def scale_picture(made: Print) -> Picture:
    """Draw the grey scale of a print in true print densities, with its tones beside the grey they came out in."""
    drawing = Drawing("scale", Face.DAY)
    steps = [each for each in SCALE if made.dmin < each < made.dmax]
    greys = (made.dmin, *steps, made.dmax)
    wide = (WIDTH - 2) / len(greys)
    for place, density in enumerate(greys):
        left = 1 + place * wide
        drawing.rect(left, 1, wide, 40, fill=Face.DAY.grey(density), stroke=Face.DAY.ink, thick=0.5)
        drawing.text(left + wide / 2, 26, f"{density:.2f}", size=10, anchor="middle", fill=Face.DAY.on_grey(density))
    y = 52.0
    for swatch in (each for each in made.swatches if each.band is None):
        drawing.rect(1, y, 46, _ROW - 4, fill=Face.DAY.grey(swatch.density), stroke=Face.DAY.ink, thick=0.5)
        drawing.text(56, y + 18, swatch.tone, size=14)
        drawing.text(WIDTH - 2, y + 18, f"{swatch.density:.2f}", size=14, anchor="end", bold=True)
        y += _ROW
    return drawing.finish(y, say("practice.scale-words"))


def print_bands(made: Print, strip: StripPlan, address: str, chosen: int | None) -> Markup:
    """Return a strip's print with every band a link to its pick, as SVG that needs no script."""
    links = []
    for number, box in enumerate(made.bands, start=1):
        wide, high = box.right - box.left, box.bottom - box.top
        middle, foot = box.left + wide / 2, box.bottom - 14
        size = max(20, min(32, round(wide / 3)))
        frame = ' stroke="#fff" stroke-width="6"' if number == chosen else ""
        links.append(
            Markup(
                '<a href="{}" aria-label="{}"><rect x="{}" y="{}" width="{}" height="{}" fill="#fff" fill-opacity="0"'
            ).format(
                f"{address}?band={number}&between=0#meaning", band_label(strip, number), box.left, box.top, wide, high
            )
            + Markup(frame)  # noqa: S704 - our own words
            + Markup(
                '/><rect x="{}" y="{}" width="{}" height="{}" fill="#fff"/>'
                '<text x="{}" y="{}" font-size="{}" font-weight="700" text-anchor="middle" fill="#000">{}</text></a>'
            ).format(
                round(middle - 1.4 * size),
                foot - size,
                round(2.8 * size),
                size + 8,
                middle,
                foot,
                size,
                band_words(strip, number),
            )
        )
    head = Markup('<svg class="print" viewBox="0 0 {} {}" role="group" aria-label="{}">').format(
        made.width, made.height, say("practice.bands-words")
    )
    image = Markup('<image href="/practice/print/{}.png" width="{}" height="{}"/>').format(
        made.sheet, made.width, made.height
    )
    return head + image + Markup("").join(links) + Markup("</svg>")


def thread_picture(
    records: Sequence[SheetRecord], threads: Sequence[tuple[str, str]], developed: Collection[str]
) -> Markup:
    """Return a session's sheets as cards in order, with a thread from a strip's sheet to each that used its pick.

    `threads` are pairs of sheets' ids; `developed` are the sheets whose print can be shown.
    """
    height = len(records) * (_CARD_H + _GAP)
    places = {record.id: place * (_CARD_H + _GAP) + 4 for place, record in enumerate(records)}
    parts = [
        Markup('<svg class="wall" viewBox="0 0 {:g} {:g}" role="group" aria-label="{}">').format(
            WIDTH, height + 4, say("practice.wall-words")
        )
    ]
    for number, (strip, sheet) in enumerate(threads):
        x = _LEFT - 10 - _THREAD_STEP * number % (_LEFT - 14)
        one, two = places[strip] + _CARD_H / 2, places[sheet] + _CARD_H / 2
        parts.append(
            Markup(
                '<path d="M{0:.1f} {1:.1f}C{2:.1f} {1:.1f} {2:.1f} {3:.1f} {0:.1f} {3:.1f}" fill="none" stroke="#000"'
                ' stroke-width="1.5"><title>{4}</title></path><circle cx="{0:.1f}" cy="{3:.1f}" r="4"/>'
            ).format(_LEFT, one, x - 20, two, say("practice.thread"))
        )
    parts += [_card(record, places[record.id], developed=record.id in developed) for record in records]
    return Markup("").join([*parts, Markup("</svg>")])


def _card(record: SheetRecord, y: float, *, developed: bool) -> Markup:
    if developed:
        face = Markup('<image href="/practice/print/{}.png" x="{:g}" y="{:g}" width="{:g}" height="{:g}"/>').format(
            record.id, _LEFT, y, _CARD_W, _CARD_H
        )
    else:
        face = _plain_face(record, y)
    frame = Markup('<rect x="{:g}" y="{:g}" width="{:g}" height="{:g}" fill="none" stroke="#000"/>').format(
        _LEFT, y, _CARD_W, _CARD_H
    )
    title = record.plan.title if len(record.plan.title) <= 16 else f"{record.plan.title[:15]}…"
    words = Markup(
        '<text x="{0:g}" y="{1:g}" font-size="14" font-weight="700">{2}</text>'
        '<text x="{0:g}" y="{3:g}" font-size="12">{4}</text><text x="{0:g}" y="{5:g}" font-size="12">{6}</text>'
    ).format(
        _LEFT + _CARD_W + 8, y + 18, record.number, y + 38, escape(title), y + 56, say(f"page.outcome-{record.outcome}")
    )
    return Markup('<a href="/sheets/{}">').format(record.id) + face + frame + words + Markup("</a>")


def _plain_face(record: SheetRecord, y: float) -> Markup:
    strip = record.plan.strip
    if strip is None:
        return Markup('<rect x="{:g}" y="{:g}" width="{:g}" height="{:g}" fill="#fff"/>').format(
            _LEFT, y, _CARD_W, _CARD_H
        )
    wide = _CARD_W / len(strip.totals_ms)
    return Markup("").join(
        Markup('<rect x="{:.2f}" y="{:g}" width="{:.2f}" height="{:g}" fill="{}"/>').format(
            _LEFT + place * wide, y, wide, _CARD_H, Face.DAY.grey(expected_density(strip, place + 1))
        )
        for place in range(len(strip.totals_ms))
    )
