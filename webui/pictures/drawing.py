"""The sheet of paper that every picture is drawn on: escaped SVG, its two faces, and where its words stand.

All pictures are drawn 288 units wide, which is what a phone of 320 CSS pixels leaves between its margins,
so that a unit is never less than a pixel. Colours are attributes, never `style`, as the page's content
security policy wants it; ids begin with the picture's own `ident`, so that two pictures never share one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum
from functools import lru_cache
from typing import Final, Literal

from markupsafe import Markup, escape

WIDTH: Final = 288.0
"""Units across; one CSS pixel each on the narrowest phone."""

Anchor = Literal["start", "middle", "end"]
Stroke = Literal["whole", "dotted", "dashed", "hair"]
_STROKES: Final[dict[Stroke, str]] = {
    "whole": 'stroke-width="2"',
    "dotted": 'stroke-width="2" stroke-dasharray="0.1 4.5" stroke-linecap="round"',
    "dashed": 'stroke-width="1.5" stroke-dasharray="7 4"',
    "hair": 'stroke-width="0.75"',
}

# Widths of a letter in ems for the widest of the common phone and desktop faces (DejaVu Sans, rounded up),
# so that words that do not touch here touch nowhere.
_NARROW: Final = frozenset("ijlI.,:;'|!")
_MIDDLING: Final = frozenset("frt-()[] /")
_WIDE: Final = frozenset("mwMWOQ@%+×−=–·→")
_FULL_WIDTH: Final = 0x2000
_BOLD: Final = 1.12


class Face(Enum):
    """Which of the two looks a picture is drawn in."""

    DAY = "day"
    DARK = "dark"

    @property
    def ink(self) -> str:
        """The colour of lines and words."""
        return "#121110" if self is Face.DAY else "#5a0000"

    @property
    def faint(self) -> str:
        """The colour of second things."""
        return "#5d5a53" if self is Face.DAY else "#420000"

    @property
    def paper(self) -> str:
        """The ground."""
        return "#fdfcf8" if self is Face.DAY else "#000"

    @property
    def shade(self) -> str:
        """The colour of an area."""
        return "#e4e4e4" if self is Face.DAY else "#1c0000"

    def grey(self, density: float) -> str:
        """Return the colour that shows a print density: sRGB of 10^−density by day, a dim red in the dark."""
        light: float = 10 ** -max(0.0, density)
        level = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
        if self is Face.DAY:
            return "#" + f"{round(255 * level):02x}" * 3
        return f"#{round(28 * level):02x}0000"  # so dim that red figures still stand out on it

    def on_grey(self, density: float) -> str:
        """Return the colour of figures on that grey: by day black or white, whichever is read best."""
        if self is Face.DAY and 10 ** -max(0.0, density) >= 0.179:  # equal contrast there (WCAG 2 formula)
            return self.ink
        return "#fff" if self is Face.DAY else self.ink


@lru_cache(maxsize=4096)
def width_of(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide `words` run at the most, in units, at a letter size of `size` units."""
    ems = sum(
        0.38
        if letter in _NARROW
        else 0.42
        if letter in _MIDDLING
        else 1.05
        if letter in _WIDE or ord(letter) >= _FULL_WIDTH
        else 0.66
        for letter in words
    )
    return ems * size * (_BOLD if bold else 1.0)


