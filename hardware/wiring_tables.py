"""The tables of the wiring file: every key that may stand there, what it says, and the rules of each line's pin.

`TOP` and `TABLES` are the file's whole grammar; a new outlet is a row of `TABLES`. `hardware.wiring` reads a file by
them, and the reference page and the example are made from them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

PULLED_UP: Final = range(9)
"""GPIO 0 to 8 are pulled up from power-on until software speaks, 9 to 27 down. Source: the default pulls in the GPIO
table of the BCM2835 peripherals manual, the same on the chips that followed (from memory)."""
KEPT: Final = frozenset({0, 1})
"""Pins on which the Pi asks a plug-on board who it is, before any software. Source: as below."""
TAKEN: Final[dict[int, str]] = {
    **dict.fromkeys((2, 3), "belongs to the I2C bus and has a pull-up of its own on the board"),
    **dict.fromkeys((7, 8, 9, 10, 11), "belongs to the SPI bus"),
    **dict.fromkeys((14, 15), "belongs to the serial port, on which the Pi may speak while it starts"),
}
"""Pins that the Pi has another use for. Source: the usual functions of the 40-pin header (from memory)."""
_ALONG_THE_HEADER: Final = (
    "- - 2 - 3 - 4 14 - 15 17 18 27 - 22 23 - 24 10 - 9 25 11 8 - 7 0 1 5 - 6 12 13 - 19 16 26 20 - 21"
)
HEADER: Final = {int(pin): place for place, pin in enumerate(_ALONG_THE_HEADER.split(), 1) if pin != "-"}
"""Where each GPIO number is on the 40-pin header, counted from the pin with the square pad. Source: the pin library's
own board data (gpiozero, PiBoardInfo), which a test compares."""
BY_ID: Final = "/dev/input/by-id/"
Filters = Literal["drawer", "lines"]
DRAWER: Final = "drawer"
LINES: Final = "lines"
"""`filters` of a head with a lamp pin for the soft light and one for the hard."""
NEEDED: Final = object()
"""The default of a key that must be written."""
LAMPS: Final[dict[str, dict[str, str]]] = {DRAWER: {"lamp": "lamp"}, LINES: {"soft": "lamp_soft", "hard": "lamp_hard"}}
"""For each way of changing filters: the lamps as orders name them, and their tables."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What values fit, and the advice where one does not."""

    fits: Callable[[Any], bool]
    advice: str


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what it says, in a sentence; of what kind; and its value where it is left out."""

    says: str
    kind: Kind
    default: object = NEEDED


@dataclass(frozen=True, slots=True)
class Table:
    """One table: what it says, in a sentence, and its keys."""

    says: str
    keys: Mapping[str, Key]
    offered: Mapping[str, object]
    """What the example of the file offers, behind a #."""
    used: Mapping[str, object] = field(default_factory=dict)
    """What the example fits."""
    outlet: bool = False
    """Something that is switched beside the lamp."""
    high_only: bool = False
    """Driven high for light, always, so that a line nobody drives is dark."""
    low_at_start: bool = False
    """Never on a pin that is pulled up at power-on."""
    shines: bool | None = None
    """An outlet that gives light: whether it does so when its line is active."""


_PIN_KIND: Final = Kind(
    lambda value: type(value) is int and 0 <= value <= 27, "Say the pin's GPIO number, a whole number from 0 to 27."
)
_TRUTH: Final = Kind(lambda value: type(value) is bool, "Say true or false.")
_MS: Final = Kind(lambda value: type(value) in (int, float) and 0 <= value <= 100, "Say milliseconds from 0 to 100.")
_NAMES: Final = Kind(
    lambda value: isinstance(value, list | tuple) and all(isinstance(name, str) for name in value),
    "Say a list of names below /dev/input/by-id, each in quotes.",
)
_CHIP: Final = Kind(
    lambda value: value is None or (type(value) is int and 0 <= value <= 999),
    "Leave it out, or say the number of the GPIO chip.",
)
_FILTERS: Final = Kind(lambda value: isinstance(value, str) and value in LAMPS, "Say “drawer” or “lines”.")

_PIN: Final = Key("The pin's GPIO number, 0 to 27; not its place on the header.", _PIN_KIND)
_ONE_PIN: Final = {"pin": _PIN}
_LIT_HIGH: Final = {
    "pin": _PIN,
    "active_high": Key(
        "True only: a pin that lit the lamp when low would light it whenever the Pi is off or starting.", _TRUTH, True
    ),
}
_EITHER_WAY: Final = {
    "pin": _PIN,
    "active_high": Key("Whether the pin is active when high; false where it is when low.", _TRUTH, True),
}

