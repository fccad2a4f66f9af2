"""Draws the low-voltage side of the wiring, and the header: `python docs/diagrams.py`.

The pins are those of the example that `treadle wiring` prints. Mains is never drawn: it is an electrician's.
"""

from __future__ import annotations

import sys
from pathlib import Path
from xml.sax.saxutils import escape

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from hardware.wiring_tables import HEADER, TABLES  # noqa: E402 - the project is beside this folder

IMAGES = ROOT / "docs" / "images"
INK, FAINT, PAPER = "#121110", "#5d5a53", "#fdfcf8"
GROUND, THREE_VOLTS, FIVE_VOLTS = (6, 9, 14, 20, 25, 30, 34, 39), (1, 17), (2, 4)
DRAWN = {
    "lamp.pin": "lamp",
    "lamp_hard.pin": "second lamp",
    "alive.pin": "alive",
    "foot.pin": "foot switch",
    "foot.open_pin": "foot, other contact",
    "lid.pin": "paper-box lid",
    "sounder.pin": "sounder",
    "status_led.pin": "red LED",
    "safelight.pin": "safelight",
    "room_light.pin": "room light",
}
"""What is drawn, by its table and key in the wiring file, and what the header's drawing calls it."""


def pin_of(name: str) -> int:
    """Return the GPIO number that the example of the wiring file has for `table.key`."""
    table, key = name.split(".")
    return int(str({**TABLES[table].offered, **TABLES[table].used}[key]))


class Sheet:
    """Collects lines and words of one drawing."""

    def __init__(self, width: int, height: int, label: str) -> None:
        self.size, self.label = (width, height), label
        self.parts: list[str] = [f'<rect width="{width}" height="{height}" fill="{PAPER}"/>']

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

    def pin(self, y: float, name: str, x: float = 190) -> None:
        """Name a pin of the Pi, its GPIO number and its place on the header, left of where its wire begins."""
        gpio = pin_of(name)
        self.words(x - 8, y - 3, f"GPIO {gpio}", size=12, anchor="end")
        self.words(x - 8, y + 11, f"header {HEADER[gpio]}", size=11, anchor="end", faint=True)

    def outlet(self, x: float, y: float, *says: str, dash: str = "") -> None:
        """Draw a switched outlet: its input's + at (x, y), its − 30 below, which goes to ground."""
        self.box(x, y - 28, 176, 82, dash=dash)
        self.words(x + 8, y + 5, "+", size=15)
        self.words(x + 8, y + 35, "−", size=15)
        for number, words in enumerate(says):
            self.words(x + 30, y - 10 + 14 * number, words, size=12 if number == 0 else 11)
        self.line((x, y + 30), (x - 26, y + 30), (x - 26, y + 36), dash=dash)
        self.ground(x - 26, y + 36)

    def svg(self) -> str:
        """Return the drawing."""
        width, height = self.size
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img"'
            f' aria-label="{escape(self.label)}"'
            f' font-family="ui-sans-serif,system-ui,sans-serif">{"".join(self.parts)}</svg>\n'
        )


OPTION = "5 4"
"""How the wire of an option is dashed."""


