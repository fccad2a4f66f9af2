"""Enlargers on the shelf, and what stood at them; the practice darkroom's own.

Safe from any thread, as shelf and journal are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from importlib.resources import files
from typing import Final

from controller.enlarger import standing
from controller.enlarger.enlargers import (
    ENLARGER,
    KIND,
    Enlarger,
    column_offset_mm,
    read_enlarger,
    read_tree,
    write_enlarger,
)
from controller.errors import Unreadable
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.files import read_recipe
from controller.recipe.set_up import SetUp
from controller.store.entries import StoodAtEnlarger
from controller.store.rows import Reader
from controller.store.said_of_sheets import Picked
from controller.store.shelf import OfAKind, Shelf
from controller.store.versions import Kept
from controller.words import say

LOOK_BACK: Final = 4000
"""Rows of the journal in which it is looked up what stood lately."""
PICKS_BACK: Final = 20_000
"""Rows in which picks are looked up: some evenings with strips, whatever else was filed."""
MOST_PICKS: Final = 40
MOST_LEVELS: Final = 6
"""So many flash levels are at hand: a few papers, each found anew with its box."""
MOST: Final = 50
"""So many enlargers are listed: more than anybody has."""


@dataclass(frozen=True)
class _Lately:
    """What was picked lately, each with its row; replaced as a whole, so that no thread sees half of it."""

    looked: int = 0
    """The row up to which picks were looked up."""
    picked: tuple[tuple[int, Picked], ...] = ()
    """Oldest first."""
    levels: tuple[tuple[int, str], ...] = ()
    """The sheets on which the level of a flash was picked, last first."""


class EnlargerShelf(OfAKind):
    """What may be done with the enlargers that are kept."""

    KINDS = (KIND,)

    def __init__(self, shelf: Shelf, reader: Reader) -> None:
        super().__init__(shelf)
        self._reader = reader
        self._lately = _Lately()

    def past(self) -> tuple[AtEnlarger, ...]:
        """Return what stood at the enlarger lately, each once, last first."""
        after = max(0, self._reader.last() - LOOK_BACK)
        return standing.stood(self._reader.rows(after=after, kinds=("at the enlarger",)))

    def picked(self) -> tuple[Picked, ...]:
        """Return what was picked from strips lately, oldest first."""
        lately = self._follow()
        return tuple(picked for number, picked in lately.picked if number > lately.looked - PICKS_BACK)

    def levels_picked(self) -> tuple[str, ...]:
        """Return the threshold strips that were picked from lately, by their sheets, last first."""
        lately = self._follow()
        return tuple(sheet for number, sheet in lately.levels if number > lately.looked - PICKS_BACK)

    def _follow(self) -> _Lately:
        """Look through the rows that are new: rows are only added, and those that were looked through need not be."""
        last, before = self._reader.last(), self._lately
        if before.looked >= last:
            return before
        rows = self._reader.rows(after=max(last - PICKS_BACK, before.looked), kinds=("picked",))
        new = [(row.number, row.entry) for row in rows if isinstance(row.entry, Picked)]
        levels = [*before.levels[::-1], *((number, picked.sheet) for number, picked in new if picked.level)]
        by_sheet = {sheet: number for number, sheet in levels}
        self._lately = _Lately(
            looked=max((last, *(number for number, _ in new))),
            picked=(*before.picked, *new)[-MOST_PICKS:],
            levels=tuple(sorted(((number, sheet) for sheet, number in by_sheet.items()), reverse=True))[:MOST_LEVELS],
        )
        return self._lately

    def marks(self) -> tuple[int, ...]:
        """Return the numbers of the last rows of shelf and journal: where they are as they were, so is all else."""
        return (*self._shelf.marks(), self._reader.last())

    def kept(self) -> Sequence[Kept]:
        """Return the enlargers that are not put away, last kept first."""
        return self._shelf.latest(KIND, limit=MOST)

    def readable(self) -> Iterator[Enlarger]:
        """Give those enlargers that this software can read."""
        for kept in self.kept():
            with suppress(Unreadable):
                yield read_enlarger(kept.body, kept.title)

    def fetch(self, source: str, version: int | None = None) -> Enlarger:
        """Return a kept enlarger.

        Raises:
            NotThere: no such enlarger, or no such version of it, is kept.
            Unreadable: it was written by a newer version of this software.
        """
        kept = self.get(source, version)
        return read_enlarger(kept.body, kept.title)

    def keep(self, enlarger: Enlarger, source: str | None = None) -> Kept:
        """Keep an enlarger as a new version of `source`, or as a new one.

        Raises:
            NotThere: no such enlarger is kept.
            StoreTrouble: it could not be written; nothing was kept.
        """
        return self._shelf.save(KIND, enlarger.name, write_enlarger(enlarger), source)


SAMPLE: Final = "5-harbour-crane.recipe.json"
"""The recipe whose negative, paper and set-up a practice darkroom begins with."""
FOR_ROLL_FILM: Final = {"head_height_mm": 368, "magnification": 6.3, "aperture": 4, "focal_mm": 50}
"""How the practice enlarger stands for 24×36 on the sample's paper: the column gives 50·(2 + 6.3 + 1/6.3) − 55 mm."""


def practice_stand(shelf: Shelf) -> tuple[StoodAtEnlarger, ...]:
    """Lay an enlarger on a shelf that has nothing yet, and return what stood at it, last what stands.

    Nothing where somebody worked here. So a newcomer to the practice darkroom has nothing to type, or to set up,
    before the first sheet; neither with a negative of the other format.
    """
    if shelf.holds("recipe", "strip", KIND):
        return ()
    recipe = read_recipe(files("controller").joinpath("samples", SAMPLE).read_text(encoding="utf-8"), SAMPLE)
    bench = standing.taken_from(AtEnlarger(), recipe, (), "")
    assert bench.focal_mm is not None
    assert bench.magnification is not None
    assert bench.head_height_mm is not None
    lacks = column_offset_mm(bench.focal_mm, bench.magnification, bench.head_height_mm)
    name = say("enlarger.practice-name")
    tree = {
        "format": ENLARGER,
        "name": name,
        "light_source": "diffuser",
        "focal_mm": bench.focal_mm,
        "column_offset_mm": lacks,
    }
    enlarger = read_tree(tree, name)
    kept = shelf.save(KIND, enlarger.name, write_enlarger(enlarger))
    bench = standing.changed(bench, {"enlarger": kept.id, "enlarger_title": enlarger.name})
    before = AtEnlarger(enlarger=kept.id, enlarger_title=enlarger.name, negative_format="24x36")
    return (
        StoodAtEnlarger(bench=standing.changed(before, FOR_ROLL_FILM)),
        StoodAtEnlarger(bench=bench, set_up=SetUp.of_written(recipe)),
    )
