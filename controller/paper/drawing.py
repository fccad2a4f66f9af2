"""A sheet of SVG to draw on: 288 units wide, one a pixel on the narrowest phone; words, lines, and two faces.

Colours are attributes, never `style`, as the page's content policy wants it. Soft is dotted and hard is dashed, so
that no colour carries meaning alone; in the dark face everything is red alone, 90 of 255 at most, on black.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal
from xml.etree import ElementTree as ET

Face = Literal["day", "dark"]
Anchor = Literal["start", "middle", "end"]
Texture = Literal["whole", "dotted", "dashed", "hair"]

WIDTH: Final = 288
LETTERING: Final = 12
"""Pixels: the smallest lettering anywhere."""
EM: Final = 0.64
"""Width of a letter, of the wide sort, in its height."""
INK: Final[dict[Face, str]] = {"day": "#111111", "dark": "#5a0000"}
FAINT: Final[dict[Face, str]] = {"day": "#777777", "dark": "#3c0000"}
GROUND: Final[dict[Face, str]] = {"day": "#ffffff", "dark": "#000000"}
SHADE: Final[dict[Face, str]] = {"day": "#e4e4e4", "dark": "#1c0000"}
_DASHES: Final[dict[Texture, dict[str, str]]] = {
    "whole": {"stroke-width": "2"},
    "dotted": {"stroke-width": "2", "stroke-dasharray": "0.1 4.5", "stroke-linecap": "round"},
    "dashed": {"stroke-width": "1.5", "stroke-dasharray": "7 4"},
    "hair": {"stroke-width": "0.75"},
}
ET.register_namespace("", "http://www.w3.org/2000/svg")


class Drawing:
    """One picture, drawn from top to bottom and then written out."""

    def __init__(self, height: int, face: Face, title: str, words: str) -> None:
        self.face: Face = face
        self.root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {WIDTH} {height}",
                "role": "img",
                "font-family": "sans-serif",
                "font-size": str(LETTERING),
            },
        )
        ET.SubElement(self.root, "title").text = title
        ET.SubElement(self.root, "desc").text = words
        self.box(0, 0, WIDTH, height, GROUND[face])

    def box(self, x: float, y: float, width: float, height: float, fill: str, edge: str = "none") -> None:
        """Draw a box."""
        places = {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height)}
        ET.SubElement(self.root, "rect", places | {"fill": fill, "stroke": edge})

    def line(self, points: Sequence[tuple[float, float]], texture: Texture, *, faint: bool = False) -> None:
        """Draw a line through points."""
        colour = FAINT[self.face] if faint else INK[self.face]
        path = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        ET.SubElement(self.root, "polyline", {"points": path, "fill": "none", "stroke": colour} | _DASHES[texture])

    def area(self, points: Sequence[tuple[float, float]]) -> None:
        """Shade an area."""
        path = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        ET.SubElement(self.root, "polygon", {"points": path, "fill": SHADE[self.face], "stroke": "none"})

    def dot(self, x: float, y: float, radius: float, *, filled: bool = True) -> None:
        """Draw a dot, or a ring."""
        ink = INK[self.face]
        fill = ink if filled else GROUND[self.face]
        at = {"cx": _n(x), "cy": _n(y), "r": _n(radius)}
        ET.SubElement(self.root, "circle", at | {"fill": fill, "stroke": ink, "stroke-width": "1.5"})

    def words(self, x: float, y: float, text: str, anchor: Anchor = "start", *, bold: bool = False) -> None:
        """Write words on the line at `y`."""
        at = {"x": _n(x), "y": _n(y), "text-anchor": anchor, "fill": INK[self.face]}
        written = ET.SubElement(self.root, "text", at | ({"font-weight": "bold"} if bold else {}))
        written.text = text

    def arrow(self, x: float, y: float, to_x: float) -> None:
        """Draw an arrow along a line of one height."""
        back = 5 if to_x < x else -5
        self.line([(x, y), (to_x, y)], "whole")
        self.line([(to_x + back, y - 4), (to_x, y), (to_x + back, y + 4)], "whole")

    def text(self) -> str:
        """Return the picture as SVG text."""
        return ET.tostring(self.root, encoding="unicode")


def fits(text: str, width: float) -> str:
    """Return `text`, shortened where it would be wider than `width`."""
    most = int(width / (LETTERING * EM))
    return text if len(text) <= most else text[: max(1, most - 1)] + "…"


def _n(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