def draw() -> str:
    """Return the whole drawing of the wires."""
    s = Sheet(
        780, 1150, "The low-voltage side: which pin goes to what. The mains side is not drawn; it is the electrician's."
    )
    s.words(20, 28, "Low-voltage side only. Mains is never drawn here: a qualified electrician and local codes decide.")
    s.words(20, 48, "Dashed: options. “header” is the place on the 40-pin header.", size=12, faint=True)
    s.box(40, 66, 150, 1030)
    s.words(56, 90, "Raspberry Pi")
    s.words(56, 108, "pins give 3.3 V", size=12, faint=True)

    # the lamp: a plain wire, the pull-down, the outlet; the option sits in that wire
    y = 160
    s.pin(y, "lamp.pin")
    s.line((190, y), (570, y))
    s.dot(232, y)
    s.resistor(232, y, "10 kΩ pull-down, always")
    s.outlet(570, y, "switched outlet: lamp", "certified, enclosed,", "normally-open contact", "(mains: not drawn)")
    y = 290
    s.pin(y, "alive.pin")
    s.line((190, y), (402, y), dash=OPTION)
    s.box(402, y - 40, 162, 64, dash=OPTION)
    for number, words in enumerate(("option: retriggerable", "monostable, 0.3 s, and", "lamp pin: both, or dark")):
        s.words(483, y - 20 + 15 * number, words, size=11, anchor="middle")
    s.line((450, y - 40), (450, 164), dash=OPTION)
    s.line((516, y - 40), (516, 164), dash=OPTION)
    s.dot(450, 160)
    s.dot(516, 160)
    s.words(483, 150, "cut here for it", size=11, anchor="middle", faint=True)
    s.words(200, y + 18, "option: alive pin, turns over", size=12)
    s.words(200, y + 33, "every 50 ms while lit", size=12, faint=True)

    # a second lamp
    y = 390
    s.pin(y, "lamp_hard.pin")
    s.line((190, y), (570, y), dash=OPTION)
    s.dot(232, y)
    s.resistor(232, y, "10 kΩ pull-down")
    s.outlet(570, y, "option: second outlet", "for the hard light of a", "two-colour head", dash=OPTION)

    # foot: a changeover contact, at rest on the side of the option
    y = 510
    s.pin(y, "foot.pin")
    s.line((190, y), (316, y))
    s.pin(y + 44, "foot.open_pin")
    s.line((190, y + 44), (316, y + 44), dash=OPTION)
    s.line((316, y + 44), (362, y + 22), thick=2.2)
    s.line((362, y + 22), (420, y + 22))
    for x, at in ((316, y), (316, y + 44), (362, y + 22)):
        s.dot(x, at)
    s.ground(420, y + 22)
    s.words(446, y + 2, "foot switch: joins its pin to ground while the")
    s.words(446, y + 19, "foot is down; the Pi pulls the pin up", size=12, faint=True)
    s.words(446, y + 42, "option: its other contact, closed at rest;")
    s.words(446, y + 59, "a broken wire is then seen", size=12, faint=True)

    # lid
    y = 626
    s.pin(y, "lid.pin")
    s.line((190, y), (300, y), dash=OPTION)
    s.switch(300, y)
    s.line((360, y), (420, y), dash=OPTION)
    s.ground(420, y)
    s.words(446, y - 4, "option: paper-box lid,")
    s.words(446, y + 13, "closed while the lid is shut", size=12, faint=True)

    # sounder, through a transistor
    y = 720
    s.pin(y, "sounder.pin")
    s.line((190, y), (230, y))
    s.box(230, y - 6, 34, 12)
    s.words(247, y - 11, "1 kΩ", size=11, anchor="middle")
    s.line((264, y), (330, y))
    s.line((330, y - 14), (330, y + 14), thick=3)
    s.line((330, y - 6), (352, y - 20), (352, y - 34))
    s.line((330, y + 6), (352, y + 20), (352, y + 30))
    s.line((343, y + 19), (352, y + 20), (348, y + 12))
    s.ground(352, y + 30)
    s.box(321, y - 66, 62, 32)
    s.words(352, y - 46, "sounder", size=12, anchor="middle")
    s.line((383, y - 50), (420, y - 50))
    s.words(424, y - 46, "3.3 V, header 17", size=12)
    s.words(446, y - 14, "passive sounder through a small NPN transistor;")
    s.words(446, y + 3, "series resistor by its data sheet, a diode across", size=12, faint=True)
    s.words(446, y + 19, "a magnetic one. A small piezo may go straight to", size=12, faint=True)
    s.words(446, y + 35, "the pin, and is faint", size=12, faint=True)

    # LED
    y = 826
    s.pin(y, "status_led.pin")
    s.line((190, y), (240, y), dash=OPTION)
    s.box(240, y - 6, 34, 12)
    s.words(257, y - 11, "4.7 kΩ", size=11, anchor="middle")
    s.line((274, y), (330, y), dash=OPTION)
    s.line((330, y - 9), (330, y + 9), (348, y), (330, y - 9))
    s.line((348, y - 9), (348, y + 9))
    s.line((348, y), (420, y), dash=OPTION)
    s.ground(420, y)
    s.words(446, y - 4, "option: red LED, dim; off while a sheet")
    s.words(446, y + 13, "is open. Cover it if in doubt", size=12, faint=True)

    # outlets beside the lamp
    y = 910
    s.pin(y, "safelight.pin")
    s.line((190, y), (570, y), dash=OPTION)
    s.dot(232, y)
    s.resistor(232, y, "10 kΩ")
    s.outlet(570, y, "option: safelight", "normally-closed contact:", "lit when nothing speaks", dash=OPTION)
    y = 1026
    s.pin(y, "room_light.pin")
    s.line((190, y), (570, y), dash=OPTION)
    s.dot(232, y)
    s.resistor(232, y, "10 kΩ")
    s.outlet(570, y, "option: room light", "normally-open contact,", "after the wall switch", dash=OPTION)

    s.words(
        20,
        1120,
        "The ground sign is the Pi's own ground (header 6, 9, 14, 20, 25, 30, 34 or 39), and the outlets' “−”. It is",
        size=12,
    )
    s.words(20, 1137, "no protective earth, and is never joined to anything on the mains side.", size=12)
    return s.svg()


def draw_header() -> str:
    """Return the drawing of the header, each pin of the example named."""
    s = Sheet(620, 560, "The 40-pin header: which place is which pin, and what the example puts there.")
    s.words(20, 28, "The 40-pin header, USB sockets at the bottom, header at the right edge of the board")
    uses = {HEADER[pin_of(name)]: f"GPIO {pin_of(name)}: {what}" for name, what in DRAWN.items()}
    uses |= dict.fromkeys(GROUND, "ground") | dict.fromkeys(THREE_VOLTS, "3.3 V") | dict.fromkeys(FIVE_VOLTS, "5 V")
    s.box(270, 44, 80, 490)
    for place in range(1, 41):
        left = place % 2 == 1
        x, y = (292 if left else 328), 62 + 24 * ((place - 1) // 2)
        named = "GPIO" in uses.get(place, "")
        shape = (
            f'<rect x="{x - 8}" y="{y - 8}" width="16" height="16"'
            if place == 1
            else f'<circle cx="{x}" cy="{y}" r="8"'
        )
        s.parts.append(f'{shape} fill="{INK if named else PAPER}" stroke="{INK}"/>')
        ink = PAPER if named else INK
        s.parts.append(f'<text x="{x}" y="{y + 3}" font-size="9" text-anchor="middle" fill="{ink}">{place}</text>')
        if place in uses:
            at, anchor = (258, "end") if left else (362, "start")
            s.words(at, y + 4, uses[place], size=12, anchor=anchor, faint=not named)
    s.words(20, 552, "Black: what the example uses. 5 V must touch none of them.", size=12, faint=True)
    return s.svg()


if __name__ == "__main__":
    (IMAGES / "wiring.svg").write_text(draw(), encoding="utf-8")
    (IMAGES / "header.svg").write_text(draw_header(), encoding="utf-8")
