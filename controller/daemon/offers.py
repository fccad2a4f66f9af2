"""An offer as pages show it; and the one that a new box of paper, or a lamp that has moved, makes for a recipe.

At a recipe's next use, and on its review, it is told what has moved on its paper since it was printed last. Taken, its
times follow in a version of their own and the check strip is loaded; refused, nothing changes and nothing is asked
again until something else has moved. It is never done by itself.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from typing import TYPE_CHECKING, Final, Protocol

from controller.carry.moved import Moved, PaperThen, changes_of, lamp_before, moved
from controller.carry.wanted import CarryWanted, NamedPaper
from controller.errors import Impossible, NotThere, Unreadable
from controller.foot.acts import Load
from controller.model import Frozen
from controller.negatives.next_step import Kind, Offer
from controller.recipe.recipe import must_tell_lights_apart

if TYPE_CHECKING:
    from controller.carry.carry_over import CarryDesk
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.paper.paper import Paper
    from controller.recipe.recipe import Recipe
    from controller.store.archive import Archive

LOADED: Final[frozenset[Kind]] = frozenset({"first strip", "hard strip", "finer strip", "print", "print again"})
"""What a pick leads on to by itself."""
READ: Final[frozenset[Kind]] = frozenset({"readings", "use readings"})
"""Nothing here can be done with these."""
OF_A_PAGE: Final[dict[Kind, str]] = {
    "pick": "/pick/{sheet}",
    "look": "/looked/{sheet}",
    "another size": "/carry/{recipe}",
    "flash level": "/shelf/{recipe}/edit#flash",
    "readings": "/easel",
    "edition": "/editions/new?sheet={sheet}",
    "use readings": "/easel",
    "test": "/tests",
}
"""Where an offer is taken on a page of its own, by day."""
MOST_REFUSED: Final = 100
"""So many recipes are remembered of which it was refused."""


class EaselStands(Protocol):
    """What an offer needs to know of readings at the easel."""

    def answers(self) -> bool:
        """Tell whether a probe answers."""

    def can_measure(self) -> bool:
        """Tell whether spots can be measured on the paper that is out."""

    def measured(self) -> bool:
        """Tell whether spots of the negative in the carrier are measured."""

    def taken(self) -> tuple[str, int] | None:
        """Return the recipe, and its version, that was made of them."""


class Next(Frozen):
    """An offer as pages show it."""

    key: str
    """Names it, so that what was seen is what is taken."""
    offer: Offer
    page: str = ""
    """The page on which it is taken; empty where one tap takes it."""
    number: int = 0
    """The number of the sheet that it goes by."""
    seconds: float = 0.0
    """Of a pick that it goes by."""
    moved: Moved | None = None
    """What has moved, where that is what it goes by."""

    @staticmethod
    def of(offer: Offer, number: int = 0, seconds: float = 0.0, moved: Moved | None = None) -> Next:
        """Return an offer under its name."""
        told = offer.model_dump_json() + ("" if moved is None else moved.model_dump_json())
        key = hashlib.sha256(told.encode()).hexdigest()[:16]
        page = OF_A_PAGE.get(offer.kind, "").format(sheet=offer.sheet, recipe=offer.recipe)
        return Next(key=key, offer=offer, page=page, number=number, seconds=seconds, moved=moved)


class MovedOffers:
    """Safe from any thread, as its parts are."""

    def __init__(self, archive: Archive, recipes: RecipeShelf, papers: PaperShelf, carrying: CarryDesk) -> None:
        self._archive, self._recipes, self._papers, self._carrying = archive, recipes, papers, carrying
        self._refused: dict[str, str] = {}
        """The name of what was refused, by its recipe."""

    def loaded(self, status: Status) -> Next | None:
        """Return what is offered of the recipe that is loaded, where no sheet of it is open."""
        plan = status.plan
        if plan is None or plan.kind != "recipe" or "load" not in status.can:
            return None
        return self.of(plan.source, plan.version, status)

    def of(self, source: str, version: int, status: Status) -> Next | None:
        """Return what is offered of a recipe's newest version at `status`; None where nothing has moved."""
        with suppress(NotThere, Unreadable, Impossible):
            kept = self._recipes.fetch(source)
            if kept.version != version:
                return None
            recipe, then = self._recipes.recipe(source), self._then(source)
            if then is None:
                return None
            now = self._now(status)
            found = moved(recipe, then, now, self._paper(then), self._paper(now, newest=True))
            if found is None:
                return None
            must_tell_lights_apart(recipe)
            exponent = self._carrying.exponent(recipe, self._wanted(recipe, found, status))
            changes = changes_of(recipe, found, exponent)
            offer = Offer(kind="moved", recipe=source, version=version, changes=changes)
            made = Next.of(offer, moved=found)
            return None if self._refused.get(source) == made.key else made
        return None

    def take(self, found: Next, status: Status) -> Load:
        """Carry a recipe over what has moved, and return what is to be loaded: its check strip, or itself.

        Raises:
            Impossible: a time comes out longer or shorter than can be given.
            StoreTrouble: it cannot be kept.
        """
        assert found.moved is not None
        offer = found.offer
        wanted = self._wanted(self._recipes.recipe(offer.recipe), found.moved, status)
        kept = self._carrying.keep(offer.recipe, offer.version, wanted, title="")
        load = kept.strips[0] if kept.strips else kept.recipe
        return Load(source=load.id, version=load.version)

    def _wanted(self, recipe: Recipe, found: Moved, status: Status) -> CarryWanted:
        paper, bench = recipe.paper, status.bench
        named = NamedPaper(
            name=(paper.name if paper and paper.name else bench.paper_title),
            support=(paper.support if paper and paper.support else bench.support or None),
            stops=found.stops,
        )
        return CarryWanted(paper=named, moved=self._now(status))

    def refuse(self, found: Next) -> None:
        """Leave a recipe as it is until something else has moved."""
        if len(self._refused) >= MOST_REFUSED:
            self._refused.pop(next(iter(self._refused)))
        self._refused[found.offer.recipe] = found.key

    @property
    def refusals(self) -> tuple[str, ...]:
        """The names of what was refused."""
        return tuple(self._refused.values())

    def _then(self, source: str) -> PaperThen | None:
        """Return paper and lamp of a recipe's last sheet, or as they were when it was carried over since."""
        record, link = self._archive.last_of(source), self._carrying.moved_last(source)
        if link is not None and (record is None or link.recipe.version > record.plan.version):
            return link.wanted.moved
        if record is None or record.plan.bench is None:
            return None
        return PaperThen.of(record.plan.bench, lamp_before(self._archive.lamp_checks(), record.opened.row))

    def _now(self, status: Status) -> PaperThen:
        checks = self._archive.lamp_checks()
        return PaperThen.of(status.bench, checks[-1][1] if checks else None)

    def _paper(self, at: PaperThen, *, newest: bool = False) -> Paper | None:
        with suppress(NotThere, Unreadable):
            return self._papers.fetch(at.paper, None if newest else at.paper_version) if at.paper else None
        return None
