"""The whole way: a sheet's record and the practice log in, the developed sheet out.

Importing this module loads numpy.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.errors import Impossible
from controller.picture.doses import Light, light_on, with_focus
from controller.picture.evidence import NS, SheetLights, edges_of, lights_of
from controller.picture.hands import Slips, hands_over
from controller.picture.lamp import Lamp
from controller.picture.papers import PracticePaper
from controller.picture.scene import Scene
from controller.picture.surroundings import Surroundings
from controller.sheet import Frozen
from controller.words import say
from hardware.practice.log import Entry, FaultSwitched, PaperMoved
from hardware.practice.meter import Edge, shining

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Print = NDArray[np.float32]


class Conditions(Frozen):
    """What a practice evening is like: the lamp, other light, and what the hands get wrong where the log is silent."""

    lamp: Lamp = Lamp()
    surroundings: Surroundings = Surroundings()
    slips: Slips = Slips()


@dataclass(frozen=True, slots=True)
class PixelBox:
    """A box of the picture in pixels, right and bottom not included."""

    left: int
    top: int
    right: int
    bottom: int


@dataclass(frozen=True, slots=True)
class ToneReading:
    """What a densitometer says on the print where a named tone of the negative came; `band` of a strip, from 1."""

    tone: str
    density: float
    wet: float
    band: int | None = None


@dataclass(frozen=True, eq=False)
class Developed:
    """A sheet out of the tray: print densities for each pixel, wet and dry, and what was read off it."""

    dry: Print
    """Height × width."""
    wet: Print
    paper: PracticePaper
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

    def png(self, *, wet: bool = False) -> bytes:
        """Return it as a grey PNG in true print densities (see `controller.picture.image`)."""
        raise NotImplementedError


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

    `room_log` is the practice darkroom's log, `edges` what its lamp lines did (`PracticeRoom.log()` and `.edges()`);
    without edges the lights are those of the record, which the keeper told. Any light counts that came while the
    paper lay on the easel: from its first light, or from when the log has it come out, until the sheet was closed.

    Raises:
        Impossible: the sheet is not closed yet, or a filter is not one that the practice darkroom has.
    """
    entries = tuple(sorted(room_log, key=lambda entry: entry.at_ns))
    return develop_light(sheet_light(record, entries, conditions or Conditions(), edges), record, scene, paper)


def sheet_light(
    record: SheetLights, entries: tuple[Entry, ...], conditions: Conditions, edges: Iterable[Edge] | None = None
) -> Light:
    """Return the light that fell on a closed sheet; see `develop_sheet`."""
    lights = lights_of(record)
    if record.closed is None or not lights:
        raise Impossible(say("picture.not-closed", sheet=record.number))
    first_on, end = lights[0][1], record.closed.at_ns
    start = _came_out(entries, first_on)
    hands = hands_over(record, entries, conditions.slips, start, end)
    faults = [entry for entry in entries if isinstance(entry, FaultSwitched)]
    lines = edges_of(record) if edges is None else tuple(sorted(edges))
    real = tuple(shining(lines, faults))
    light = light_on(real, hands, (start, end), conditions.lamp, conditions.surroundings)
    return with_focus(light, conditions.slips.focus_ms / 1000) if conditions.slips.focus_ms else light


def _came_out(entries: tuple[Entry, ...], first_on: int) -> int:
    """Return when the paper came onto the easel: as logged before its first light, else a moment before that."""
    moves = [entry for entry in entries if isinstance(entry, PaperMoved) and entry.at_ns <= first_on]
    return moves[-1].at_ns if moves and moves[-1].out else first_on - NS


def develop_light(light: Light, record: SheetLights, scene: Scene, paper: PracticePaper) -> Developed:
    """Return what light makes of a sheet in the tray; the record says where its bands are."""
    raise NotImplementedError
