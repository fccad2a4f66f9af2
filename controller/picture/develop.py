"""The whole way: a sheet's record and the practice log in, the developed sheet out.

Importing this module loads numpy.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, get_args

import numpy as np

from controller.errors import Impossible
from controller.model import Frozen
from controller.picture.densitometer import PixelBox, ToneReading, read_tones
from controller.picture.doses import Carrier, SheetExposure, Way, light_on, with_flash, with_focus, with_fog
from controller.picture.evidence import SheetLights, edges_of, lights_of
from controller.picture.hands import Slips, hands_over
from controller.picture.in_the_trays import FULL, Developer, Development, development_of, light_in_trays
from controller.picture.light import Lamp, Surroundings
from controller.picture.masks import band_ends, left_over
from controller.picture.practice_papers import PracticePaper
from controller.picture.raster import Raster, raster
from controller.picture.scene import Scene
from controller.picture.tray import developed, png_of
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.practice.log import Entry, FaultSwitched, PaperMoved
from hardware.practice.meter import Edge, shining

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Print = NDArray[np.float32]


class Conditions(Frozen):
    """What a practice evening is like: the lamp, other light, and what the hands get wrong where the log is silent."""

    lamp: Lamp = Lamp()
    surroundings: Surroundings = Surroundings()
    slips: Slips = Slips()
    developer: Developer = "fresh"
    exponent: float = 1.0
    """Of the paper, where it fails in long light."""


@dataclass(frozen=True, eq=False)
class Developed:
    """A sheet out of the tray: print densities for each pixel, wet and dry, and what was read off it."""

    dry: Print
    """Height × width."""
    wet: Print
    paper: PracticePaper
    scene: Scene
    readings: tuple[ToneReading, ...]
    bands: tuple[PixelBox, ...] = ()
    """Where a strip's bands lie on the picture, band 1 first."""

    def density(self, tone: str, band: int | None = None) -> float:
        """Return what was read of a tone, in one band of a strip or of the whole sheet.

        Raises:
            KeyError: the tone does not come there.
        """
        for reading in self.readings:
            if reading.tone == tone and reading.band == band:
                return reading.density
        raise KeyError(tone if band is None else f"{tone} in band {band}")

    def png(self, *, wet: bool = False, every: int = 1) -> bytes:
        """Return it as a grey PNG in true print densities (see `controller.picture.tray`), of every so manyth pixel."""
        return png_of((self.wet if wet else self.dry)[::every, ::every], self.scene.paper_mm[0])


def develop_sheet(
    record: SheetLights,
    room_log: Iterable[Entry],
    scene: Scene,
    paper: PracticePaper,
    conditions: Conditions | None = None,
    *,
    edges: Iterable[Edge] | None = None,
) -> Developed:
    """Return the developed sheet of a record that was closed.

    `room_log` is the practice darkroom's log, `edges` what its lamp lines did (its `log()` and `edges()`);
    where those do not reach back to the sheet, its lights are those of the record, which the keeper told. Any light
    counts that came while the paper lay on the easel: from its first light, or from when the log has it come out,
    until the sheet was closed; and what found it in the trays before the fix, where its way through them is known.
    By how long it lay in the developer its blacks are full, or thin.

    Raises:
        Impossible: the sheet is not closed yet, was only flashed beforehand, or a filter is not one that the practice
            darkroom has.
    """
    entries = tuple(sorted(room_log, key=lambda entry: entry.at_ns))
    room = conditions or Conditions()
    development = development_of(record.trays, paper.support, room.developer)
    return develop_light(sheet_light(record, entries, room, edges), record, scene, paper, development)