def cut_to(words: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return `words`, shortened with an ellipsis where they run wider than `room`."""
    if width_of(words, size, bold=bold) <= room:
        return words
    while words and width_of(words + "…", size, bold=bold) > room:
        words = words[:-1]
    return words.rstrip() + "…"


@dataclass(frozen=True)
class TextBox:
    """The room that a word takes, in units; y runs downwards."""

    words: str
    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: TextBox) -> bool:
        """Tell whether two words overlap."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


@dataclass(frozen=True)
class Picture:
    """A finished picture: well-formed SVG, its size, and where its words stand."""

    svg: Markup
    width: float
    height: float
    texts: tuple[TextBox, ...]

    def __html__(self) -> str:
        return str(self.svg)


@dataclass
class Drawing:
    """Collects the parts of one picture; `finish` hands it over."""

    ident: str
    face: Face
    width: float = WIDTH
    _parts: list[str] = field(default_factory=list)
    _over: list[str] | None = None
    """The words of the link that is being drawn; None outside of one."""
    _texts: list[TextBox] = field(default_factory=list)
    _textures: set[str] = field(default_factory=set)

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = "none",
        stroke: str | None = None,
        thick: float = 1.0,
        dash: str = "",
    ) -> None:
        """Draw a box; without `stroke` it has no outline."""
        outline = f' stroke="{stroke}" stroke-width="{_number(thick)}"' if stroke else ""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<rect x="{_number(x)}" y="{_number(y)}" width="{_number(width)}" height="{_number(height)}"'
            f' fill="{fill}"{outline}{dashes}/>'
        )

    def path(
        self, steps: str, *, fill: str = "none", stroke: str | None = None, thick: float = 1.0, dash: str = ""
    ) -> None:
        """Draw a path given in SVG path steps."""
        outline = f' stroke="{stroke}" stroke-width="{_number(thick)}"' if stroke else ""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(f'<path d="{escape(steps)}" fill="{fill}"{outline}{dashes}/>')

    def line(
        self, x1: float, y1: float, x2: float, y2: float, *, stroke: str = "", thick: float = 1.0, dash: str = ""
    ) -> None:
        """Draw a straight line."""
        steps = f"M{_number(x1)} {_number(y1)}L{_number(x2)} {_number(y2)}"
        self.path(steps, stroke=stroke or self.face.ink, thick=thick, dash=dash)

    def trace(self, points: Iterable[tuple[float, float]], stroke: Stroke) -> None:
        """Draw a line through points."""
        self._parts.append(
            f'<polyline points="{_places(points)}" fill="none" stroke="{self.face.ink}" {_STROKES[stroke]}/>'
        )

    def area(self, points: Iterable[tuple[float, float]]) -> None:
        """Shade an area."""
        self._parts.append(f'<polygon points="{_places(points)}" fill="{self.face.shade}"/>')

    def dot(self, x: float, y: float, radius: float, *, filled: bool = True) -> None:
        """Draw a dot, or a ring."""
        fill = self.face.ink if filled else self.face.paper
        self._parts.append(
            f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" fill="{fill}"'
            f' stroke="{self.face.ink}" stroke-width="1.5"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 12.0,
        anchor: Anchor = "start",
        bold: bool = False,
        fill: str = "",
        upright: bool = False,
        serif: bool = False,
    ) -> None:
        """Write words with their baseline at `y`; `upright` turns them to read from below, centred on (x, y)."""
        run = width_of(words, size, bold=bold)
        rise, drop = 0.78 * size, 0.24 * size
        if upright:
            half = (rise + drop) / 2
            box = TextBox(words, x - half, y - run / 2, x + half, y + run / 2)
            turn = f' transform="rotate(-90 {_number(x)} {_number(y)})"'
            baseline, anchor = y + (rise - drop) / 2, "middle"
        else:
            left = x - {"start": 0.0, "middle": run / 2, "end": run}[anchor]
            box = TextBox(words, left, y - rise, left + run, y + drop)
            turn, baseline = "", y
        weight = ' font-weight="700"' if bold else ""
        family = ' font-family="ui-serif,Georgia,serif"' if serif else ""
        self._texts.append(box)
        (self._parts if self._over is None else self._over).append(
            f'<text x="{_number(x)}" y="{_number(baseline)}" font-size="{_number(size)}" text-anchor="{anchor}"'
            f' fill="{fill or self.face.ink}"{weight}{family}{turn}>{_written(words)}</text>'
        )

    def texture(self, filter_name: str) -> str:
        """Return the fill for a filter: dots for soft, diagonals for hard, level lines for every other."""
        kind = filter_name if filter_name in ("soft", "hard") else "other"
        self._textures.add(kind)
        return f"url(#{self.ident}-{kind})"

    def hatch(self, sign: Literal["+", "−"]) -> str:
        """Return the fill for more light (+) or less (−)."""
        kind = "more" if sign == "+" else "less"
        self._textures.add(kind)
        return f"url(#{self.ident}-{kind})"

    def image(self, address: str, x: float, y: float, width: float, height: float) -> None:
        """Lay the picture at `address` into a box, whole."""
        self._parts.append(
            f'<image href="{_written(address)}" x="{_number(x)}" y="{_number(y)}" width="{_number(width)}"'
            f' height="{_number(height)}"/>'
        )

    def open_link(self, address: str, label: str, *, chosen: bool = False) -> None:
        """Begin a part that can be tapped; `close_link` ends it."""
        current = ' aria-current="true"' if chosen else ""
        self._parts.append(f'<a href="{_written(address)}" aria-label="{_written(label)}"{current}>')
        self._over = []

    def close_link(self) -> None:
        """End a part that can be tapped; its words lie over it, so that they are no second name beside its label."""
        over, self._over = self._over or [], None
        self._parts += ["</a>", '<g aria-hidden="true" pointer-events="none">', *over, "</g>"]

    def finish(self, height: float, label: str, *, role: Literal["img", "group"] = "img") -> Picture:
        """Hand the picture over; `label` is what it says to someone who cannot see it."""
        textures = "".join(self._pattern(kind) for kind in sorted(self._textures))
        head = f"<defs>{textures}</defs>" if textures else ""
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="picture" viewBox="0 0 {_number(self.width)}'
            f' {_number(height)}" role="{role}" aria-label="{_written(label)}"'
            f' font-family="ui-sans-serif,system-ui,sans-serif">{head}{"".join(self._parts)}</svg>'
        )
        return Picture(Markup(svg), self.width, height, tuple(self._texts))  # noqa: S704 every value above is escaped

    def _pattern(self, kind: str) -> str:
        ink = self.face.ink
        inside = {
            "soft": (6, f'<circle cx="2" cy="2" r="1.2" fill="{ink}"/>', ""),
            "hard": (5, f'<rect width="1.7" height="5" fill="{ink}"/>', ' patternTransform="rotate(45)"'),
            "other": (5, f'<rect width="5" height="1.1" fill="{ink}"/>', ""),
            "more": (9, f'<path d="M1.5 4.5h6M4.5 1.5v6" stroke="{ink}" stroke-width="1.2"/>', ""),
            "less": (9, f'<path d="M1.5 4.5h5" stroke="{ink}" stroke-width="1.2"/>', ""),
        }
        side, mark, turn = inside[kind]
        return (
            f'<pattern id="{self.ident}-{kind}" width="{side}" height="{side}"'
            f' patternUnits="userSpaceOnUse"{turn}>{mark}</pattern>'
        )


def _written(words: str) -> Markup:
    """Return words as they may stand in XML: escaped, and without the letters that it does not know."""
    if words.isprintable():  # as nearly all are; none of those is left out
        return escape(words)
    return escape("".join(letter for letter in words if letter in "\t\n" or _speakable(letter)))


def _speakable(letter: str) -> bool:
    code = ord(letter)
    return code >= 0x20 and not 0x7F <= code < 0xA0 and not 0xD800 <= code < 0xE000 and code not in (0xFFFE, 0xFFFF)


def _places(points: Iterable[tuple[float, float]]) -> str:
    """Return points to a tenth of a unit, which is as fine as a long curve is seen."""
    return " ".join(f"{_number(round(x, 1))},{_number(round(y, 1))}" for x, y in points)


def _number(value: float) -> str:
    """Return a coordinate to a hundredth, without trailing noughts."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