TOP: Final[dict[str, Key]] = {
    "filters": Key(
        "How filters are changed: “drawer”, by hand, one lamp pin; “lines”, one lamp pin for soft and one for hard.",
        _FILTERS,
        DRAWER,
    ),
    "chip": Key("The number of the GPIO chip; left out, the Pi's own is found by its label.", _CHIP, None),
    "force": Key("Take pins that the Pi has another use for (serial port, SPI, I2C).", _TRUTH, False),
}
TABLES: Final[dict[str, Table]] = {
    "lamp": Table(
        "The enlarger's lamp, where there is one pin for it.",
        _LIT_HIGH,
        {},
        {"pin": 17},
        high_only=True,
        low_at_start=True,
    ),
    "lamp_soft": Table(
        "The soft light of a head with two lamp pins.", _LIT_HIGH, {"pin": 17}, high_only=True, low_at_start=True
    ),
    "lamp_hard": Table(
        "The hard light of a head with two lamp pins.", _LIT_HIGH, {"pin": 22}, high_only=True, low_at_start=True
    ),
    "foot": Table(
        "The foot switch; at least a contact or one pedal.",
        {
            "pin": Key(
                "The contact that closes to ground when the foot is down; its pin's GPIO number.", _PIN_KIND, None
            ),
            "open_pin": Key(
                "The changeover switch's other contact, closed while the foot is up; a broken wire is then a fault.",
                _PIN_KIND,
                None,
            ),
            "pedals": Key(
                "USB pedals by their names below /dev/input/by-id; a missing one blocks nothing.", _NAMES, ()
            ),
        },
        {"open_pin": 24, "pedals": ["/dev/input/by-id/usb-a_pedal-event-kbd"]},
        {"pin": 27},
    ),
    "sounder": Table(
        "A passive sounder; without one focus light by foot is refused and the lead-in is 4 s.",
        _ONE_PIN,
        {},
        {"pin": 18},
    ),
    "lid": Table("A contact on the paper box, closed to ground while the lid is shut.", _ONE_PIN, {"pin": 23}),
    "safelight": Table(
        "The safelight's outlet, on a normally-closed contact: at rest or in doubt the safelight is on.",
        {
            **_EITHER_WAY,
            "dark_while_lit": Key(
                "Make the safelight dark while the lamp is lit, so that the projected picture can be seen.",
                _TRUTH,
                False,
            ),
        },
        {"pin": 25, "active_high": True, "dark_while_lit": True},
        outlet=True,
        low_at_start=True,
        shines=False,
    ),
    "room_light": Table(
        "An outlet in series with the wall switch of the room light; off at rest and in doubt.",
        _LIT_HIGH,
        {"pin": 26},
        outlet=True,
        high_only=True,
        low_at_start=True,
        shines=True,
    ),
    "status_led": Table(
        "A dim red LED; off while a sheet is open.",
        _EITHER_WAY,
        {"pin": 12, "active_high": True},
        outlet=True,
        shines=True,
    ),
    "alive": Table(
        "A beat every 50 ms while the lamp is lit, for a retriggerable monostable.",
        _EITHER_WAY,
        {"pin": 13, "active_high": True},
        outlet=True,
        low_at_start=True,
    ),
    "relay": Table(
        "The lamp relay's delays, for the record's figure.",
        {
            "operate_ms": Key(
                "Milliseconds from the pin's level to the closed contact, by the relay's data sheet, 0 to 100.",
                _MS,
                0.0,
            ),
            "release_ms": Key(
                "Milliseconds from the pin's level to the open contact, by the relay's data sheet, 0 to 100.", _MS, 0.0
            ),
        },
        {"operate_ms": 8.0, "release_ms": 5.0},
    ),
}
SAFELIGHT, ROOM_LIGHT, STATUS_LED, ALIVE = "safelight", "room_light", "status_led", "alive"
OUTLETS: Final = tuple(name for name, table in TABLES.items() if table.outlet)
"""Every outlet there may be, by its name in the file and in `wire.Greeting.features`."""
PLAIN: Final[dict[str, object]] = {"lamp": {"pin": 17}, "foot": {"pin": 27}, "sounder": {"pin": 18}}
"""What a practice darkroom has where no file says more; the pins mean nothing there."""
