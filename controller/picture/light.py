"""What the practice enlarger's lamp gives the paper through each filter, in blue and in green.

A unit of blue light brings every emulsion of paper one half way, a unit of green its green-sensitive one. The light
is that at magnification 2 and f/8, without a negative. Source: invented demo figures for soft, hard and 2; those of
the other filters lie between them, so that R falls from each to the next.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.words import say
from hardware.practice.meter import IDEAL, LampModel


class BlueGreen(Frozen):
    """Light in the two colours that variable-contrast paper sees."""

    blue: float
    green: float

    def times(self, factor: float) -> BlueGreen:
        """Return so many times the light."""
        return BlueGreen(blue=self.blue * factor, green=self.green * factor)


WHITE: Final = BlueGreen(blue=0.2, green=1.3)
"""A second of the lamp without a filter."""
LADDER: Final[tuple[tuple[float, BlueGreen], ...]] = (
    (-1.0, BlueGreen(blue=0.012648, green=1.054)),
    (0.0, BlueGreen(blue=0.034, green=0.97)),
    (1.0, BlueGreen(blue=0.068, green=0.87)),
    (2.0, BlueGreen(blue=0.111, green=0.74)),
    (3.0, BlueGreen(blue=0.132, green=0.38)),
    (4.0, BlueGreen(blue=0.148, green=0.11)),
    (5.0, BlueGreen(blue=0.161, green=0.000322)),
)
"""A second through each filter by its number; 00 counts as −1."""
NAMES: Final = {"": None, "none": None, "soft": -1.0, "00": -1.0, "hard": 5.0}


def second_through(name: str) -> BlueGreen:
    """Return what a second of full light gives through the filter `name`: soft, hard, 00 to 5, or empty for none.

    Raises:
        Impossible: the practice darkroom has no such filter; the sentence says which it has.
    """
    number = NAMES.get(name, math.nan)
    if number is None:
        return WHITE
    if math.isnan(number):
        number = _number(name)
    for (below, one), (above, two) in pairwise(LADDER):
        if below <= number <= above:
            share = (number - below) / (above - below)
            return BlueGreen(blue=_between(one.blue, two.blue, share), green=_between(one.green, two.green, share))
    raise Impossible(say("picture.filter-unknown", filter=name))


def _number(name: str) -> float:
    try:
        number = float(name)
    except ValueError:
        raise Impossible(say("picture.filter-unknown", filter=name)) from None
    if not 0.0 <= number <= 5.0:
        raise Impossible(say("picture.filter-unknown", filter=name))
    return number


def _between(one: float, two: float, share: float) -> float:
    # filters add densities, so what lies between two is their geometric mean
    return math.exp((1.0 - share) * math.log(one) + share * math.log(two))


class Lamp(Frozen):
    """How the lamp answers its line, colour by colour."""

    blue: LampModel = IDEAL
    green: LampModel = IDEAL


LampName = Literal["ideal", "tungsten", "slow"]

LAMPS: Final[dict[LampName, Lamp]] = {
    "ideal": Lamp(),
    "tungsten": Lamp(
        blue=LampModel(lag_ms=8.0, tau_up_ms=58.0, tau_down_ms=5.0, operate_ms=10.0, release_ms=5.0),
        green=LampModel(lag_ms=7.0, tau_up_ms=56.5, tau_down_ms=6.5, operate_ms=10.0, release_ms=5.0),
    ),
    "slow": Lamp(
        blue=LampModel(lag_ms=30.0, tau_up_ms=120.0, tau_down_ms=20.0, operate_ms=10.0, release_ms=5.0),
        green=LampModel(lag_ms=25.0, tau_up_ms=115.0, tau_down_ms=25.0, operate_ms=10.0, release_ms=5.0),
    ),
}
"""Ideal; a 100 W filament (rise 0.0565 s, net loss 0.06 to 0.07 s a switching, more in blue: second-hand and
derived); an old slow lamp (0.1 to 0.3 s: common practice), which loses 0.12 to 0.14 s."""


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
