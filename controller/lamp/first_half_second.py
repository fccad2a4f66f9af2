"""Is this the light it should be? Judged on one cycle of the sensor, between 0.3 and 0.5 s after a light came on. Pure.

Levels are compared as ratios, so that their unit does not matter; only those of one sensor at one gain compare.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median
from typing import Final, Literal

from controller.foot.events import TOO_MUCH_STOPS
from controller.lamp.measure import RISE_NS, Span, dark_level
from controller.store.levels import LevelKey
from hardware.clock import NS_PER_MS
from hardware.light_sensor import Reading

FROM_NS: Final = 300 * NS_PER_MS
BY_NS: Final = 520 * NS_PER_MS
"""A sensor's cycle of 100 ms may last a little longer by its own clock: two begun in a row always leave one in here."""
WEAK_STOPS: Final = -0.5
"""From here down a light is weak; a lamp that ages is told of by its check long before (common practice)."""
SHADED_STOPS: Final = -1.5
"""And below this it is no lamp's weakness: a card or a dodger is before the sensor."""
LEAST_COUNTS: Final = 200
"""Photons come by chance, the root of their number either way (shot noise): of 200, half a stop is four times that."""
NEAR_STOPS: Final = 0.25
"""So close to another filter's level a light is taken to come through that one."""
APART_STOPS: Final = 0.5
"""Filters whose levels lie closer together are not told apart."""
GOOD_STOPS: Final = 0.5
ALIKE_STOPS: Final = 1 / 6
KEPT_LEVELS: Final = 5
KEPT_KEYS: Final = 200
STRAYS: Final = 3
"""So many lights in a row that agree with each other, and not with what was good before, are what is good now."""

Found = Literal["good", "unwatched", "open", "filter", "dazzled", "weak"]
Rise = Sequence[tuple[int, float]]
"""How a lamp comes up: (ms after its line was lit, share of its level), in order."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a light is found to be; `stops` over the last good level, where both are known."""

    found: Found
    stops: float | None = None
    filter: str = ""
    """The one that it looks like, where that is another than the step's."""


def first_cycle(readings: Sequence[Reading], on_ns: int) -> Reading | None:
    """Return the first cycle that lies wholly in the time of judgement of a light that came on at `on_ns`."""
    return next((r for r in readings if r.start_ns >= on_ns + FROM_NS and r.end_ns <= on_ns + BY_NS), None)


def share_at(rise: Rise, cycle: Reading, on_ns: int) -> float:
    """Return which share of its level a lamp has in a cycle, as its check has taught; 1 where none has.

    Between two known moments by a straight line; after the last it is up.
    """
    at_ms = (cycle.start_ns + cycle.end_ns - 2 * on_ns) / (2 * NS_PER_MS)
    if not rise or at_ms > rise[-1][0]:
        return 1.0
    if at_ms <= rise[0][0]:
        return rise[0][1]
    for (one_ms, one), (two_ms, two) in pairwise(rise):
        if one_ms <= at_ms <= two_ms:
            return one + (two - one) * (at_ms - one_ms) / max(1, two_ms - one_ms)
    return 1.0


def rate(cycle: Reading, dark: float) -> float:
    """Return a cycle's light in counts a second, the dark taken off."""
    return (cycle.light - dark) * 1e9 / (cycle.end_ns - cycle.start_ns)


def judge(
    level: float,
    good: float | None,
    others: Mapping[str, float],
    *,
    dazzled: bool = False,
    counts: float = math.inf,
) -> Verdict:
    """Return what a light of this level is.

    Args:
        level: in counts a second, the dark and the lamp's coming up taken off; of no account where `dazzled`.
        good: the last good level of this negative, carrier, filter, f-number and height; None where none is known.
        others: those of the other filters, by filter, all else being the same.
        dazzled: the sensor was full.
        counts: how many the good level would have brought in this cycle: of too few, chance makes a weak light.
    """
    if good is None:
        return Verdict("unwatched")
    if dazzled:
        return Verdict("dazzled")
    if level <= 0:
        return Verdict("good")  # that no light comes is the lookout's to say
    stops = math.log2(level / good)
    ratios = {name: math.log2(other / good) for name, other in others.items()}
    near = [
        (abs(stops - ratio), name)
        for name, ratio in ratios.items()
        if abs(ratio) >= APART_STOPS and abs(stops - ratio) <= NEAR_STOPS
    ]
    if near:
        return Verdict("filter", stops, min(near)[1])
    if stops > TOO_MUCH_STOPS:
        return Verdict("open", stops)
    weak = SHADED_STOPS <= round(stops, 9) <= WEAK_STOPS and counts >= LEAST_COUNTS
    return Verdict("weak" if weak else "good", stops)


def level_of(readings: Sequence[Reading], span: Span, rise: Rise, *, bare_until_ns: int | None) -> float | None:
    """Return a light's level in counts a second, the dark taken off; None where the sensor was not looking, or dazzled.

    Of a light into which no hand comes until `bare_until_ns` it is the mean over that time, from when the lamp is up
    where it lasts so long. Of any other (None) it is the middle of the strongest third: what the least stood before.
    """
    dark = dark_level(readings, span.on_ns)
    until_ns = span.dark_ns if bare_until_ns is None else min(bare_until_ns, span.dark_ns)
    inside = [r for r in readings if r.start_ns >= span.on_ns + FROM_NS and r.end_ns <= until_ns]
    settled = [r for r in inside if r.start_ns >= span.on_ns + RISE_NS]
    cycles = settled or inside
    if dark is None or not cycles or any(r.full for r in cycles):
        return None
    rates = sorted(rate(r, dark) / max(0.1, share_at(rise, r, span.on_ns)) for r in cycles)
    found = fmean(rates) if bare_until_ns is not None else median(rates[-max(1, len(rates) // 3) :])
    return found if found > 0 else None


class Levels:
    """The good levels, by sensor and key: learned from complete lights, the middle of the last few. One thread's."""

    def __init__(self) -> None:
        self._good: OrderedDict[tuple[str, LevelKey], list[float]] = OrderedDict()
        self._strays: dict[tuple[str, LevelKey], list[float]] = {}

    def good(self, sensor: str, key: LevelKey) -> float | None:
        """Return the last good level; None where none is known."""
        known = self._good.get((sensor, key))
        return median(known) if known else None

    def others(self, sensor: str, key: LevelKey) -> dict[str, float]:
        """Return the good levels of the other filters, by filter, all else being the same."""
        return {
            other.filter: median(known)
            for (of, other), known in self._good.items()
            if of == sensor and other.filter != key.filter and other.model_copy(update={"filter": key.filter}) == key
        }

    def learn(self, sensor: str, key: LevelKey, level: float) -> bool:
        """Take in the level of a complete light; return whether it counts as good."""
        place = sensor, key
        known = self._good.get(place, [])
        if known and abs(math.log2(level / median(known))) > GOOD_STOPS:
            strays = [*self._strays.get(place, ()), level][-STRAYS:]
            if len(strays) < STRAYS or math.log2(max(strays) / min(strays)) > ALIKE_STOPS:
                self._strays[place] = strays
                return False
            known = strays[:-1]
        self._strays.pop(place, None)
        self._good[place] = [*known, level][-KEPT_LEVELS:]
        self._good.move_to_end(place)
        if len(self._good) > KEPT_KEYS:
            self._strays.pop(self._good.popitem(last=False)[0], None)
        return True

    def forget(self) -> None:
        """Know nothing any more: another bulb is in."""
        self._good.clear()
        self._strays.clear()
