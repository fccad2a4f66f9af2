"""Recipes and strips on the shelf: read, reviewed, kept as versions, turned into plans, and picked into."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from decimal import Decimal
from importlib.resources import files
from typing import TYPE_CHECKING, Final, Literal

from controller import wall
from controller.backup.registered import THINGS
from controller.carry.check_strips import confirmed_by, follow_pick, take_check_pick
from controller.errors import Impossible, NotThere, Unreadable
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe, write
from controller.recipe.pick import (
    Pick,
    PickMeaning,
    apply_pick,
    as_it_stood,
    lacking_setup,
    pick_meaning,
    read_pick,
    same_setup,
    with_setup,
)
from controller.recipe.pick_titles import next_title, pick_title
from controller.recipe.plan import Plan
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.recipe.versioned import PlaceNames
from controller.store.entries import Loaded
from controller.store.records import SheetRecord
from controller.store.rows import Row
from controller.store.said_of_sheets import Picked
from controller.store.shelf import OfAKind, Shelf
from controller.store.versions import Kept
from controller.words import say

if TYPE_CHECKING:
    from controller.carry.wanted import Carry

_SET: Final = "negatives"
"""The kind of thing that a set of negatives is."""
_TYPED: Final = "foot.typed-here"
NEGATIVES_END: Final = ".negatives.json"
"""Of a sample that is a set of negatives; before it stand its place and its id."""
FEW: Final = 20
"""So many are at hand without a search."""
USED: Final = 60
"""So many are remembered as used lately, of both kinds."""


class RecipeShelf(OfAKind):
    """What the pages may do with recipes and strips. Safe from any thread, as the shelf is."""

    KINDS = ("recipe", "strip")

    def __init__(
        self,
        shelf: Shelf,
        longest_ms: Callable[[], int],
        may_be_kept: Callable[[str, Plan], object] = lambda _source, _plan: None,
        saved: Callable[[str], object] = lambda _source: None,
    ) -> None:
        """`may_be_kept` refuses a version of `source` by raising; `saved` is told of what was kept by `save`."""
        super().__init__(shelf)
        self._longest_ms = longest_ms
        self._may_be_kept, self._saved = may_be_kept, saved
        self._used: OrderedDict[str, None] = OrderedDict()
        """The last used is the last of them."""
        self._lately: dict[tuple[str, int], tuple[object, tuple[Kept, ...]]] = {}

    def remember(self, rows: Iterable[Row]) -> Loaded | None:
        """Note from the journal what was used when; return what was loaded last, or None."""
        last: Loaded | None = None
        for row in rows:
            if isinstance(row.entry, Loaded):
                last = row.entry
                self.used(row.entry.source)
        return last if last is not None and last.source else None

    def used(self, source: str) -> None:
        """Note that a recipe or strip was used just now."""
        self._used[source] = None
        self._used.move_to_end(source)
        if len(self._used) > USED:
            self._used.popitem(last=False)

    def stock(self) -> None:
        """Lay the invented samples on an empty shelf, so that a newcomer has something to print."""
        if self._shelf.holds("recipe", "strip"):
            return
        for sample in sorted(files("controller").joinpath("samples").iterdir(), key=lambda path: path.name):
            text = sample.read_text(encoding="utf-8")
            if sample.name.endswith(NEGATIVES_END):
                self._lay_set(sample.name, text)
            else:
                with suppress(Unreadable):  # a light of it is longer than the longest that is allowed here
                    self._keep(text)

    def _lay_set(self, name: str, text: str) -> None:
        """Lay a set of practice negatives down, under the id by which the practice darkroom knows its frames."""
        if _SET not in THINGS:  # no room here keeps sets, so nothing could be done with one
            return
        kept = Kept(
            id=name.removesuffix(NEGATIVES_END).partition("-")[2],
            version=1,
            kind=_SET,
            title=json.loads(text)["set"],
            body=text,
            made=wall.label(wall.now()),
        )
        self._shelf.take_in([kept])

    def longest_ms(self) -> int:
        """Return the longest light now set."""
        return self._longest_ms()

    def kept(self, kind: Literal["recipe", "strip"], few: int = FEW) -> Sequence[Kept]:
        """Return the latest versions of a `few` of those at hand: last used first, then last saved."""
        used = tuple(reversed(self._used))
        stand = self._shelf.marks(), used
        before, found = self._lately.get((kind, few), (None, ()))
        if before != stand:
            known = self._shelf.standing(used)
            lately = [
                known[id_][1] for id_ in used if id_ in known and known[id_][1].kind == kind and not known[id_][2]
            ]
            saved = self._shelf.latest(kind, limit=few)
            found = tuple({kept.id: kept for kept in (*lately, *saved)}.values())[:few]
            self._lately[kind, few] = stand, found
        return found

    fetch = OfAKind.get

    def model(self, source: str, version: int | None = None) -> Recipe | Strip:
        """Return a kept recipe or strip as it was read, all its lights within the longest now set."""
        kept = self.fetch(source, version)
        return self.read(kept.body, kept.title)

    @staticmethod
    def written(kept: Kept) -> Recipe | Strip:
        """Return what is kept as it was read, also where a light of it is longer than the longest now set.

        Raises:
            Unreadable: it was written by a newer version of this software.
        """
        return read_recipe(kept.body, kept.title)

    def read(self, text: str, name: str, place_names: PlaceNames | None = None) -> Recipe | Strip:
        """Return the recipe or strip of a text called `name`; `place_names` calls its places what a page calls them.

        Raises:
            Unreadable: with the sentence for the page.
        """
        return read_recipe(text, name, longest_ms=self._longest_ms(), place_names=place_names)

    def recipe(self, source: str, version: int | None = None) -> Recipe:
        """Return a kept recipe as it was read, also where a light of it is longer than the longest now set.

        Raises:
            NotThere: nothing of that id, or no such version of it, is kept.
            Impossible: it is a strip.
        """
        kept = self.fetch(source, version)
        written = self.written(kept)
        if not isinstance(written, Recipe):
            raise Impossible(say("store.not-a-recipe", title=kept.title))
        return written

    def review(self, text: str) -> Plan:
        """Return the steps that a text would give; nothing is kept.

        Raises:
            Unreadable, Impossible: with the sentence for the page.
        """
        return self._compiled(self.read(text, say(_TYPED)), "", 0)

    def save(self, text: str, source: str | None = None) -> Kept:
        """Keep a text that can be read and compiled, as a new version of `source` or as something new.

        Raises:
            Unreadable, Impossible: with the sentence for the page; nothing is kept.
            NotThere: no such recipe or strip is kept.
            StoreTrouble: it could not be written; nothing is kept.
        """
        kept = self._keep(text, source, self._may_be_kept)
        self._saved(kept.id)
        return kept

    def _keep(
        self,
        text: str,
        source: str | None = None,
        may_be_kept: Callable[[str, Plan], object] = lambda _source, _plan: None,
    ) -> Kept:
        model = self.read(text, say(_TYPED))
        may_be_kept(source or "", self._compiled(model, "", 0))
        return self._shelf.save(_kind(model), model.title, write(model), source)

    def plan(self, source: str, version: int | None = None) -> Plan:
        """Return the steps of a kept recipe or strip."""
        kept = self.fetch(source, version)
        if kept.kind not in ("recipe", "strip"):
            raise NotThere(say("foot.load-gone"))
        return self._compiled(self.model(source, kept.version), kept.id, kept.version)

    def meaning(self, record: SheetRecord, band: int, *, between: bool) -> PickMeaning:
        """Return what a pick from a strip's sheet would mean."""
        strip = self._strip(record)
        meaning = pick_meaning(record.plan, strip, band, between=between)
        link = confirmed_by(self._shelf, record.plan.source)
        also = {"title": pick_title(strip, meaning.pick, record.number), "confirms": link.recipe.id if link else ""}
        return meaning.model_copy(update=also)

    def lacking(self, record: SheetRecord) -> dict[str, Decimal | None]:
        """Return what neither a strip nor the enlarger says of a sheet's set-up, each with what the last version says.

        A figure is there as well where it was said with an earlier pick from the sheet; then nothing of it lacks.
        """
        lacking = lacking_setup(self._strip(record))
        if not lacking:
            return {}
        latest = self.written(self.fetch(record.plan.source))
        assert isinstance(latest, Strip)
        told = {"aperture": latest.lens.aperture if latest.lens else None, "head-height": latest.head_height_mm}
        return {name: told[name] for name in lacking}

    def take_pick(
        self,
        record: SheetRecord,
        band: int,
        *,
        between: bool,
        recipe: str,
        title: str = "",
        aperture: Decimal | None = None,
        head_height_mm: Decimal | None = None,
    ) -> tuple[Picked, Kept | None]:
        """Return the pick to be filed, and the recipe version it was kept in, if it can become part of one.

        With `recipe` empty a new recipe is made of it, called `title`, or else as `meaning` proposes. A check strip's
        pick corrects the bases of the recipe it confirms, and the check strips over them. What the strip does not say
        of its set-up, and is said here, goes into its next version.

        Raises:
            Unreadable: what a new recipe was to be called is no title.
            Impossible: it cannot go into this recipe; the sentence says why.
        """
        strip = with_setup(self._strip(record), aperture, head_height_mm)
        pick = read_pick(record.plan, band, between=between)
        base = self.recipe(recipe) if recipe else None
        offered = pick_meaning(record.plan, strip, band, between=between).not_offered is None
        link = confirmed_by(self._shelf, record.plan.source)
        kept = None
        with self._shelf.together():
            if offered and link is not None and base is not None and recipe == link.recipe.id:
                kept = self._confirm(link, base, strip, pick)
            elif offered:
                made = apply_pick(base, strip, pick, longest_ms=self._longest_ms())
                if base is None:
                    called = title.strip() or pick_title(strip, pick, record.number)
                else:
                    called = next_title(base.title, [light.filter for light in made.light], pick, record.number)
                made = made.model_copy(update={"title": called})
                kept = self._keep(write(made), recipe or None)
            if aperture is not None or head_height_mm is not None:
                latest = self.written(self.fetch(record.plan.source))
                assert isinstance(latest, Strip)
                if (after := with_setup(latest, aperture, head_height_mm)) is not latest:
                    self._keep(write(after), record.plan.source)
        picked = Picked(
            sheet=record.id,
            band=band,
            between=between,
            filter=pick.filter,
            seconds=pick.seconds,
            stops=pick.stops,
            level=strip.template == "flash",
            recipe=kept.id if kept else "",
            recipe_version=kept.version if kept else 0,
            aperture=None if aperture is None else float(aperture),
            head_height_mm=None if head_height_mm is None else float(head_height_mm),
        )
        return picked, kept

    def _confirm(self, link: Carry, recipe: Recipe, strip: Strip, pick: Pick) -> Kept:
        same_setup(recipe, strip)
        with self._shelf.together():
            kept = self._keep(write(take_check_pick(link, recipe, pick, longest_ms=self._longest_ms())), link.recipe.id)
            for each in link.strips:
                model = self.model(each.id)
                if isinstance(model, Strip) and (after := follow_pick(model, pick)) != model:
                    self._keep(write(after), each.id)
        return kept

    def _strip(self, record: SheetRecord) -> Strip:
        """Return the strip that a sheet was made by, with its set-up as it was said with earlier picks, or stood."""
        model = self.model(record.plan.source, record.plan.version)
        if not isinstance(model, Strip):
            raise Impossible(say("reckoning.pick-not-a-strip", title=record.plan.title))
        for said in reversed(record.picks):
            model = with_setup(model, _exact(said.aperture), _exact(said.head_height_mm))
        return as_it_stood(model, record.plan.bench)

    def _compiled(self, model: Recipe | Strip, source: str, version: int) -> Plan:
        return compile_any(model, source=source, version=version, longest_ms=self._longest_ms())


def _exact(figure: float | None) -> Decimal | None:
    """Return a figure of the journal as a recipe keeps it: 8 is 8, not 8.0."""
    return None if figure is None else Decimal(f"{figure:.10g}")


def _kind(model: Recipe | Strip) -> Literal["recipe", "strip"]:
    return "recipe" if isinstance(model, Recipe) else "strip"
