"""Carrying over at the desk: a recipe becomes its next, is kept with its check strips, and their pick is taken.

Where two kept papers are compared, numpy and scipy are loaded then, never before.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import TYPE_CHECKING

from controller.carry.carry import carry
from controller.carry.carry_changes import bases_sentence, corrections_of, distances, said_too, size_change
from controller.carry.changes import Change, ToAperture, ToDryDown, ToFlash, ToPaper
from controller.carry.check_strips import check_strips
from controller.carry.wanted import (
    Carry,
    CarryWanted,
    FlashSeconds,
    FlashStrip,
    KeptPapers,
    Link,
    NamedPaper,
    NoFlash,
    Preview,
    read_carry,
    write_carry,
)
from controller.contrast.asks import Papers
from controller.errors import Impossible
from controller.exposure.strip_times import flash_ms
from controller.model import Frozen
from controller.recipe.files import read_recipe, read_tree, write
from controller.recipe.pick import pick_offered
from controller.recipe.recipe import Flash, Paper, Recipe
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.plan import Plan
    from controller.store.shelf import Shelf
    from controller.store.versions import Kept


class CarriedOver(Frozen):
    """What was kept: the link, the recipe's version and the check strips."""

    id: str
    recipe: Link
    strips: tuple[Link, ...]


class CarryDesk:
    """What pages may do to carry a recipe over. Safe from any thread, as the shelf is."""

    def __init__(
        self,
        shelf: Callable[[], Shelf],
        papers: Callable[[], Papers],
        longest_ms: Callable[[], int],
        strip_plan: Callable[[str], Plan],
        saved: Callable[[str], object] = lambda _recipe: None,
    ) -> None:
        self._shelf, self._papers, self._longest_ms, self._strip_plan = shelf, papers, longest_ms, strip_plan
        self._saved = saved

    def preview(self, source: str, version: int | None, wanted: CarryWanted) -> Preview:
        """Return a recipe carried over, every step old and new, with the check strips that will confirm it.

        Raises:
            Impossible, Unreadable: one sentence, with the field of `CarryWanted` it belongs to where there is one.
            NotThere: no such recipe, version, paper or strip sheet is kept.
        """
        recipe = self._recipe(source, version)
        if wanted.changes_nothing:
            raise Impossible(say("carry.nothing"))
        known = said_too(recipe, wanted)
        notes: list[str] = []
        changes = self._changes(known, wanted, notes)
        carried = carry(known, changes, exponent=wanted.exponent, longest_ms=self._longest_ms())
        try:
            strips = check_strips(carried, longest_ms=self._longest_ms())
        except Impossible as problem:
            strips = ()
            notes.append(say("carry.no-strip", problem=str(problem)))
        return Preview(
            carried=carried,
            strips=strips,
            sentence=bases_sentence(carried),
            notes=(*carried.notes, *notes),
            distances=distances(known, carried.recipe) if wanted.size is not None else None,
            unsure=next((why for strip in strips if (why := pick_offered(strip))), ""),
        )

    def keep(self, source: str, version: int | None, wanted: CarryWanted, *, title: str) -> CarriedOver:
        """Keep a carried recipe, its check strips and their link: all of them, or none.

        With a `title` it is a new recipe of that name, without one a new version of the recipe it came from.

        Raises:
            As `preview`; and StoreTrouble: nothing was kept.
        """
        preview = self.preview(source, version, wanted)
        made = preview.carried.recipe
        if title:
            # Read again, so that a title no recipe may have is refused in words, before anything is kept.
            tree = made.model_dump(mode="python", exclude_unset=True, exclude_none=True) | {"title": title}
            read = read_tree(tree, say("carry.this-recipe"), longest_ms=self._longest_ms())
            assert isinstance(read, Recipe)
            made = read
        shelf = self._shelf()
        before = shelf.get(source, version)
        with shelf.together():
            recipe = shelf.save("recipe", made.title, write(made), None if title else source)
            retitled = [
                strip.model_copy(
                    update={"title": say("paper.check-title", title=made.title[:160], filter=strip.filter)}
                )
                for strip in preview.strips
            ]
            strips = [shelf.save("strip", strip.title, write(strip)) for strip in retitled]
            link = Carry(
                source=_link(before),
                recipe=_link(recipe),
                strips=tuple(_link(strip) for strip in strips),
                apart=preview.carried.apart,
                wanted=wanted,
            )
            kept = shelf.save("carry", made.title, write_carry(link))
        self._saved(recipe.id)
        return CarriedOver(id=kept.id, recipe=link.recipe, strips=link.strips)

    def fetch(self, carried: str) -> Carry:
        """Return what was carried over under this id.

        Raises:
            NotThere: nothing was.
        """
        return read_carry(self._shelf().get(carried).body)

    def _recipe(self, source: str, version: int | None) -> Recipe:
        kept = self._shelf().get(source, version)
        written = read_recipe(kept.body, kept.title, longest_ms=self._longest_ms())
        if not isinstance(written, Recipe):
            raise Impossible(say("foot.not-a-recipe", title=kept.title))
        return written

    def _changes(self, recipe: Recipe, wanted: CarryWanted, notes: list[str]) -> tuple[Change, ...]:
        changes: list[Change] = []
        if wanted.size is not None:
            changes.append(size_change(recipe, wanted.size))
        if wanted.aperture is not None:
            changes.append(ToAperture(aperture=wanted.aperture))
        dry_down = recipe.dry_down_percent if wanted.dry_down_percent is None else wanted.dry_down_percent or None
        if wanted.paper is not None:
            changes.append(self._paper(recipe, wanted.paper, dry_down, notes))
        elif wanted.dry_down_percent is not None:
            changes.append(ToDryDown(dry_down_percent=dry_down))
        if wanted.flash is not None:
            changes.append(ToFlash(flash=self._flash(wanted.flash)))
        return tuple(changes)

    def _flash(self, wanted: FlashSeconds | FlashStrip | NoFlash) -> Flash | None:
        match wanted:
            case NoFlash():
                return None
            case FlashSeconds():
                return Flash(seconds=wanted.seconds, filter=wanted.filter, way=wanted.way)
        plan = self._strip_plan(wanted.sheet)
        if plan.strip is None or plan.strip.kind == "burn":
            raise Impossible(say("carry.not-a-threshold", title=plan.title), ("flash", "sheet"))
        try:
            ms = flash_ms(plan.strip.totals_ms, wanted.first_tone_band)
        except Impossible as problem:
            raise Impossible(str(problem), ("flash", "first_tone_band")) from None
        return Flash(seconds=Decimal(ms) / 1000, filter=plan.strip.filter, way=wanted.way)

    def _paper(
        self, recipe: Recipe, wanted: KeptPapers | NamedPaper, dry_down: Decimal | None, notes: list[str]
    ) -> ToPaper:
        size = recipe.paper.size if recipe.paper else None
        if isinstance(wanted, NamedPaper):
            paper = Paper(name=wanted.name, support=wanted.support, size=size)
            return ToPaper(paper=paper, stops=wanted.stops, dry_down_percent=dry_down)
        before, after = (self._papers().fetch(each) for each in (wanted.before, wanted.after))
        return ToPaper(
            paper=Paper(name=after.name, size=size),
            stops=corrections_of(recipe, wanted, before, after, notes),
            dry_down_percent=dry_down,
        )


def _link(kept: Kept) -> Link:
    return Link(id=kept.id, version=kept.version)
