"""What is wrong with an exposure's readings, step by step, and what to print or read again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from controller.paper.readings import Exposure, Reading, light_through, shown_seconds
from controller.words import say

FEWEST_READINGS: Final = 7
FEWEST_BETWEEN: Final = 2
"""Steps that must lie between a tenth and nine tenths of the scale for its slope to be known."""
NOISES: Final = 4.0
"""A reading is out of order where it lies so many times its noise off the nearest falling row."""
LEAST_OFF: Final = 0.05
FLAT: Final = 0.04
"""Two readings closer than this (or than thrice their noise) are the same white or the same black."""
BLACK: Final = 2.1
WHITE_AT_MOST: Final = 0.35
BLACK_AT_LEAST: Final = 1.2
"""A row that goes flat above or below these is flat for some other reason than white or black."""

Problem = Literal["out-of-order", "no-white", "no-black", "whole-scale", "too-few", "too-few-between"]


@dataclass(frozen=True)
class ReadingFault:
    """One thing wrong: the steps it shows in, what it is, and what to do."""

    problem: Problem
    steps: tuple[int, ...]
    sentence: str


def look_over(exposure: Exposure) -> tuple[ReadingFault, ...]:
    """Return what is wrong with an exposure's readings; nothing where they will do. By eye there is little to see."""
    if exposure.how == "eye":
        return ()
    rows = exposure.lightest_first
    level = levelled([row.print_density for row in rows])
    light = {"light": shown_seconds(exposure)}
    faults = _out_of_order(exposure)
    flat = max(FLAT, 3.0 * exposure.noise_density)
    # Two steps that read alike are white or black; steps of one density would be alike anywhere.
    white = level[1] - level[0] <= flat and level[0] <= WHITE_AT_MOST
    black = level[-1] - level[-2] <= flat and level[-1] >= BLACK_AT_LEAST
    ends = (rows[0].step, rows[-1].step)
    if not white and not black:
        faults.append(
            ReadingFault("whole-scale", ends, say("paper.fault-whole-scale", **light, first=ends[1], last=ends[0]))
        )
    elif not white:
        faults.append(
            ReadingFault(
                "no-white",
                ends[:1],
                _print_again("paper.fault-no-white", exposure, rows[0], 1.0 / _times(rows[0].print_density)),
            )
        )
    elif not black:
        faults.append(
            ReadingFault(
                "no-black",
                ends[1:],
                _print_again("paper.fault-no-black", exposure, rows[-1], _times(BLACK - rows[-1].print_density)),
            )
        )
    if len(rows) < FEWEST_READINGS:
        steps = tuple(row.step for row in rows)
        faults.append(
            ReadingFault("too-few", steps, say("paper.fault-too-few", **light, found=len(rows), fewest=FEWEST_READINGS))
        )
    scale = level[-1] - level[0]
    between = [r.step for r, v in zip(rows, level, strict=True) if 0.1 < (v - level[0]) / max(scale, 1e-9) < 0.9]
    if len(rows) >= FEWEST_READINGS and white and black and len(between) < FEWEST_BETWEEN:
        sentence = say("paper.fault-between", **light, found=len(between), fewest=FEWEST_BETWEEN)
        faults.append(ReadingFault("too-few-between", tuple(between), sentence))
    return tuple(faults)


def levelled(values: list[float]) -> list[float]:
    """Return the rising row nearest to `values` (least squares): runs that fall are pooled into their mean."""
    pools: list[tuple[float, int]] = []
    for value in values:
        pools.append((value, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (upper, many), (lower, few) = pools[-2], pools[-1]
            pools[-2:] = [((upper * many + lower * few) / (many + few), many + few)]
    return [mean for mean, count in pools for _ in range(count)]


def _out_of_order(exposure: Exposure) -> list[ReadingFault]:
    """Name the steps that stand out of a falling row: one by one, that first without which the row falls best."""
    faults: list[ReadingFault] = []
    rest = list(exposure.lightest_first)
    while len(rest) > 2:
        place = _odd_one(rest, exposure.noise_density)
        row = rest.pop(place)
        level = levelled([other.print_density for other in rest])
        lighter = level[place - 1] if place else None
        darker = level[place] if place < len(level) else None
        over = row.print_density - darker if darker is not None else 0.0
        under = lighter - row.print_density if lighter is not None else 0.0
        if max(over, under) <= max(LEAST_OFF, NOISES * (row.noise_density or exposure.noise_density)):
            break
        key = "paper.fault-too-dark" if over > under else "paper.fault-too-light"
        beside = darker if over > under else lighter
        sentence = say(
            key,
            light=shown_seconds(exposure),
            step=row.step,
            read=f"{row.print_density:.2f}",
            beside=f"{beside:.2f}",
        )
        faults.append(ReadingFault("out-of-order", (row.step,), sentence))
    return faults


def _odd_one(rows: list[Reading], noise: float) -> int:
    """Return the place of the row without which the rest rise best; of several as good, the most out of line."""
    left = [_unlevel(rows[:at] + rows[at + 1 :]) for at in range(len(rows))]
    alike = [at for at in range(len(rows)) if left[at] <= min(left) + noise**2]

    def out_of_line(at: int) -> float:
        lighter, darker = rows[max(0, at - 1)], rows[min(len(rows) - 1, at + 1)]
        return abs(rows[at].print_density - (lighter.print_density + darker.print_density) / 2.0)

    return max(alike, key=out_of_line)


def _unlevel(rows: list[Reading]) -> float:
    """Return how far rows are from rising: the squares of what levelling changes."""
    values = [row.print_density for row in rows]
    return sum((value - even) ** 2 for value, even in zip(values, levelled(values), strict=True))


def _times(short_by: float) -> float:
    """Return how many times more (or less) light an end of the scale wants that is so much short of its density."""
    return 2.0 if short_by < 0.6 else 4.0 if short_by < 1.2 else 8.0


def _print_again(key: str, exposure: Exposure, row: Reading, more: float) -> str:
    seconds = {
        "soft": f"{exposure.soft_seconds * more:.1f}",
        "hard": f"{exposure.hard_seconds * more:.1f}",
    }
    again = " + ".join(
        light_through(exposure.filter, given * more)
        if exposure.filter
        else say(f"paper.{light}-light", seconds=seconds[light])
        for light, given in (("soft", exposure.soft_seconds), ("hard", exposure.hard_seconds))
        if given
    )
    return say(key, light=shown_seconds(exposure), step=row.step, read=f"{row.print_density:.2f}", again=again)
