"""Negatives and an enlarger for a darkroom's many years: what lies in the carrier on which evening."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from tools.negatives import LAYOUTS, keep, tree

from controller.daemon.negative_lists import in_carrier
from controller.enlarger.enlargers import ENLARGER, KIND, column_offset_mm, read_tree, write_enlarger
from controller.enlarger.standing import InCarrier, changed
from controller.negatives.sets import read_negatives
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.shelf import Shelf

AS_IT_STANDS: Final = AtEnlarger(
    paper_title="paper one",
    support="RC",
    box="8x10 in",
    head_height_mm=620.0,
    magnification=2.0,
    aperture=8.0,
    focal_mm=150.0,
)
NEGATIVES_AN_EVENING: Final = (1, 2, 3, 4)
AGAIN: Final = 0.3
"""Share of evenings that go on with a negative of the evening before."""
LATELY: Final = 12
"""Of so many sets, the newest at the time, an evening's negatives are taken."""
FIVE_HUNDRED: Final = 500


def fill_negatives(shelf: Shelf, sets: int) -> list[list[InCarrier]]:
    """Keep so many sets of all formats, about 11 negatives each, and return their negatives set by set."""
    found: list[list[InCarrier]] = []
    for first, last in pairwise((*range(0, sets, FIVE_HUNDRED), sets)):
        with shelf.together():
            for number in range(first + 1, last + 1):
                kept = keep(shelf, tree(number, LAYOUTS[number % len(LAYOUTS)].format))
                one = read_negatives(kept.body, kept.title)
                found.append([in_carrier(kept.id, one, frame) for frame in one.frames])
    return found


def fill_enlarger(shelf: Shelf) -> AtEnlarger:
    """Keep an enlarger with its standard of a contact proof, and return how it stands with nothing in the carrier."""
    stands = AS_IT_STANDS
    assert stands.focal_mm is not None
    assert stands.magnification is not None
    assert stands.head_height_mm is not None
    name = "the larger enlarger"
    proof = {"seconds": 9.0, "filter": "2", "magnification": 2.0, "aperture": 8.0, "paper": "paper one"}
    made = read_tree(
        {
            "format": ENLARGER,
            "name": name,
            "light_source": "condenser",
            "focal_mm": stands.focal_mm,
            "column_offset_mm": column_offset_mm(stands.focal_mm, stands.magnification, stands.head_height_mm),
            "proof": {**proof, "date": "2015-01-05"},
        },
        name,
    )
    kept = shelf.save(KIND, made.name, write_enlarger(made))
    return changed(stands, {"enlarger": kept.id, "enlarger_title": made.name})


@dataclass
class Carrier:
    """Says what lies in the carrier, sheet by sheet; the last evening has one negative, so that it has much past."""

    stands: AtEnlarger
    sets: list[list[InCarrier]]
    evenings: int

    def __post_init__(self) -> None:
        self._dice = random.Random(11)
        self._before: list[InCarrier] = []

    def evening(self, number: int, sheets: int) -> list[AtEnlarger | None]:
        """Return how the enlarger stands for each of an evening's sheets, one negative after the other; None: bare."""
        if not self.sets:
            return [None] * sheets
        newest = max(1, len(self.sets) * (number + 1) // self.evenings)
        lately = [frame for one in self.sets[max(0, newest - LATELY) : newest] for frame in one]
        many = 1 if number == self.evenings - 1 else self._dice.choice(NEGATIVES_AN_EVENING)
        chosen = self._dice.sample(lately, min(many, len(lately)))
        if self._before and self._dice.random() < AGAIN:
            chosen[0] = self._before[-1]
        self._before = chosen
        return [
            changed(
                self.stands,
                {"negative": one.negative, "negative_title": one.title, "negative_format": one.format},
            )
            for at in range(sheets)
            for one in (chosen[at * len(chosen) // sheets],)
        ]
