"""What the trays make of a sheet: how far the developer brings its blacks, and what light finds it before the fix.

The density that light has laid down grows as 1 − e^(−k·(t − t₀)) with the time t in the developer: nothing shows
before t₀, then fast, then ever slower (Sheppard and Mees, *Investigations on the Theory of the Photographic Process*,
1907: from memory). At any moment it has reached the same share everywhere on the sheet (Hurter and Driffield's law of
constant density ratios, 1890: from memory), so a sheet that was taken out early is thin in its blacks and slow.
k and t₀ are chosen so that a sheet of FB has its full black from 140 s on, none at 100 s, and fog of the developer
from 280 s (*Photography: Theory and Practice*, §556), and so that t₀ is a tenth of the usual time (a factor of 10,
usual for paper: common practice).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from controller.picture.doses import light_on
from controller.picture.light import BlueGreen, Lamp, Surroundings
from controller.trays.process import USUAL, Support
from hardware.clock import NS_PER_MS

if TYPE_CHECKING:
    from controller.picture.evidence import InTray, SheetLights
    from hardware.practice.log import Entry
    from hardware.practice.meter import Edge

Developer = Literal["fresh", "cold", "tired"]

APPEARS: Final = 0.1
"""Of the usual time: when the image first shows in a fresh developer."""
GROWTH: Final = 5.5
"""k, by the usual time."""
TIRED: Final = 0.5
"""How fast a tired developer works, against a fresh one (usual, from memory)."""
TIRED_BLACK: Final = 0.85
"""How much of the density it can bring at all (usual, from memory)."""
COLD: Final = 10.0
"""Degrees by which a cold developer is colder than the process has it."""
_TENFOLD: Final = 2.0
"""How much faster a developer works 10 degrees warmer (usual, from memory: 1.9 to 2.8 by the developing agent)."""
_CELSIUS: Final = 20.0
_FOG_FROM_S: Final = 240.0
_FOG_A_SECOND: Final = 0.001
_MOST_FOG: Final = 1.0
TRAY_SHARE: Final = 0.1
"""What a print in a tray gets of the light on the easel beside it (invented)."""
_FIXES: Final = ("fix", "fix 1")
_NONE: Final = BlueGreen(blue=0.0, green=0.0)


@dataclass(frozen=True, slots=True)
class Bath:
    """The practice darkroom's developer: how fast it works against a fresh one at 20 °C, and how far it goes."""

    rate: float = 1.0
    reaches: float = 1.0


def bath_of(developer: Developer, celsius: float | None = None) -> Bath:
    """Return the developer as it really is; `celsius` is what the process has it at, None: 20 °C."""
    warm = (_CELSIUS if celsius is None else celsius) - (COLD if developer == "cold" else 0.0)
    rate = _TENFOLD ** ((warm - _CELSIUS) / 10.0)
    return Bath(rate * TIRED, TIRED_BLACK) if developer == "tired" else Bath(rate)


@dataclass(frozen=True, slots=True)
class Development:
    """What the developer brought: a share of the density, and fog of its own over what is left clear."""

    share: float = 1.0
    fog: float = 0.0
    seconds: float | None = None
    """In the developer, by the process's clock; None where nobody followed it."""

    @property
    def full(self) -> bool:
        """Nothing is wanting, and nothing too much."""
        return self.share == 1.0 and not self.fog


FULL: Final = Development()


def appears_s(support: Support, bath: Bath) -> float:
    """Return after how many seconds in the developer the image first shows."""
    return APPEARS * USUAL[support].developer_seconds / bath.rate


def share_at(seconds: float, support: Support, bath: Bath) -> float:
    """Return the share of its density that a sheet has after so many seconds in the developer; 1 from the usual on."""
    worked = seconds * bath.rate / USUAL[support].developer_seconds
    grown = -math.expm1(-GROWTH * (worked - APPEARS)) / -math.expm1(-GROWTH * (1.0 - APPEARS))
    return bath.reaches * min(1.0, max(0.0, grown))


def development_for(seconds: float, support: Support, bath: Bath) -> Development:
    """Return what so many seconds in the developer bring a paper on this support."""
    fog = min(_MOST_FOG, max(0.0, seconds * bath.rate - _FOG_FROM_S) * _FOG_A_SECOND)
    return Development(share_at(seconds, support, bath), fog, seconds)


def development_of(trays: Sequence[InTray], support: Support, developer: Developer = "fresh") -> Development:
    """Return how a sheet was developed, by the trays it lay in; one that nobody followed, as it should be.

    `support` is that of the paper itself, whatever the process took it for. Where it was followed no further, the
    printer is taken to have gone on by the usual figures.
    """
    if not trays:
        return Development(bath_of(developer).reaches)
    lay = [each for each in trays if each.tray == "developer"]
    if not lay:
        way = {tray.name: tray.ms for tray in USUAL[trays[0].support].trays}
        return development_for(way["developer"] / 1000, support, bath_of(developer))
    more = _left_ms(lay[-1]) if lay[-1] is trays[-1] else 0
    seconds = (sum(each.lay_ms or 0 for each in lay) + more) / 1000
    return development_for(seconds, support, bath_of(developer, lay[-1].celsius))


def light_in_trays(
    sheet: SheetLights,
    edges: Sequence[Edge],
    hands: Sequence[Entry],
    lamp: Lamp,
    surroundings: Surroundings,
) -> BlueGreen:
    """Return what fell on a sheet between its closing and the fix, which ends it.

    Safelight by the process's clock, which a practice darkroom may hurry; whatever was lit meanwhile as it was lit.
    A print that was said to be in no tray, and was, lay under the white page that was asked for, until its fix.

    Raises:
        Impossible: as `light_on`.
    """
    trays = sheet.trays
    if sheet.closed is None or not trays:
        return _NONE
    fix = next((at for at, each in enumerate(trays) if each.tray in _FIXES), None)
    before = trays[:fix]
    left_ms = _left_ms(trays[-1]) + _rest_ms(trays[-1]) if fix is None else 0
    last = trays[-1] if fix is None else trays[fix]
    end = last.in_ns + ((last.lay_ms or 0) + left_ms) * NS_PER_MS if fix is None else last.in_ns
    span = sheet.closed.at_ns, max(end, sheet.closed.at_ns)
    seen = light_on(edges, hands, span, lamp, surroundings.model_copy(update={"safelight": _NONE}))
    dark_ms = sum(each.lay_ms or 0 for each in before) + left_ms
    page_ms = left_ms if last.ended else 0
    near = [dose.light.times(TRAY_SHARE) for dose in seen.doses]
    glows = surroundings.safelight.times(dark_ms / 1000), surroundings.phone.times(page_ms / 1000)
    fell = [seen.fog, *near, *glows]
    return BlueGreen(blue=sum(each.blue for each in fell), green=sum(each.green for each in fell))


def _left_ms(each: InTray) -> int:
    """Return how much longer it lies in a tray that it was followed no further than, by the usual figures."""
    way = {tray.name: tray.ms for tray in USUAL[each.support].trays}
    return max(0, way.get(each.tray, 0) - (each.lay_ms or 0))


def _rest_ms(last: InTray) -> int:
    """Return how long it is, after this tray, to the fix."""
    process = USUAL[last.support]
    names = [tray.name for tray in process.trays]
    after = names.index(last.tray) + 1 if last.tray in names else process.first_fix
    return sum(tray.ms for tray in process.trays[after : process.first_fix])
