"""Developed sheets: a print's grey scale and a strip's bands as they came out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from controller.practice.printed import SCALE
from controller.words import say
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to
from webui.pictures.strip import band_label, band_words

if TYPE_CHECKING:
    from controller.practice.printed import Print
    from controller.recipe.plan import StripPlan

_ROW: Final = 30.0


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


def print_bands(made: Print, strip: StripPlan, address: Callable[[int], str], chosen: int | None) -> Markup:
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
            ).format(address(number), band_label(strip, number), box.left, box.top, wide, high)
            + Markup(frame)  # noqa: S704 - our own words
            + Markup(
                '/></a><g aria-hidden="true" pointer-events="none">'
                '<rect x="{}" y="{}" width="{}" height="{}" fill="#fff"/>'
                '<text x="{}" y="{}" font-size="{}" font-weight="700" text-anchor="middle" fill="#000">{}</text>'
                "</g>"
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


def size_picture(
    old_mm: tuple[float, float],
    new_mm: tuple[float, float],
    *,
    ident: str,
    words: str,
    captions: tuple[str, str],
    face: Face = Face.DAY,
) -> Picture:
    """Draw two prints (width, height in mm, above 0) to one scale, with a caption for the old and the new one.

    `words` says what the change costs.
    """
    drawing = Drawing(ident, face)
    largest_across = max(old_mm[0], new_mm[0])
    largest_down = max(old_mm[1], new_mm[1])
    scale = min((WIDTH - 2) / largest_across, 200 / largest_down)
    foot = largest_down * scale + 1
    _draw_print(drawing, new_mm, scale, foot, new=True)
    _draw_print(drawing, old_mm, scale, foot, new=False)
    for row, caption in enumerate(captions):
        y, new = foot + 18 + row * 20, row == 1
        drawing.line(1, y - 4, 27, y - 4, stroke=face.ink, thick=2 if new else 1.2, dash="" if new else "5 3")
        drawing.text(36, y, cut_to(caption, WIDTH - 38, 12, bold=True), size=12, bold=new)
    return drawing.finish(foot + 44, words)


def _draw_print(drawing: Drawing, size_mm: tuple[float, float], scale: float, foot: float, *, new: bool) -> None:
    width, height = size_mm[0] * scale, size_mm[1] * scale
    thick, dash = (2.0, "") if new else (1.2, "5 3")
    drawing.rect(1, foot - height, width, height, stroke=drawing.face.ink, thick=thick, dash=dash)
