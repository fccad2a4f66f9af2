"""Whether a relay's contacts are strong enough for a lamp, by the ten-times rule.

A cold tungsten filament draws 10 to 15 times its steady current. So ten times the steady current must be below the
contacts' resistive rating. Source: Omron, *Load types and ratings* (seen).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

TIMES: Final = 10


def steady_amps(watts: Fraction, volts: Fraction) -> Fraction:
    """Return the current of a lamp that is warm: watts/volts."""
    return watts / volts


def reckoned_amps(watts: Fraction, volts: Fraction) -> Fraction:
    """Return the current to choose contacts by: ten times the steady one."""
    return TIMES * steady_amps(watts, volts)


def strong_enough(watts: Fraction, volts: Fraction, contact_amps: Fraction) -> bool:
    """Tell whether contacts of this resistive rating may switch the lamp; at the limit they may not."""
    return reckoned_amps(watts, volts) < contact_amps
