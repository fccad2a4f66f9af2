"""Split-grade: the soft and the hard seconds that put a light and a dark tone where they are wanted.

With the light tone held, the dark tone prints darker the more of the light is hard (derived: hard light draws
the emulsions together). So for every share of hard light there is one amount of light, and for every reachable
dark tone one share. With a flash each emulsion gets H_i = (s·a_i + h·b_i)·10^−D + f·a_i (b_i through hard), f given:
the same two equations, each tone a little nearer to the other. Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

import numpy as np

from controller.errors import Impossible
from controller.paper.emulsions import Mixture, densities, lasting, mixture, steady, thinnest
from controller.paper.flash import Flash, alone, most_seconds, refuse_over
from controller.paper.iso import range_of
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from controller.paper.paper import Paper

    Array = NDArray[np.float64]

LONGEST_SECONDS: Final = 600.0
CLOSE: Final = 0.001
"""An aim nearer to the edge of what can be had than this counts as had."""
TWELFTH: Final = 2.0 ** (1.0 / 12.0)
_ROUNDS: Final = 4
_POINTS: Final = 33

Why = Literal["softer", "harder", "too-white", "too-black", "too-long", "wrong-way", "over-flash"]


@dataclass(frozen=True)
class Tone:
    """A tone of the negative, and the print density it is to have."""

    negative_density: float
    print_density: float


@dataclass(frozen=True)
class Sensitivity:
    """What a twelfth of a stop more of one light adds to each tone's density, and what a twelfth less takes."""

    light: Literal["soft", "hard"]
    more: tuple[float, float]
    less: tuple[float, float]


@dataclass(frozen=True)
class Pair:
    """Soft and hard seconds, what they print (light tone, dark tone), and the R of the two together."""

    soft_seconds: float
    hard_seconds: float
    predicted: tuple[float, float]
    range_exact: float
    sensitivity: tuple[Sensitivity, ...]


@dataclass(frozen=True)
class Reached:
    """Both tones come where they are wanted."""

    pair: Pair


@dataclass(frozen=True)
class OutOfReach:
    """They cannot, and why not; the nearest pair that can be given."""

    why: Why
    sentence: str
    nearest: Pair


Answer: TypeAlias = Reached | OutOfReach


def soft_hard(
    paper: Paper, light: Tone, dark: Tone, *, longest_seconds: float = LONGEST_SECONDS, flash: Flash | None = None
) -> Answer:
    """Return the pair of times for a light and a dark tone over a flash, or the nearest there is.

    Raises:
        Impossible: the light tone is not the denser one in the negative; or the flash alone prints a grey.
    """
    if flash is not None:
        refuse_over(paper, flash)
    return solved(paper, light, dark, longest_seconds, flash)


def solved(paper: Paper, light: Tone, dark: Tone, longest_seconds: float, flash: Flash | None) -> Answer:
    """Return the same for a flash that was given, whatever it prints by itself."""
    if light.negative_density <= dark.negative_density:
        raise Impossible(
            say("paper.tones-crossed", light=f"{light.negative_density:.2f}", dark=f"{dark.negative_density:.2f}")
        )
    mix = mixture(paper)
    tones = np.array([light.negative_density, dark.negative_density])
    aims = np.array([light.print_density, dark.print_density])
    why = _outside_scale(paper, mix, light, dark, flash)
    if why is None:
        found = _share_for(
            lambda share: densities(mix, *_lights_at(mix, share, light, flash), dark.negative_density, flash) - aims[1]
        )
        if isinstance(found, float):
            soft, hard = (float(each) for each in _lights_at(mix, np.array(found), light, flash))
            if max(soft, hard) <= longest_seconds:
                return Reached(pair(paper, soft, hard, light.negative_density, dark.negative_density, flash))
            why = "too-long"
        else:
            why = found
    soft, hard = _nearest(mix, tones, aims, longest_seconds, flash)
    nearest = pair(paper, soft, hard, light.negative_density, dark.negative_density, flash)
    off = float(np.max(np.abs(np.array(nearest.predicted) - aims)))
    if off <= CLOSE:
        return Reached(nearest)
    return OutOfReach(why, _sentence(why, mix, longest_seconds), nearest)


def least_flash(
    paper: Paper, light: Tone, dark: Tone, *, longest_seconds: float = LONGEST_SECONDS, step_seconds: float = 0.05
) -> Flash | None:
    """Return the least flash, through soft, over which both tones come where they are wanted; to `step_seconds`, up.

    None where no flash that prints nothing by itself brings them there, or none is needed.
    """

    def answered(steps: int) -> Answer:
        flash = Flash(seconds=steps * step_seconds) if steps else None
        return soft_hard(paper, light, dark, longest_seconds=longest_seconds, flash=flash)

    def falls_short(steps: int) -> bool:
        answer = answered(steps)
        return isinstance(answer, OutOfReach) and answer.why in ("softer", "too-long")

    few, many = 0, int(most_seconds(paper) / step_seconds)
    if not many or not falls_short(few) or falls_short(many):
        return None
    while (
        many - few > 1
    ):  # a flash softens, so that more of it reaches whatever less of it reaches, until it is too soft
        middle = (few + many) // 2
        few, many = (middle, many) if falls_short(middle) else (few, middle)
    return Flash(seconds=many * step_seconds) if isinstance(answered(many), Reached) else None


