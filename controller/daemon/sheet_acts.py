"""What a page's acts make of a closed sheet: a pick, how it looked, what it was given; each makes a recipe's version.

What was made on the shelf is filed in the journal by the runner's thread; the rest may be asked from any.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from controller.contrast.how_it_looked import Looks
from controller.daemon.into_recipe import into_recipe
from controller.foot import acts
from controller.store.said_of_sheets import ReferencePrint

if TYPE_CHECKING:
    from controller.contrast.split_grade import ContrastDesk
    from controller.daemon.answers import Answers, Snapshots
    from controller.daemon.inbox import Inbox
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.store.archive import Archive

SheetAct = acts.Pick | acts.Looked | acts.IntoRecipe | acts.MakeReference


class SheetActs:
    """Raises as `Desk.do`."""

    def __init__(
        self,
        archive: Archive,
        recipes: RecipeShelf,
        contrast: ContrastDesk,
        inbox: Inbox,
        answers: Answers,
        snapshots: Snapshots,
    ) -> None:
        self._archive, self._recipes, self._contrast = archive, recipes, contrast
        self._inbox, self._answers, self._snapshots = inbox, answers, snapshots
        self._taking_in = threading.Lock()

    def do(self, act: SheetAct, number: int) -> Status:
        """Carry out one of them, decided on snapshot `number`; return the snapshot after it."""
        match act:
            case acts.Pick():
                return self._pick(act, number)
            case acts.Looked():
                return self._looked(act, number)
            case acts.IntoRecipe():
                return self._into_recipe(act, number)
            case acts.MakeReference():
                self._answers.check(number)
                record = self._archive.record(act.sheet)
                status: Status = self._inbox.ask(
                    lambda: self._answers.note(ReferencePrint(sheet=record.id)), even_late=True
                )
                return status

    def _pick(self, act: acts.Pick, number: int) -> Status:
        """Take a pick over; where it made a new version of what is loaded, that becomes the next sheet's."""
        record = self._archive.record(act.sheet)
        self._answers.check(number)
        before = self._newest_loaded()
        picked, _ = self._recipes.take_pick(
            record,
            act.band,
            between=act.between,
            recipe=act.recipe,
            title=act.title,
            aperture=act.aperture,
            head_height_mm=act.head_height_mm,
        )
        after = self._newest_loaded()
        status: Status = self._inbox.ask(lambda: self._answers.note(picked), even_late=True)
        if after is None or after == before:
            return status
        plan = self._recipes.plan(*after)
        saved: Status = self._inbox.ask(lambda: self._answers.saved(plan), even_late=True)
        return saved

    def _looked(self, act: acts.Looked, number: int) -> Status:
        """Take over how a sheet looked; the recipe's next version is the next sheet's where the recipe is loaded."""
        record = self._archive.record(act.sheet)
        self._answers.check(number)
        looks = Looks(light=act.light, dark=act.dark, third=act.third, dark_density=act.dark_density)
        looked = self._contrast.take_looks(record, looks)
        status: Status = self._inbox.ask(lambda: self._answers.note(looked), even_late=True)
        return status

    def _into_recipe(self, act: acts.IntoRecipe, number: int) -> Status:
        with self._taking_in:  # a second tap finds what the first one filed
            self._answers.check(number)
            went = into_recipe(self._recipes, self._archive.record(act.sheet), act.step)
            status: Status = self._inbox.ask(lambda: self._answers.note(went), even_late=True)
        return status

    def _newest_loaded(self) -> tuple[str, int] | None:
        """Return the latest version of what is loaded, where it is kept on the shelf."""
        loaded = self._snapshots.latest().plan
        if loaded is None or loaded.of_no_sheet:
            return None
        return loaded.source, self._recipes.fetch(loaded.source).version
