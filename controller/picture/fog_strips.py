"""The three strips of a test of what fogs paper, out of the tray: four quarters each, side by side with their notches.

The first strip had its grey before the waits, the second after them, the third has none. A quarter had the light of
the waits in which the card left it open: the safelight's, or a phone's by what its page shows. Importing this module
loads numpy.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from controller.picture.densitometer import PixelBox, ToneReading
from controller.picture.develop import Developed
from controller.picture.doses import light_on
from controller.picture.evidence import edges_of, lights_of
from controller.picture.hands import hands_over
from controller.picture.light import BlueGreen
from controller.picture.tray import developed
from hardware.clock import NS_PER_MS
from hardware.practice.log import FaultSwitched
from hardware.practice.meter import Edge, shining

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.picture.develop import Conditions
    from controller.picture.evidence import SheetLights
    from controller.picture.in_the_trays import Development
    from controller.picture.practice_papers import PracticePaper
    from controller.picture.scene import Scene
    from controller.recipe.plan import Wait
    from hardware.practice.log import Entry

    Map = NDArray[np.float32]

PhonePage = Literal["dark", "leaking", "white"]
"""What a phone's page gives off: a dim red; a dim red and what a bright screen lets through; or it is white."""
NOTCHES: Final = (1, 2, 0)
"""By which each strip is known in the dark, at the end that is never uncovered."""
QUARTERS: Final = 4
AFTERGLOW_MS: Final = 500
_DARK: Final = BlueGreen(blue=0.0, green=0.0)
_RED_OF_WHITE: Final = 1e-4
"""How much of a white page's light in blue and green a dark one gives at the lowest level: what leaks beside red."""
_LEVEL: Final = 1.8
"""Each level of red is so much brighter than the one before."""
_LEAKING: Final = 100.0
"""How much more a bright screen of the LCD kind lets through than one turned down. Invented, as the light itself."""
_WIDE, _HIGH, _GAP = 120, 90, 24
"""Of a quarter and between strips, in pixels."""
_TABLE: Final = 0.9
"""Density of what the strips lie on."""


def phone_second(page: PhonePage, level: int, white: BlueGreen) -> BlueGreen:
    """Return what a phone beside the paper gives in a second; `white` is what a white page gives."""
    if page == "white":
        return white
    return white.times(_RED_OF_WHITE * _LEVEL ** (max(1, level) - 1) * (_LEAKING if page == "leaking" else 1.0))


def open_seconds(waits: Sequence[Wait], *, wrong_way: bool = False) -> tuple[float, ...]:
    """Return how long each quarter lay open, the one that is open first, first.

    A card that goes the wrong way leaves three quarters open at first, and covers one after each wait.
    """
    seconds = [wait.ms / 1000 for wait in waits]
    if wrong_way:
        return *(sum(seconds[: number + 1]) for number in range(len(seconds))), 0.0
    return tuple(sum(seconds[number:]) for number in range(len(seconds) + 1))


@dataclass(frozen=True, slots=True)
class Exposed:
    """What each strip had: its grey, and the light of the waits on each of its quarters."""

    greys: tuple[BlueGreen, BlueGreen, BlueGreen]
    fogs: tuple[BlueGreen, ...]


def exposed(
    record: SheetLights,
    entries: tuple[Entry, ...],
    conditions: Conditions,
    scene: Scene,
    page: PhonePage = "dark",
    edges: Iterable[Edge] | None = None,
) -> Exposed:
    """Return the light that fell on the strips of a closed sheet."""
    lights = lights_of(record)
    lines = tuple(sorted(edges or ()))
    if lights and not any(lights[0][1] <= edge.at_ns <= lights[-1][2] for edge in lines):
        lines = edges_of(record)
    real = tuple(shining(lines, [entry for entry in entries if isinstance(entry, FaultSwitched)]))
    dark = conditions.surroundings.model_copy(update={"safelight": _DARK, "phone": _DARK})
    hands = hands_over(record, entries, conditions.slips, lights[0][1], lights[-1][2]) if lights else ()
    greys: dict[int, BlueGreen] = {}
    for step, on, off in lights:
        span = on - NS_PER_MS, off + AFTERGLOW_MS * NS_PER_MS
        fell = light_on(real, hands, span, conditions.lamp, dark)
        for dose in fell.doses:
            more = dose.light.times(scene.enlarger.light_factor)
            before = greys.get(step.number, _DARK)
            greys[step.number] = BlueGreen(blue=before.blue + more.blue, green=before.green + more.green)
    waits = [wait for step in record.plan.steps for wait in step.waits]
    surroundings = conditions.surroundings
    second = surroundings.safelight
    if waits and waits[0].glow == "phone":
        second = phone_second(page, waits[0].level, surroundings.phone)
    wrong_way = conditions.slips.card_way == "cover"
    fogs = tuple(second.times(seconds) for seconds in open_seconds(waits, wrong_way=wrong_way))
    return Exposed((greys.get(1, _DARK), greys.get(2, _DARK), _DARK), fogs)


def densities(light: Exposed, paper: PracticePaper, development: Development) -> tuple[Map, Map]:
    """Return the densities of the strips dry and wet, strips × quarters."""
    blue = np.array([[g.blue + f.blue for f in light.fogs] for g in light.greys], dtype=np.float32)
    green = np.array([[g.green + f.green for f in light.fogs] for g in light.greys], dtype=np.float32)
    return developed(blue, green, paper, development)


def fog_sheet(light: Exposed, scene: Scene, paper: PracticePaper, development: Development) -> Developed:
    """Return the three strips as they hang to dry, the notched ends below; each quarter is read."""
    dry, wet = densities(light, paper, development)
    small = replace(scene, paper_mm=(127.0, 127.0 * _height() / _width()))
    readings = tuple(
        ToneReading(f"strip-{strip + 1}-{minutes}", float(dry[strip, quarter]), float(wet[strip, quarter]))
        for strip in range(len(NOTCHES))
        for quarter, minutes in enumerate((7, 3, 1, 0))
    )
    return Developed(_drawn(dry), _drawn(wet), paper, small, readings)


def _width() -> int:
    return len(NOTCHES) * (_WIDE + _GAP) + _GAP


def _height() -> int:
    return QUARTERS * _HIGH + 2 * _GAP


def _drawn(strips: Map) -> Map:
    out = np.full((_height(), _width()), _TABLE, dtype=np.float32)
    for number, notches in enumerate(NOTCHES):
        box = _box(number)
        out[box.top : box.bottom, box.left : box.right] = np.repeat(strips[number], _HIGH)[:, None]
        for notch in range(notches):
            left = box.left + (notch + 1) * _WIDE // 4
            for row in range(_GAP // 2):
                out[box.bottom - 1 - row, left - (_GAP // 2 - row) // 2 : left + (_GAP // 2 - row) // 2] = _TABLE
    return out


def _box(number: int) -> PixelBox:
    left = _GAP + number * (_WIDE + _GAP)
    return PixelBox(left, _GAP, left + _WIDE, _GAP + QUARTERS * _HIGH)