def sheet_light(
    record: SheetLights, entries: tuple[Entry, ...], conditions: Conditions, edges: Iterable[Edge] | None = None
) -> SheetExposure:
    """Return the light that fell on a closed sheet; see `develop_sheet`."""
    lights = lights_of(record)
    if record.plan.flashes_sheets:
        raise Impossible(say("picture.only-flashed", sheet=record.number))
    if record.closed is None or not lights:
        raise Impossible(say("picture.not-closed", sheet=record.number))
    first_on, end = lights[0][1], record.closed.at_ns
    start = _came_out(entries, first_on)
    hands = hands_over(record, entries, conditions.slips, start, end)
    faults = [entry for entry in entries if isinstance(entry, FaultSwitched)]
    lines = tuple(sorted(edges or ()))
    if not any(first_on <= edge.at_ns <= end for edge in lines):
        lines = edges_of(record)
    real = tuple(shining(lines, faults))
    slips, surroundings = conditions.slips, conditions.surroundings
    light = light_on(real, hands, (start, end), conditions.lamp, surroundings, conditions.exponent)
    if (flashed := record.plan.flashed) is not None:
        seconds = flashed.planned_ms / 1000
        light = with_flash(light, flashed.filter, seconds, opal=flashed.opal, exponent=conditions.exponent)
    if slips.safelight_ms:
        light = with_fog(light, surroundings.safelight.times(slips.safelight_ms / 1000))
    if record.trays:
        light = with_fog(light, light_in_trays(record, real, entries, conditions.lamp, surroundings))
    return with_focus(light, slips.focus_ms / 1000) if slips.focus_ms else light


def _came_out(entries: tuple[Entry, ...], first_on: int) -> int:
    """Return when the paper came onto the easel: as logged before its first light, else a moment before that."""
    moves = [entry for entry in entries if isinstance(entry, PaperMoved) and entry.at_ns <= first_on]
    return moves[-1].at_ns if moves and moves[-1].out else first_on - NS_PER_MS


def develop_light(
    light: SheetExposure,
    record: SheetLights,
    scene: Scene,
    paper: PracticePaper,
    development: Development = FULL,
) -> Developed:
    """Return what light makes of a sheet in the tray; the record says where its bands are."""
    strip = record.plan.strip
    bands = len(strip.totals_ms) if strip else 0
    at = raster(scene)
    blue, green = _fallen(light, scene, at, bands)
    dry, wet = developed(blue, green, paper, development)
    boxes = _boxes(scene, at, bands) if bands else ()
    return Developed(dry, wet, paper, scene, read_tones(dry, wet, scene, at, boxes), boxes)


def _fallen(light: SheetExposure, scene: Scene, at: Raster, bands: int) -> tuple[Print, Print]:
    """Return the units of blue and green on each pixel: one product a carrier, whatever the number of lights."""
    factor = scene.enlarger.light_factor
    blue = np.full(scene.shape, light.fog.blue, dtype=np.float32)
    green = np.full(scene.shape, light.fog.green, dtype=np.float32)
    for carrier in get_args(Carrier):
        doses = [dose for dose in light.doses if dose.way.carrier == carrier]
        if not doses:
            continue
        through = at.through(carrier)
        # lights that nothing stood in the way of are one number, summed in float64
        bare = [dose.light for dose in doses if dose.way == Way(dose.way.carrier)]
        of_blue: Print | np.float32 = np.float32(factor * sum(each.blue for each in bare))
        of_green: Print | np.float32 = np.float32(factor * sum(each.green for each in bare))
        for dose in doses:
            if dose.way != Way(dose.way.carrier):
                left = left_over(dose.way, scene, at, bands)
                of_blue = of_blue + left * np.float32(factor * dose.light.blue)
                of_green = of_green + left * np.float32(factor * dose.light.green)
        blue += through * of_blue
        green += through * of_green
    return blue, green


def _boxes(scene: Scene, at: Raster, bands: int) -> tuple[PixelBox, ...]:
    left, top, right, bottom = (round(edge) for edge in at.open_box)
    ends = [round(end) for end in band_ends(scene, at, bands)]
    if scene.upright:
        return tuple(PixelBox(left, one, right, two) for one, two in pairwise(ends))
    return tuple(PixelBox(one, top, two, bottom) for one, two in pairwise(ends))