def from_picks(
    paper: Paper,
    soft_pick_seconds: float,
    hard_pick_seconds: float,
    light_density: float,
    dark_density: float,
    flash: Flash | None = None,
) -> tuple[Tone, Tone]:
    """Return the two tones that two picks stand for: of a soft strip, and of a hard strip over that soft base.

    `flash` is what both strips had under them.

    The first pick made the light tone print as `light_density` with soft alone, the second the dark tone as
    `dark_density` with both. The hard light darkens the light tone too; `soft_hard` on these tones takes that
    out again. No densitometer is needed: the negative's densities come out of the paper.

    Raises:
        Impossible: a density that the paper cannot have.
    """
    mix = mixture(paper)
    light = float(thinnest(mix, soft_pick_seconds, 0.0, light_density, flash))
    dark = float(thinnest(mix, soft_pick_seconds, hard_pick_seconds, dark_density, flash))
    if not np.isfinite([light, dark]).all():
        raise Impossible(say("paper.off-scale", dmin=f"{mix.dmin:.2f}", dmax=f"{mix.dmax:.2f}"))
    return Tone(light, light_density), Tone(dark, dark_density)


def hold(
    paper: Paper,
    soft_seconds: float,
    hard_seconds: float,
    negative_density: float,
    wanted_range: float,
    *,
    other_density: float | None = None,
    longest_seconds: float = LONGEST_SECONDS,
    flash: Flash | None = None,
) -> Answer:
    """Return the pair with another R that leaves one tone of the negative just as it prints now, flash and all.

    `predicted` of the answer is the held tone and the tone of `other_density` (the held one unless told).
    """
    mix = mixture(paper)
    held = Tone(negative_density, float(densities(mix, soft_seconds, hard_seconds, negative_density, flash)))
    other = negative_density if other_density is None else other_density

    def too_soft(share: Array) -> Array:
        unit_soft, unit_hard = _unit(mix, share)
        ends = np.array([mix.dmin + 0.04, mix.dmin + 0.9 * mix.net])
        low, high = np.moveaxis(thinnest(steady(mix), unit_soft[..., None], unit_hard[..., None], ends), -1, 0)
        return np.asarray(wanted_range - 100.0 * (low - high))

    found = _share_for(too_soft)
    why: Why
    if isinstance(found, float):
        soft, hard = (float(each) for each in _lights_at(mix, np.array(found), held, flash))
        if max(soft, hard) <= longest_seconds:
            return Reached(pair(paper, soft, hard, negative_density, other, flash))
        why, share = "too-long", found
    else:
        why, share = found, 0.0 if found == "softer" else 1.0
    soft, hard = (min(float(each), longest_seconds) for each in _lights_at(mix, np.array(share), held, flash))
    nearest = pair(paper, soft, hard, negative_density, other, flash)
    return OutOfReach(why, _sentence(why, mix, longest_seconds), nearest)


def pair(
    paper: Paper, soft_seconds: float, hard_seconds: float, light: float, dark: float, flash: Flash | None = None
) -> Pair:
    """Return what two times do to two tones of the negative (densities `light` and `dark`), over a flash.

    R is that of the two lights: a flash changes what a negative prints, not the lights' own curve.
    """
    mix = mixture(paper)
    tones = np.array([light, dark])
    now = densities(mix, soft_seconds, hard_seconds, tones, flash)

    def moved(soft: float, hard: float) -> tuple[float, float]:
        change = densities(mix, soft_seconds * soft, hard_seconds * hard, tones, flash) - now
        return float(change[0]), float(change[1])

    return Pair(
        soft_seconds=soft_seconds,
        hard_seconds=hard_seconds,
        predicted=(float(now[0]), float(now[1])),
        range_exact=range_of(mix, soft_seconds, hard_seconds),
        sensitivity=(
            Sensitivity("soft", moved(TWELFTH, 1.0), moved(1.0 / TWELFTH, 1.0)),
            Sensitivity("hard", moved(1.0, TWELFTH), moved(1.0, 1.0 / TWELFTH)),
        ),
    )


