"""Trains of short lights against one long light: how lamp lag is found on paper."""

from __future__ import annotations

from fractions import Fraction

from controller.errors import Impossible
from controller.words import say


def lag_seconds(long_seconds: Fraction, pulses: int, each_seconds: Fraction) -> Fraction:
    """Return the full light one switching loses, where `pulses` of `each_seconds` match one long light.

    (n · each − long)/(n − 1), since both lose once and the train loses n − 1 times more (derived).

    Raises:
        Impossible: the train is shorter than the long light, which no lamp lag explains.
    """
    lost = pulses * each_seconds - long_seconds
    if lost < 0:
        raise Impossible(say("reckoning.lag-negative", train=float(pulses * each_seconds), long=float(long_seconds)))
    return lost / (pulses - 1)
