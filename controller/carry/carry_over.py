"""Carrying over at the desk: a recipe becomes its next, is kept with its check strips, and their pick is taken.

Where two kept papers are compared, numpy and scipy are loaded then, never before.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from controller.carry.carry import carry
from controller.carry.changes import Change, ToAperture, ToDryDown, ToFlash, ToPaper, ToSize
from controller.carry.check_strips import check_strips
from controller.carry.wanted import (
    Carry,
    CarryWanted,
    Distances,
    FlashSeconds,
    FlashStrip,
    KeptPapers,
    Link,
    NamedPaper,
    NoFlash,
    Preview,
    SizeWanted,
    read_carry,
    write_carry,
)
from controller.contrast.asks import Papers
from controller.errors import Impossible, Unreadable
from controller.exposure.size import lens_to_easel_mm, lens_to_negative_mm, magnification_at
from controller.exposure.strip_times import flash_ms
from controller.model import Frozen
from controller.paper.libraries import with_libraries
from controller.recipe.files import read_tree, write
from controller.recipe.pick import pick_offered
from controller.recipe.recipe import Flash, Lens, Paper, Recipe
from controller.recipe.set_up import SetUp
from controller.words import say

if TYPE_CHECKING:
    from controller.carry.carry import Carried
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
        shelf: Shelf,
        papers: Papers,
        recipe: Callable[[str, int | None], Recipe],
        longest_ms: Callable[[], int],
        strip_plan: Callable[[str], Plan],
        saved: Callable[[str], object] = lambda _recipe: None,
    ) -> None:
        self._shelf, self._papers, self._recipe, self._longest_ms = shelf, papers, recipe, longest_ms
        self._strip_plan, self._saved = strip_plan, saved
        self._tested: Callable[[str], float | None] = lambda _name: None

    def use_tests(self, tested: Callable[[str], float | None]) -> None:
        """Ask `tested` for the reciprocity exponent of papers that are known by their name alone."""
        self._tested = tested

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
        exponent = self.exponent(known, wanted)
        carried = carry(known, changes, exponent=exponent, longest_ms=self._longest_ms())
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
            exponent=exponent,
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
        shelf = self._shelf
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
                wanted=wanted.model_copy(update={"exponent": preview.exponent}),
            )
            kept = shelf.save("carry", made.title, write_carry(link))
        self._saved(recipe.id)
        return CarriedOver(id=kept.id, recipe=link.recipe, strips=link.strips)

    def fetch(self, carried: str) -> Carry:
        """Return what was carried over under this id.

        Raises:
            NotThere: nothing was.
        """
        return read_carry(self._shelf.get(carried).body)

    def exponent(self, recipe: Recipe, wanted: CarryWanted) -> float:
        """Return the reciprocity exponent of the paper that is printed on next, as its test found it; else as asked."""
        if isinstance(wanted.paper, KeptPapers):
            source, name = wanted.paper.after, ""
        else:
            name = wanted.paper.name if wanted.paper else (recipe.paper.name if recipe.paper else None) or ""
            source = self._papers.called(name) if name else ""
        kept = self._papers.fetch(source).reciprocity if source else None
        found = kept.exponent if kept is not None else self._tested(name) if name else None
        return wanted.exponent if found is None else found

    def moved_last(self, recipe: str) -> Carry | None:
        """Return the last carrying over of a recipe to another box, or to a lamp that had moved; None where none."""
        for kept in self._shelf.holding("carry", recipe):
            with suppress(Unreadable):
                link = read_carry(kept.body)
                if link.recipe.id == recipe and link.wanted.moved is not None:
                    return link
        return None

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
            changes.append(self._flash(wanted.flash))
        return tuple(changes)

    def _flash(self, wanted: FlashSeconds | FlashStrip | NoFlash) -> ToFlash:
        match wanted:
            case NoFlash():
                return ToFlash(flash=None)
            case FlashSeconds():
                return ToFlash(flash=Flash(seconds=wanted.seconds, filter=wanted.filter, way=wanted.way))
        plan = self._strip_plan(wanted.sheet)
        if plan.strip is None or plan.strip.kind == "burn":
            raise Impossible(say("carry.not-a-threshold", title=plan.title), ("flash", "sheet"))
        try:
            ms = flash_ms(plan.strip.totals_ms, wanted.first_tone_band)
        except Impossible as problem:
            raise Impossible(str(problem), ("flash", "first_tone_band")) from None
        flash = Flash(seconds=Decimal(ms) / 1000, filter=plan.strip.filter, way=wanted.way)
        return ToFlash(flash=flash, found_at=plan.set_up or SetUp())

    def _paper(
        self, recipe: Recipe, wanted: KeptPapers | NamedPaper, dry_down: Decimal | None, notes: list[str]
    ) -> ToPaper:
        size = recipe.paper.size if recipe.paper else None
        if isinstance(wanted, NamedPaper):
            paper = Paper(name=wanted.name, support=wanted.support, size=size)
            return ToPaper(paper=paper, stops=wanted.stops, dry_down_percent=dry_down)
        with with_libraries():
            from controller.carry.other_paper import corrections_of, flashes_on
        before, after = (self._papers.fetch(each) for each in (wanted.before, wanted.after))
        flashes = flashes_on(recipe, before, after)
        return ToPaper(
            paper=Paper(name=after.name, size=size),
            stops=corrections_of(recipe, wanted, before, after, notes, flashes),
            dry_down_percent=dry_down,
            flash_stops=None if flashes is None else flashes.stops,
        )


def _link(kept: Kept) -> Link:
    return Link(id=kept.id, version=kept.version)


def said_too(recipe: Recipe, wanted: CarryWanted) -> Recipe:
    """Return the recipe with what it did not say itself: its magnification, aperture and focal length."""
    update: dict[str, object] = {}
    if recipe.magnification is None and wanted.now_magnification is not None:
        update["magnification"] = wanted.now_magnification
    lens = recipe.lens or Lens()
    aperture = lens.aperture if lens.aperture is not None else wanted.now_aperture
    focal = lens.focal_mm if lens.focal_mm is not None else wanted.focal_mm
    if (aperture, focal) != (lens.aperture, lens.focal_mm):
        told = {"aperture": aperture, "focal_mm": focal}
        update["lens"] = Lens(**{name: value for name, value in told.items() if value is not None})
    return recipe.model_copy(update=update) if update else recipe


def size_change(recipe: Recipe, wanted: SizeWanted) -> ToSize:
    """Return the change of size that is wanted.

    Raises:
        Impossible: none or several sizes are told, or the lens would stand nearer than its focal length.
    """
    told = [wanted.magnification, wanted.image_mm, wanted.lens_to_easel_mm]
    if sum(each is not None for each in told) != 1:
        raise Impossible(say("carry.one-size"), ("size", "magnification"))
    magnification = wanted.magnification
    if wanted.lens_to_easel_mm is not None:
        if recipe.lens is None or recipe.lens.focal_mm is None:
            raise Impossible(say("carry.no-focal"), ("focal_mm",))
        found = magnification_at(Fraction(recipe.lens.focal_mm), Fraction(wanted.lens_to_easel_mm))
        if not Fraction(1, 100) <= found <= 200:
            words = {"distance": f"{wanted.lens_to_easel_mm:f}", "focal": f"{recipe.lens.focal_mm:f}"}
            raise Impossible(say("carry.too-near", **words), ("size", "lens_to_easel_mm"))
        magnification = round(Decimal(found.numerator) / Decimal(found.denominator), 4)
    return ToSize(
        magnification=magnification,
        image_mm=wanted.image_mm,
        pupil=wanted.pupil,
        head_height_mm=wanted.head_height_mm,
        paper_size=wanted.paper_size or None,
    )


def distances(before: Recipe, after: Recipe) -> tuple[Distances, Distances] | None:
    """Return where the lens stands before and after; None where focal length or magnification is not known."""
    if before.lens is None or before.lens.focal_mm is None:
        return None
    focal, found = Fraction(before.lens.focal_mm), []
    for recipe in (before, after):
        if recipe.magnification is None:
            return None
        m = Fraction(recipe.magnification)
        found.append(
            Distances(
                lens_to_easel_mm=_tenths(lens_to_easel_mm(focal, m)),
                lens_to_negative_mm=_tenths(lens_to_negative_mm(focal, m)),
            )
        )
    return found[0], found[1]


def _tenths(mm: Fraction) -> Decimal:
    return Decimal(round(mm * 10)) / 10


def bases_sentence(carried: Carried) -> str:
    """Return the whole of it in one sentence: each base as it was and as it is."""
    pairs = zip(carried.before.light, carried.recipe.light, strict=True)
    bases = [
        say("carry.base", filter=new.filter, old=f"{float(old.seconds):.1f}", new=f"{float(new.seconds):.1f}")
        for old, new in pairs
    ]
    same = all(one.seconds == two.seconds for one, two in zip(carried.before.light, carried.recipe.light, strict=True))
    if same:
        return say("carry.same-bases")
    sentence = say("carry.bases", bases=", ".join(bases))
    return sentence[:1].upper() + sentence[1:]