def reach(
    paper: Paper, light: float, dark: float, points: int = 61, flash: Flash | None = None
) -> tuple[Array, Array, Array]:
    """Return the feasible region for two tones of the negative, densities `light` and `dark`, over a flash.

    Print densities of the light tone, and for each the least (all soft) and the most (all hard) that the dark
    tone can have with it.
    """
    mix = mixture(paper)
    least = mix.dmin if flash is None else mix.dmin + alone(paper, flash)
    wanted = least + (mix.dmax - least) * np.linspace(0.003, 0.997, points)
    ends = []
    for share in (0.0, 1.0):
        unit = _unit(mix, np.array(share))
        held = thinnest(steady(mix), *unit, wanted, flash)
        ends.append(densities(steady(mix), *unit, held - (light - dark), flash))
    return wanted, ends[0], ends[1]


def _unit(mix: Mixture, share: Array) -> tuple[Array, Array]:
    """Return what soft and hard light are worth, some amount of them, of which `share` works as hard light."""
    soft = (1.0 - share) * 10.0 ** -float(mix.soft.mean())
    hard = share * 10.0 ** -float(mix.hard.mean())
    return np.asarray(soft), np.asarray(hard)


def _lights_at(mix: Mixture, share: Array, held: Tone, flash: Flash | None) -> tuple[Array, Array]:
    """Return the seconds with this share of hard light that print the held tone as it is wanted."""
    soft, hard = _unit(mix, share)
    more = 10.0 ** (held.negative_density - thinnest(steady(mix), soft, hard, held.print_density, flash))
    return lasting(mix, soft * more, hard * more)


def _share_for(rising: Callable[[Array], Array]) -> float | Why:
    """Return where in 0 to 1 a rising function of the hard share crosses none, or on which side it never does."""
    low, high = 0.0, 1.0
    for _ in range(_ROUNDS):
        shares = np.linspace(low, high, _POINTS)
        values = rising(shares)
        if low == 0.0 and values[0] > 0.0:
            return "softer"
        if high == 1.0 and values[-1] < 0.0:
            return "harder"
        over = min(max(int(np.searchsorted(values, 0.0)), 1), _POINTS - 1)
        low, high = float(shares[over - 1]), float(shares[over])
        below, above = float(values[over - 1]), float(values[over])
    return low if above == below else low + (high - low) * min(1.0, max(0.0, -below / (above - below)))


def _outside_scale(paper: Paper, mix: Mixture, light: Tone, dark: Tone, flash: Flash | None) -> Why | None:
    if light.print_density >= dark.print_density:
        return "wrong-way"
    if light.print_density <= mix.dmin:
        return "too-white"
    if flash is not None and light.print_density <= mix.dmin + alone(paper, flash):
        return "over-flash"
    return "too-black" if dark.print_density >= mix.dmax else None


def _nearest(
    mix: Mixture, tones: Array, aims: Array, longest_seconds: float, flash: Flash | None
) -> tuple[float, float]:
    """Return the seconds that come nearest to both aims (least squares of density), within what can be given.

    This alone loads scipy: aims that can be had, which nearly all can, are found without it.
    """
    from scipy.optimize import least_squares

    units = [10.0 ** -float(mix.soft.mean()), 10.0 ** -float(mix.hard.mean())]

    def seconds(at: Array) -> tuple[Array, Array]:
        amount = 10.0 ** at[..., 1]
        soft, hard = lasting(mix, units[0] * (1.0 - at[..., 0]) * amount, units[1] * at[..., 0] * amount)
        return np.minimum(soft, longest_seconds), np.minimum(hard, longest_seconds)

    def misses(at: Array) -> Array:
        soft, hard = seconds(at)
        return densities(mix, soft[..., None], hard[..., None], tones, flash) - aims

    middle = float(tones.mean())
    grid = np.stack(
        np.meshgrid(np.linspace(0.0, 1.0, 21), middle + np.linspace(-2.5, 2.5, 61), indexing="ij"), axis=-1
    ).reshape(-1, 2)
    start = grid[int(np.argmin(np.sum(misses(grid) ** 2, axis=-1)))]
    low, high = np.array([0.0, middle - 3.5]), np.array([1.0, middle + 3.5])
    inside = np.clip(start, low + np.array([1e-6, 0.0]), high - np.array([1e-6, 0.0]))
    best = least_squares(misses, inside, bounds=(low, high), xtol=1e-10, ftol=1e-12).x
    # The edge itself is often the answer, and a bounded search only comes near it.
    tries = [best, np.array([np.round(best[0], 3), best[1]])]
    soft, hard = seconds(min(tries, key=lambda at: float(np.sum(misses(at) ** 2)) + (0.0 if at is tries[1] else 1e-9)))
    return float(soft), float(hard)


def _sentence(why: Why, mix: Mixture, longest_seconds: float) -> str:
    return say(f"paper.reach-{why}", dmin=f"{mix.dmin:.2f}", dmax=f"{mix.dmax:.2f}", longest=f"{longest_seconds:g}")
