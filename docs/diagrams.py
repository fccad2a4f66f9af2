"""Draws the low-voltage side of the wiring: `python docs/diagrams.py`. Mains is never drawn: it is an electrician's."""

from __future__ import annotations

from pathlib import Path
from xml.sax.saxutils import escape

OUT = Path(__file__).resolve().parent / "images" / "wiring.svg"
WIDTH, HEIGHT = 720, 640
INK, FAINT, PAPER = "#121110", "#5d5a53", "#fdfcf8"


class Sheet:
    """Collects lines and words of one drawing."""

    def __init__(self) -> None:
        self.parts: list[str] = [f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{PAPER}"/>']

    def line(self, *points: tuple[float, float], dash: str = "", thick: float = 1.6) -> None:
        """Draw a wire through points."""
        steps = "M" + "L".join(f"{x} {y}" for x, y in points)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<path d="{steps}" fill="none" stroke="{INK}" stroke-width="{thick}"{dashes}/>')

    def box(self, x: float, y: float, w: float, h: float, *, dash: str = "") -> None:
        """Draw a box."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="{PAPER}" stroke="{INK}" stroke-width="1.6"{dashes}/>'
        )

    def words(
        self, x: float, y: float, text: str, *, size: int = 13, anchor: str = "start", faint: bool = False
    ) -> None:
        """Write words."""
        self.parts.append(
            f'<text x="{x}" y="{y}" font-size="{size}" text-anchor="{anchor}" fill="{FAINT if faint else INK}">'
            f"{escape(text)}</text>"
        )

    def ground(self, x: float, y: float) -> None:
        """Draw ground."""
        for half, down in ((10, 0), (6, 5), (2, 10)):
            self.line((x - half, y + down), (x + half, y + down))

    def dot(self, x: float, y: float) -> None:
        """Draw a joint."""
        self.parts.append(f'<circle cx="{x}" cy="{y}" r="3" fill="{INK}"/>')

    def resistor(self, x: float, y: float, value: str) -> None:
        """Draw a resistor from (x, y) down to ground."""
        self.line((x, y), (x, y + 14))
        self.box(x - 5, y + 14, 10, 28)
        self.line((x, y + 42), (x, y + 54))
        self.ground(x, y + 54)
        self.words(x + 11, y + 33, value, size=12)

    def switch(self, x: float, y: float) -> None:
        """Draw a normally-open contact from (x, y) to the right, 60 long."""
        self.line((x, y), (x + 16, y))
        self.line((x + 16, y), (x + 42, y - 14))
        self.line((x + 44, y), (x + 60, y))
        self.dot(x + 16, y)
        self.dot(x + 44, y)

    def svg(self) -> str:
        """Return the drawing."""
        label = "The low-voltage side: which pin goes to what. The mains side is not drawn; it is the electrician's."
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{label}"'
            f' font-family="ui-sans-serif,system-ui,sans-serif">{"".join(self.parts)}</svg>\n'
        )


def draw() -> str:
    """Return the whole drawing."""
    s = Sheet()
    s.words(20, 28, "Low-voltage side only. Mains is never drawn here: a qualified electrician and local codes decide.")
    s.box(40, 56, 130, 540)
    s.words(105, 78, "Raspberry Pi", anchor="middle")
    s.words(105, 95, "3.3 V pins", size=12, anchor="middle", faint=True)

    # lamp
    y = 140
    s.words(160, y + 4, "GPIO 17", size=12, anchor="end")
    s.line((170, y), (400, y))
    s.dot(215, y)
    s.resistor(215, y, "10 kΩ pull-down")
    s.box(400, y - 34, 132, 66, dash="5 4")
    s.words(466, y - 14, "option: retriggerable", size=11, anchor="middle")
    s.words(466, y + 1, "monostable 0.3 s", size=11, anchor="middle")
    s.words(466, y + 16, "AND lamp line", size=11, anchor="middle")
    s.line((532, y), (570, y))
    s.box(570, y - 44, 130, 116)
    s.words(635, y - 24, "outlet box", anchor="middle")
    s.words(635, y - 8, "listed, enclosed,", size=11, anchor="middle")
    s.words(635, y + 6, "low-voltage input,", size=11, anchor="middle")
    s.words(635, y + 20, "normally-open", size=11, anchor="middle")
    s.words(635, y + 34, "contact", size=11, anchor="middle")
    s.words(635, y + 60, "(mains: not drawn)", size=11, anchor="middle", faint=True)
    s.line((600, y + 72), (600, y + 86))
    s.ground(600, y + 86)

    # alive line
    y = 240
    s.words(160, y + 4, "GPIO 22", size=12, anchor="end")
    s.line((170, y), (440, y), (440, 172), dash="5 4")
    s.words(182, y + 16, "option: alive line, turns over every 50 ms while lit", size=12)

    # foot: a changeover contact, at rest on the side of the option
    s.words(160, 314, "GPIO 27", size=12, anchor="end")
    s.line((170, 310), (316, 310))
    s.words(160, 354, "GPIO 24", size=12, anchor="end")
    s.line((170, 350), (316, 350), dash="5 4")
    s.line((316, 350), (362, 330), thick=2.2)
    s.line((362, 330), (420, 330))
    for x, y in ((316, 310), (316, 350), (362, 330)):
        s.dot(x, y)
    s.ground(420, 330)
    s.words(440, 314, "foot switch: closes GPIO 27 to ground")
    s.words(440, 331, "when the foot is down; the Pi pulls up", size=12, faint=True)
    s.words(440, 354, "option: its other contact, closed at rest,")
    s.words(440, 371, "to GPIO 24: a broken wire is a fault", size=12, faint=True)

    # lid
    y = 440
    s.words(160, y + 4, "GPIO 23", size=12, anchor="end")
    s.line((170, y), (300, y), dash="5 4")
    s.switch(300, y)
    s.line((360, y), (420, y), dash="5 4")
    s.ground(420, y)
    s.words(440, y - 6, "option: paper-box lid,")
    s.words(440, y + 11, "closed while the lid is shut", size=12, faint=True)

    # sounder
    y = 510
    s.words(160, y + 4, "GPIO 18", size=12, anchor="end")
    s.line((170, y), (330, y))
    s.box(330, y - 16, 62, 32)
    s.words(361, y + 5, "sounder", size=12, anchor="middle")
    s.line((392, y), (420, y))
    s.ground(420, y)
    s.words(440, y - 6, "passive sounder, a few mA;")
    s.words(440, y + 11, "a louder one through a transistor", size=12, faint=True)

    # LED
    y = 570
    s.words(160, y + 4, "GPIO 25", size=12, anchor="end")
    s.line((170, y), (240, y), dash="5 4")
    s.box(240, y - 6, 34, 12)
    s.words(257, y - 11, "4.7 kΩ", size=11, anchor="middle")
    s.line((274, y), (330, y), dash="5 4")
    s.line((330, y - 9), (330, y + 9), (348, y), (330, y - 9))
    s.line((348, y - 9), (348, y + 9))
    s.line((348, y), (420, y), dash="5 4")
    s.ground(420, y)
    s.words(440, y - 6, "option: red LED, dim; off while a sheet")
    s.words(440, y + 11, "is open. Cover it if in doubt", size=12, faint=True)
    s.words(
        20, 630, "Dashed: options. Ground is the Pi's own; it is never joined to anything on the mains side.", size=12
    )
    return s.svg()


if __name__ == "__main__":
    OUT.write_text(draw(), encoding="utf-8")
