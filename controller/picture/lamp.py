"""The practice lamp's way of coming on and dying away, in blue and in green.

`hardware.practice.meter.LampModel` is first-order behind a relay; a filament gives its blue later and loses it sooner.
"""

from __future__ import annotations

from typing import Final, Literal

from controller.sheet import Frozen
from hardware.practice.meter import IDEAL, LampModel


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
