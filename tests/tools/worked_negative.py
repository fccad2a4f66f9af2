"""A negative that was worked: its strips, picks, prints and looks in a desk's own journal, in their order."""

from __future__ import annotations

from typing import Any

from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.files import write
from controller.recipe.strip_templates import make
from controller.store.entries import Photographed
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import Looked
from tools.history import whole_sheet
from tools.stand_in_desk import StandInDesk


class WorkedNegative:
    """One negative of a kept set, in the carrier; every sheet of it goes into the journal, stamped."""

    def __init__(self, desk: StandInDesk, negative: str, title: str = "quay at dawn") -> None:
        self.desk, self.journal = desk, desk.read_journal(threaded=True)
        self.at = AtEnlarger(
            negative=negative,
            negative_title=title,
            paper_title="paper one",
            support="RC",
            head_height_mm=620,
            magnification=2.0,
            aperture=8,
        )

    def sheet(self, source: str, version: int | None = None) -> SheetRecord:
        """Give a sheet of something kept all its light, and close it."""
        plan = self.desk.recipes().plan(source, version).standing(self.at)
        number = self.desk._archive.next_number()
        self.journal.append(*whole_sheet(f"sheet-{number}", number, plan))
        return self.record(number)

    def record(self, number: int) -> SheetRecord:
        return self.desk.record(f"sheet-{number}")

    def expose(self, template: Any = "first", **more: Any) -> SheetRecord:
        """Make a strip by its template, and expose it."""
        strip = make(template, self.at, **more)
        return self.sheet(self.desk.recipes().save(write(strip)).id)

    def pick(self, record: SheetRecord, band: int, recipe: str = "") -> tuple[str, int]:
        """Pick a band; return the recipe that took it over, with its version."""
        picked, _ = self.desk.recipes().take_pick(record, band, between=False, recipe=recipe)
        self.journal.append(picked)
        return picked.recipe, picked.recipe_version

    def look(self, record: SheetRecord, light: int, dark: int) -> None:
        self.journal.append(Looked(sheet=record.id, light=light, dark=dark))

    def photographed(self, record: SheetRecord, small: str) -> None:
        self.journal.append(Photographed(hash=small, small=small, of="sheet", thing=record.id))

    def evening(self) -> list[SheetRecord]:
        """Work it from the first strip to the third print, with an edit of the recipe by hand in between."""
        soft = self.expose(centre_ms=12_000)
        recipe, _ = self.pick(soft, 4)
        hard = self.expose("hard over soft", base=self.desk.recipes().recipe(recipe).light)
        recipe, version = self.pick(hard, 5, recipe)
        first = self.sheet(recipe, version)
        self.look(first, -1, 0)
        edited = self.desk.recipes().recipe(recipe)
        for title in ("by hand", "by hand again"):
            edited = edited.model_copy(update={"title": title})
            self.desk.recipes().save(write(edited), recipe)
        second = self.sheet(recipe)
        self.look(second, 0, 0)
        third = self.sheet(recipe)
        return [self.desk.record(one.id) for one in (soft, hard, first, second, third)]
