"""Light that does not come through the enlarger: safelight, room light, a phone, what leaks out of the lamphouse."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.picture.filters import BlueGreen
from controller.sheet import Frozen

Source = Literal["safelight", "room light", "phone"]


class Surroundings(Frozen):
    """What each source gives the paper in a second, over the whole sheet, under the easel's blades too.

    The safelight of the practice darkroom is safe for 7 minutes by the test with pre-exposed paper; one that
    gives ten times as much is not.
    """

    safelight: BlueGreen = BlueGreen(blue=0.0, green=4e-5)
    room_light: BlueGreen = BlueGreen(blue=2.0, green=6.0)
    phone: BlueGreen = BlueGreen(blue=0.004, green=0.02)
    phone_lies_lit: bool = False
    """From before the sheet, until the log says otherwise."""
    stray_share: float = Field(default=0.0, ge=0.0, le=1.0)
    """Of the unfiltered lamp's light: what leaks from the lamphouse and comes back from the walls."""

    def second_of(self, source: Source) -> BlueGreen:
        """Return what a second of one source gives."""
        match source:
            case "safelight":
                return self.safelight
            case "room light":
                return self.room_light
            case "phone":
                return self.phone
