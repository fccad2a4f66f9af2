"""The practice darkroom's fault switches: what may be broken, and which of it is broken now.

The switches are bytes of a small file mapped into memory, so that a line may look at one as often as it likes.
"""

from __future__ import annotations

import mmap
import os
from enum import StrEnum
from pathlib import Path
from typing import Final

from hardware.errors import LineError


class PracticeFault(StrEnum):
    """A named fault; new ones go to the end, since the file knows them by their place."""

    BULB_DEAD = "bulb_dead"
    """The line is driven as ever and no light comes."""
    RELAY_WELDED = "relay_welded"
    """The line says dark, and light that has come on stays."""
    DROPS_WHEN_OWNER_DIES = "drops_when_owner_dies"
    """An output falls back with its owner; without this it keeps its level, as a Pi's does."""
    LAMP_LINE_FAILS = "lamp_line_fails"
    """Driving the lamp line raises an error and changes nothing."""
    LAMP_LINE_SLOW = "lamp_line_slow"
    """Driving the lamp line takes 1.5 s: whoever drives it hangs that long."""
    CONTACT_CHATTERS = "contact_chatters"
    """While closed, the foot contact opens for 2 of every 5 ms, as a wet one may."""
    CONTACT_STUCK = "contact_stuck"
    """The foot contact is closed, whatever the foot does."""
    PEDAL_WIRE_BROKEN = "pedal_wire_broken"
    """The foot contact is open, whatever the foot does."""
    KEEPER_HANGS = "keeper_hangs"
    """Reading the foot contact takes as long as the switch is on."""
    NO_SOUNDER = "no_sounder"
    """A keeper that starts finds no sounder."""
    SENSOR_GONE = "sensor_gone"
    """The light sensor does not answer."""
    REST_WIRE_BROKEN = "rest_wire_broken"
    """The changeover foot switch's line that is closed at rest is open, whatever the foot does."""
    OUTLET_FAILS = "outlet_fails"
    """Driving any outlet beside the lamp raises an error and changes nothing."""
    LENS_OPEN = "lens_open"
    """The lens stands three stops more open than it should."""
    FILTER_LEFT_IN = "filter_left_in"
    """The filter that is in the drawer stays there, whichever is put in."""
    MAINS_SAG = "mains_sag"
    """The mains are 5 % low."""


_SIZE: Final = 64
_PLACE: Final = {fault: place for place, fault in enumerate(PracticeFault)}


class Faults:
    """The switches of one practice darkroom."""

    def __init__(self, runtime: Path) -> None:
        """Open the switches in `runtime`, all off where there were none.

        Raises:
            LineError: the file cannot be made.
        """
        path = runtime / "faults"
        try:
            self._fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            if os.fstat(self._fd).st_size < _SIZE:
                os.ftruncate(self._fd, _SIZE)
            self._map = mmap.mmap(self._fd, _SIZE)
        except OSError as problem:
            raise LineError(
                f"the practice fault switches {path} cannot be opened ({problem}): make the folder writable"
            ) from problem

    def on(self, fault: PracticeFault) -> bool:
        """Tell whether the fault is switched on."""
        return self._map[_PLACE[fault]] != 0

    def switch(self, fault: PracticeFault, on: bool) -> None:
        """Switch the fault on or off."""
        self._map[_PLACE[fault]] = 1 if on else 0

    def all_on(self) -> frozenset[PracticeFault]:
        """Return the faults that are on."""
        return frozenset(fault for fault in PracticeFault if self.on(fault))

    def close(self) -> None:
        """Let the file go; closing twice does nothing."""
        if self._fd >= 0:
            self._map.close()
            os.close(self._fd)
            self._fd = -1
