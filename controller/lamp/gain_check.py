"""A sensor's own gains, measured in one steady light: each counts in turn, up and down again, and then in the dark.

Up and down, so that a lamp that slowly grows weaker or stronger weighs on none of them. A step from one gain to the
next is known where both counted enough and neither was dazzled; which steps that are, the light decides. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import fmean, stdev
from typing import Final

from controller.errors import Impossible
from controller.store.levels import GainRatio, GainsMeasured
from controller.words import say
from hardware.light_sensor import GAINS, Gain, Reading

RISE_NS: Final = 1_000_000_000
"""A lamp is up by then."""
EACH_NS: Final = 1_200_000_000
"""So long each gain counts in the light, seven times in all."""
IN_THE_DARK_NS: Final = 1_000_000_000
GLOW_NS: Final = 900_000_000
"""A lamp's glow is over by then, and the dark is counted."""
WEIGHED_NS: Final = GLOW_NS + len(GAINS) * IN_THE_DARK_NS + 300_000_000
"""After the dark; all is counted by then."""
UP_AND_DOWN: Final[tuple[Gain, ...]] = (*GAINS, *reversed(GAINS[:-1]))
LEAST_COUNTS: Final = 400.0
"""A second, as of a spot."""
MOST_UNCERTAIN: Final = 0.02
MOST_DRIFT: Final = 0.01
"""Density between the two times that a gain counted."""


def gain_at(on_ns: int, dark_ns: int | None, at_ns: int) -> Gain:
    """Return the gain that counts at a time within the check's light, or in the dark after it."""
    if dark_ns is None or at_ns < dark_ns:
        turn = (at_ns - on_ns - RISE_NS) // EACH_NS
        return UP_AND_DOWN[max(0, min(turn, len(UP_AND_DOWN) - 1))]
    turn = (at_ns - dark_ns - GLOW_NS) // IN_THE_DARK_NS
    return GAINS[max(0, min(turn, len(GAINS) - 1))]


@dataclass(frozen=True, slots=True)
class _Level:
    """What a gain counts a second of a light, and its standard deviation; none where it was dazzled or too weak."""

    rate: float = 0.0
    spread: float = 0.0
    dazzled: bool = False

    @property
    def known(self) -> bool:
        return not self.dazzled and self.rate >= LEAST_COUNTS


def ratios(readings: Sequence[Reading], on_ns: int, dark_ns: int) -> tuple[GainRatio, ...]:
    """Return the steps between neighbouring gains that a check's light tells.

    A ratio's variance is that of both levels, each as its own counts and those of the dark scatter (first order).

    Raises:
        Impossible: the light tells none; or it was not steady. The sentence says what to do.
    """
    lit = [each for each in readings if each.start_ns >= on_ns + RISE_NS and each.end_ns <= dark_ns]
    dark = [each for each in readings if dark_ns + GLOW_NS <= each.start_ns <= dark_ns + WEIGHED_NS]
    runs: dict[str, list[list[Reading]]] = {gain: [] for gain in GAINS}
    for gain, run in groupby(lit, key=lambda each: each.gain):
        if gain:
            runs[gain].append(list(run)[1:])  # its first cycle may have begun with another
    levels = {gain: _level(runs[gain], [each for each in dark if each.gain == gain][1:]) for gain in GAINS}
    found = []
    for low, high in pairwise(GAINS):
        weak, strong = levels[low], levels[high]
        if weak.known and strong.known:
            uncertain = math.hypot(weak.spread / weak.rate, strong.spread / strong.rate)
            if uncertain <= MOST_UNCERTAIN and strong.rate > weak.rate:
                step: dict[str, object] = {"low": low, "ratio": strong.rate / weak.rate, "uncertain": uncertain}
                found.append(GainRatio.model_validate(step))
    if not found:
        much = levels["medium"].dazzled or levels["low"].dazzled
        raise Impossible(say("lamp.gains-much" if much else "lamp.gains-little"))
    return tuple(found)


def _level(runs: Sequence[Sequence[Reading]], dark: Sequence[Reading]) -> _Level:
    cycles = [each for run in runs for each in run]
    if any(each.full for each in cycles):
        return _Level(dazzled=True)
    if len(cycles) < 2 or len(dark) < 2:
        return _Level()
    rates, black = [_rate(each) for each in cycles], [_rate(each) for each in dark]
    level = fmean(rates) - fmean(black)
    passes = [fmean(_rate(each) for each in run) - fmean(black) for run in runs if run]
    spread = math.hypot(stdev(rates) / math.sqrt(len(rates)), stdev(black) / math.sqrt(len(black)))
    if level >= LEAST_COUNTS and len(passes) > 1 and min(passes) > 0.0:
        drift = abs(math.log10(passes[0] / passes[-1]))
        if drift > MOST_DRIFT + 3.0 * spread / level / math.log(10.0):
            raise Impossible(say("lamp.gains-unsteady", off=f"{drift:.2f}"))
    return _Level(level, spread)


def _rate(reading: Reading) -> float:
    return reading.light * 1e9 / (reading.end_ns - reading.start_ns)


def measured(seen: Sequence[Reading], on_ns: int, dark_ns: int, sensor: str) -> GainsMeasured:
    """Return the row of a check of the gains; raises as `ratios`."""
    return GainsMeasured(sensor=sensor.split(" ")[0], ratios=ratios(seen, on_ns, dark_ns))


def in_words(rows: Iterable[GainRatio]) -> str:
    """Return ratios as a sentence's list: "medium → high ×16.9 ± 0.2 %"."""
    return ", ".join(
        say(
            "lamp.gain-step",
            low=each.low,
            high=GAINS[GAINS.index(each.low) + 1],
            ratio=f"{each.ratio:.2f}",
            off=f"{100.0 * each.uncertain:.1f}",
        )
        for each in rows
    )


class GainTurn:
    """Which gain counts while a check of the gains goes on. Not safe from threads: its owner locks."""

    def __init__(self) -> None:
        self._on_ns: int | None = None
        self._dark_ns: int | None = None

    def light_on(self, on_ns: int) -> None:
        """Its light has come."""
        self._on_ns, self._dark_ns = on_ns, None

    def light_over(self, dark_ns: int) -> None:
        """Its light has gone."""
        self._dark_ns = dark_ns

    def wanted(self, at_ns: int) -> Gain | None:
        """Return the gain that counts now; None where no check goes on."""
        if self._on_ns is None:
            return None
        if self._dark_ns is not None and at_ns > self._dark_ns + WEIGHED_NS:
            self._on_ns = None
            return None
        return gain_at(self._on_ns, self._dark_ns, at_ns)
