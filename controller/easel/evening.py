"""The verdicts of an evening on prints that were made from spots, and the offset that they teach. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.easel.offset import DARK_WITHIN, LIGHT_WITHIN, Offset, learned, seen_by
from controller.easel.spots import Measured
from controller.store.easel_rows import SpotsTaken

if TYPE_CHECKING:
    from controller.paper.paper import Paper

TIMES_TOLERATED: Final = (0.0, 1.1, 2.25, 4.0)
"""What a word stands for, as `controller.contrast.how_it_looked`; a test holds the two equal."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a print that was made from two spots looked."""

    taken: SpotsTaken
    light: int
    dark: int


def evening_offset(paper: Paper, verdicts: Iterable[Verdict]) -> Offset:
    """Return what this evening's verdicts on this box of paper teach; without any, none, in doubt."""
    box = paper.speeds[-1].box.label if paper.speeds else paper.box.label
    seen = []
    for each in verdicts:
        one = each.taken
        if one.box == box:
            spots = (
                Measured("light", one.light_density, one.light_wanted),
                Measured("dark", one.dark_density, one.dark_wanted),
            )
            off = _off(each.light, LIGHT_WITHIN), _off(each.dark, DARK_WITHIN)
            seen.append(seen_by(paper, (one.soft_seconds, one.hard_seconds), spots, off))
    return learned(seen)


def _off(look: int, within: float) -> float:
    return TIMES_TOLERATED[abs(look)] * within * (1 if look > 0 else -1)
