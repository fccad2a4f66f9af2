"""A label or a certificate as PDF, drawn by ReportLab, which is loaded here alone and only when one is asked for."""

from __future__ import annotations

import io
import threading
import unicodedata
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.errors import Impossible
from controller.words import say
from webui.pictures.certificate import FAINT, INK

if TYPE_CHECKING:
    from webui.pictures.certificate import Layout, Text

FACES: Final = (("DejaVuSans.ttf", "Vera.ttf"), ("DejaVuSans-Bold.ttf", "VeraBd.ttf"))
"""Plain and bold: the system's own where it is there, which has more letters; else the one that the library brings."""
FOLDER: Final = Path("/usr/share/fonts/truetype/dejavu")
_registering: Final = threading.Lock()


def may_be_drawn() -> bool:
    """Tell whether the library is installed."""
    return find_spec("reportlab") is not None


def pdf_of(layout: Layout, photo: bytes | None, title: str) -> bytes:
    """Return a layout as PDF of one page in its size; the same layout gives the same bytes. `photo` is a JPEG.

    A letter that the face lacks is written as its plain one, or as "?".

    Raises:
        Impossible: the library is not installed.
    """
    if not may_be_drawn():
        raise Impossible(say("editions.no-pdf"))
    from reportlab.lib.units import mm
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    faces = _faces()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(layout.width * mm, layout.height * mm), pageCompression=1, invariant=1)
    canvas.setTitle(title)
    canvas.setCreator(say("page.name"))
    if layout.photo is not None and photo is not None:
        box = layout.photo
        bottom = layout.height - box.y - box.height
        image = ImageReader(io.BytesIO(photo))
        canvas.drawImage(image, box.x * mm, bottom * mm, box.width * mm, box.height * mm)
    canvas.setLineWidth(0.25 * mm)
    canvas.setStrokeColor(INK)
    for start, end, y in layout.rules:
        canvas.line(start * mm, (layout.height - y) * mm, end * mm, (layout.height - y) * mm)
    for text in layout.texts:
        _write(canvas, text, faces[text.bold], layout.height, mm)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _write(canvas: Any, text: Text, face: Any, height: float, mm: float) -> None:
    canvas.setFont(face.fontName, text.size * mm)
    canvas.setFillColor(FAINT if text.faint else INK)
    canvas.drawString(text.x * mm, (height - text.y) * mm, _known(text.words, face.face.charToGlyph))


def _known(words: str, glyphs: dict[int, int]) -> str:
    """Return words in letters that a face has."""
    found = []
    for letter in unicodedata.normalize("NFC", words):
        if ord(letter) in glyphs:
            found.append(letter)
            continue
        plain = "".join(each for each in unicodedata.normalize("NFKD", letter) if ord(each) in glyphs)
        found.append(plain or ("" if unicodedata.combining(letter) else "?"))
    return "".join(found)


def _faces() -> tuple[Any, Any]:
    """Return the plain and the bold face, registered once in this process."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    with _registering:
        known = pdfmetrics.getRegisteredFontNames()
        for name, files in zip(("treadle", "treadle-bold"), FACES, strict=True):
            if name not in known:
                system = FOLDER / files[0]
                pdfmetrics.registerFont(TTFont(name, str(system) if system.exists() else files[1]))
        return pdfmetrics.getFont("treadle"), pdfmetrics.getFont("treadle-bold")
