"""Two spots with wished tones: the soft and hard seconds, where every other spot falls, and the burn or dodge it wants.

A burn adds soft light to its area and a dodge holds hard light back, unless that leaves ±5 stops: then it is the other
light (common practice: soft light darkens a highlight without blocking it, hard light holds a shadow's black).

numpy and scipy are loaded when something is reckoned, never by importing this.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from controller.easel.spots import Measured
from controller.errors import Impossible
from controller.exposure.stops import MOST_STOPS
from controller.paper.libraries import curves_can_be_had
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.emulsions import Mixture
    from controller.paper.paper import Paper
    from controller.paper.solver import Pair

AS_WISHED: Final = 0.005
"""A spot that falls as near as this to its wish wants neither burn nor dodge: half of what a reading is said to."""
_HALVINGS: Final = 50


@dataclass(frozen=True, slots=True)
class LocalWork:
    """A burn or a dodge that brings a spot to its wish; a dodge has stops below 0. `seconds` are added or held back."""

    act: Literal["burn", "dodge"]
    filter: Literal["soft", "hard"]
    stops: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Fallen:
    """A spot where it falls on the print; `work` is what brings it to its wish, `why` why nothing can."""

    spot: Measured
    print_density: float
    work: LocalWork | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Reckoned:
    """The pair of lights, and every spot under it. `why` says why the two tones cannot be had; the pair is nearest."""

    pair: Pair
    spots: tuple[Fallen, ...]
    why: str = ""


def reckon(paper: Paper, spots: Sequence[Measured], *, longest_seconds: float = 600.0) -> Reckoned:
    """Return the lights that print the first spot, the light tone, and the second, the dark one, as they are wished.

    Raises:
        Impossible: fewer than two spots, a wish missing for one of the first two, tones crossed, or no numpy here.
    """
    if len(spots) < 2:
        raise Impossible(say("easel.two-spots"))
    light, dark = spots[0], spots[1]
    if light.wanted is None or dark.wanted is None:
        raise Impossible(say("easel.no-wish", name=light.name if light.wanted is None else dark.name))
    need_curves()
    from controller.paper.emulsions import mixture
    from controller.paper.solver import OutOfReach, Tone, soft_hard

    answer = soft_hard(
        paper, Tone(light.density, light.wanted), Tone(dark.density, dark.wanted), longest_seconds=longest_seconds
    )
    found, why = (answer.nearest, answer.sentence) if isinstance(answer, OutOfReach) else (answer.pair, "")
    mix, lights = mixture(paper), (found.soft_seconds, found.hard_seconds)
    first = tuple(Fallen(spot, _prints(mix, *lights, spot.density)) for spot in spots[:2])
    return Reckoned(found, (*first, *(fall(mix, lights, spot) for spot in spots[2:])), why)


def need_curves() -> None:
    """Refuse, with what to do, where the libraries that curves are reckoned with are missing; raises `Impossible`."""
    if not curves_can_be_had():
        raise Impossible(say("easel.no-numpy"))


def fall(mix: Mixture, lights: tuple[float, float], spot: Measured) -> Fallen:
    """Return where a spot falls under soft and hard seconds, and the work that brings it to its wish, if it has one."""
    printed = _prints(mix, *lights, spot.density)
    if spot.wanted is None or abs(spot.wanted - printed) < AS_WISHED:
        return Fallen(spot, printed)
    if not mix.dmin < spot.wanted < mix.dmax:
        off_scale = say("easel.wish-off-scale", name=spot.name, dmin=f"{mix.dmin:.2f}", dmax=f"{mix.dmax:.2f}")
        return Fallen(spot, printed, why=off_scale)
    order: tuple[Literal["soft", "hard"], ...] = ("soft", "hard") if spot.wanted > printed else ("hard", "soft")
    for which in order:
        work = _work(mix, lights, spot.density, spot.wanted, printed, which)
        if work is not None:
            return Fallen(spot, printed, work)
    return Fallen(spot, printed, why=say("easel.no-work", name=spot.name, most=MOST_STOPS))


def _work(
    mix: Mixture,
    lights: tuple[float, float],
    tone: float,
    wanted: float,
    printed: float,
    which: Literal["soft", "hard"],
) -> LocalWork | None:
    """Return the burn or dodge through one light within ±5 stops, or None where it takes more or has no base."""
    base = lights[0] if which == "soft" else lights[1]
    if base <= 0.0:
        return None

    def prints(stops: float) -> float:
        seconds = _with_burn(mix, which, base, stops) if stops > 0.0 else base * 2.0**stops
        return _prints(mix, seconds, lights[1], tone) if which == "soft" else _prints(mix, lights[0], seconds, tone)

    burn = wanted > printed
    low, high = (0.0, float(MOST_STOPS)) if burn else (-float(MOST_STOPS), 0.0)
    if not prints(low) <= wanted <= prints(high):
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if prints(middle) < wanted else (low, middle)
    stops = (low + high) / 2.0
    return LocalWork("burn" if burn else "dodge", which, stops, abs(base * (2.0**stops - 1.0)))


def _with_burn(mix: Mixture, which: Literal["soft", "hard"], base: float, stops: float) -> float:
    """Return how long one light lasts that does as much as a base and its burn, each of which counts by itself."""
    from controller.paper.emulsions import lasting, worth

    at, burn = 0 if which == "soft" else 1, base * (2.0**stops - 1.0)
    both = float(worth(mix, base, base)[at] + worth(mix, burn, burn)[at])
    return float(lasting(mix, both, both)[at])


def _prints(mix: Mixture, soft: float, hard: float, tone: float) -> float:
    from controller.paper.emulsions import densities

    return float(densities(mix, soft, hard, tone))
