"""The label and the certificate of a numbered print: laid out once, in millimetres, and drawn as SVG; pure.

`webui.pictures.certificate_pdf` draws the same layout as PDF. Both are for white paper and a lit room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from markupsafe import Markup, escape

from controller.words import say
from webui.pictures.drawing import cut_to, width_of

Kind = Literal["label", "certificate"]
KINDS: Final[tuple[Kind, ...]] = ("label", "certificate")
SIZES: Final[dict[Kind, tuple[float, float]]] = {"label": (105.0, 74.0), "certificate": (148.0, 210.0)}
"""Width and height in mm: A7 lying, and A5 upright (ISO 216)."""
MARGIN: Final = {"label": 7.0, "certificate": 14.0}
INK: Final = "#121110"
FAINT: Final = "#5d5a53"
FONTS: Final = "'DejaVu Sans',Verdana,'Bitstream Vera Sans',sans-serif"
LEADING: Final = 1.32


@dataclass(frozen=True, slots=True)
class Facts:
    """What a label says of a print; what is not known is empty."""

    title: str
    number: str
    """"3/5", or "proof II"."""
    lines: tuple[tuple[str, str], ...]
    """What each thing is called, and what it is."""
    signed: str
    """What is written before the line for a hand; on the certificate alone."""


@dataclass(frozen=True, slots=True)
class Text:
    """Words, with the left end of their baseline; sizes in mm, y downwards from the top."""

    x: float
    y: float
    size: float
    words: str
    bold: bool = False
    faint: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """The room of the photograph, which stands in it as large as it can, at its upper left."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A label or a certificate, laid out."""

    kind: Kind
    width: float
    height: float
    texts: tuple[Text, ...]
    rules: tuple[tuple[float, float, float], ...]
    """Level lines: from x, to x, at y."""
    photo: Box | None


def laid_out(kind: Kind, facts: Facts, size: tuple[int, int] | None) -> Layout:
    """Return where everything stands; `size` is the photograph's in pixels, None where there is none."""
    width, height = SIZES[kind]
    return _label(facts, size, width, height) if kind == "label" else _certificate(facts, size, width, height)


def _label(facts: Facts, size: tuple[int, int] | None, width: float, height: float) -> Layout:
    """The photograph at the left, a third of the label; words beside it."""
    edge = MARGIN["label"]
    room = 30.0 if size else 0.0
    x = edge + (room + 5.0 if size else 0.0)
    at = edge + 5.0
    texts: list[Text] = []
    for line in wrapped(facts.title, width - edge - x, 5.0, 2, bold=True):
        texts.append(Text(x, at, 5.0, line, bold=True))
        at += 5.0 * LEADING
    texts.append(Text(x, at + 1.5, 6.5, facts.number, bold=True))
    at += 9.0
    for name, words in facts.lines:
        for line in wrapped(say("editions.says", name=name, words=words), width - edge - x, 3.0, 2):
            if at <= height - edge:
                texts.append(Text(x, at, 3.0, line))
            at += 3.0 * LEADING
        at += 0.6
    photo = _fitted(Box(edge, edge, room, height - 2 * edge), size)
    return Layout("label", width, height, tuple(texts), (), photo)


def _certificate(facts: Facts, size: tuple[int, int] | None, width: float, height: float) -> Layout:
    """The photograph above, then title and number, a line each fact, and room for a hand's name."""
    edge, inner = MARGIN["certificate"], width - 2 * MARGIN["certificate"]
    texts: list[Text] = []
    photo = _fitted(Box(edge, edge, inner, 72.0), size)
    at = edge + ((photo.height + 12.0) if photo else 8.0)
    for line in wrapped(facts.title, inner, 7.0, 2, bold=True):
        texts.append(Text(edge, at, 7.0, line, bold=True))
        at += 7.0 * LEADING
    texts.append(Text(edge, at, 9.0, facts.number, bold=True))
    rules = [(edge, width - edge, at + 5.0)]
    at += 12.0
    foot = height - edge - 3.0
    for name, words in facts.lines:
        if at > foot - 14.0:
            break
        texts.append(Text(edge, at, 3.4, name, faint=True))
        for line in wrapped(words, inner - 34.0, 3.8, 2):
            texts.append(Text(edge + 34.0, at, 3.8, line))
            at += 3.8 * LEADING
        at += 2.2
    texts.append(Text(edge, foot, 3.4, facts.signed, faint=True))
    rules.append((edge + 34.0, width - edge, foot))
    return Layout("certificate", width, height, tuple(texts), tuple(rules), photo)


def _fitted(room: Box, size: tuple[int, int] | None) -> Box | None:
    """Return a photograph's place in a room: whole, as large as it can be."""
    if size is None:
        return None
    scale = min(room.width / size[0], room.height / size[1])
    return Box(room.x, room.y, size[0] * scale, size[1] * scale)


def wrapped(words: str, room: float, size: float, most: int, *, bold: bool = False) -> list[str]:
    """Return words in lines that fit, `most` at the most; the last one is shortened where there is more."""
    lines: list[str] = []
    rest = words.split()
    while rest and len(lines) < most - 1:
        count = 1
        while count < len(rest) and width_of(" ".join(rest[: count + 1]), size, bold=bold) <= room:
            count += 1
        lines.append(cut_to(" ".join(rest[:count]), room, size, bold=bold))
        rest = rest[count:]
    return [*lines, cut_to(" ".join(rest), room, size, bold=bold)] if rest else lines


def svg_of(layout: Layout, photo: str, alt: str, title: str) -> Markup:
    """Return a layout as SVG, in mm; `photo` is the address of the photograph, or its bytes as one (RFC 2397)."""
    w, h = layout.width, layout.height
    parts = [
        Markup(
            '<svg xmlns="http://www.w3.org/2000/svg" width="{w:g}mm" height="{h:g}mm" viewBox="0 0 {w:g} {h:g}"'
            ' role="img" aria-label="{title}"><title>{title}</title><rect width="{w:g}" height="{h:g}" fill="#fff"/>'
        ).format(w=w, h=h, title=title)
    ]
    if layout.photo is not None and photo:
        box = layout.photo
        parts.append(
            Markup(
                '<image x="{x:g}" y="{y:g}" width="{w:.2f}" height="{h:.2f}" href="{href}"><title>{alt}</title></image>'
            ).format(x=box.x, y=box.y, w=box.width, h=box.height, href=photo, alt=alt)
        )
    parts += (
        Markup('<path d="M{:g} {:g}H{:g}" stroke="{}" stroke-width=".25"/>').format(start, y, end, INK)
        for start, end, y in layout.rules
    )
    parts += (
        Markup('<text x="{:g}" y="{:.2f}" font-family="{}" font-size="{:g}"{} fill="{}">{}</text>').format(
            text.x,
            text.y,
            FONTS,
            text.size,
            Markup(' font-weight="700"') if text.bold else "",
            FAINT if text.faint else INK,
            escape(text.words),
        )
        for text in layout.texts
    )
    return Markup("").join((*parts, Markup("</svg>")))
