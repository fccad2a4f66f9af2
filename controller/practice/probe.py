"""The light sensor as a probe on the practice baseboard: it counts what the same optics throw there as on the paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from controller.errors import ControllerError, Impossible
from controller.picture.doses import carrier_of
from controller.picture.light import BlueGreen, second_through
from controller.picture.scene import raised_mm
from controller.practice.board import board_of
from controller.trials.alignment import Lens, sharp_mm
from controller.words import say
from hardware.practice.log import GlowSwitched
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.practice.sensor import SAFELIGHT_PER_S, Laid

if TYPE_CHECKING:
    from controller.picture.doses import Carrier
    from controller.picture.scene import Scene
    from controller.practice.in_carrier import InCarrier, Standing
    from controller.practice.prints import PracticePrints

COUNTS: Final = 45_200.0
"""Counts a second at gain high for a unit of blue and green light a second (invented): some 48,000 through soft."""
PHONE_PER_S: Final = 4_000.0
"""Of a phone that lies lit beside the easel: enough for a reading to be refused."""
HOLE_MM: Final = 4.0


def sharp_at(scene: Scene, place: tuple[float, float]) -> float:
    """Return how many mm above the easel a grain focuser is sharp that stands there, with the middle focused."""
    stand = scene.enlarger
    return sharp_mm(raised_mm(scene, *place), Lens(stand.focal_mm, stand.magnification, stand.aperture))


class PracticeProbe:
    """Safe from any thread: the room lives in files. `standing` tells what stands at the enlarger."""

    def __init__(self, room: PracticeDarkroom, prints: PracticePrints, standing: Callable[[], Standing | None]) -> None:
        self._room, self._prints, self._standing = room, prints, standing
        self._known: tuple[object, float] | None = None

    def laid(self) -> Laid | None:
        """Return what full lamp light brings to the probe where it lies; None where it is beside the easel.

        Without the libraries for pictures it lies under the empty carrier's light, wherever it is.
        """
        place = self._room.probe()
        if place is None:
            return None
        log = self._room.log()
        board = board_of(log)
        passed: float = 1.0
        try:
            lies = self._prints.negative_of(None, self._standing())
            passed = self._share(lies, carrier_of(board.negative, opal=board.opal), place)
            light = second_through(self._room.filter() or "")
        except ControllerError:
            light = BlueGreen(blue=0.0, green=1.0)
        phone = next(
            (each.on for each in reversed(log) if isinstance(each, GlowSwitched) and each.source == "phone"), False
        )
        stray = (SAFELIGHT_PER_S if self._room.safelight() else 0.0) + (PHONE_PER_S if phone else 0.0)
        return Laid(COUNTS * passed * (light.blue + light.green), stray)

    def _share(self, lies: InCarrier, carrier: Carrier, place: tuple[float, float]) -> float:
        """Return the share of the lamp's light there; raises `Impossible` without the libraries or the picture."""
        try:
            from controller.picture.raster import light_at
        except ImportError:
            raise Impossible(say("picture.libraries")) from None
        key = (lies, carrier, place, self._prints.scene())
        known = self._known
        if known is None or known[0] != key:
            known = (key, light_at(self._prints.scene_lying(lies), carrier, *place, HOLE_MM))
            self._known = known
        return known[1]
