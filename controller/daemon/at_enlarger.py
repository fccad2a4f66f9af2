"""What stands at the enlarger, as pages look at it and change it by one tap.

Every change is the one act `acts.StandAtEnlarger`, decided on a snapshot like any other: all that stands after it
goes through the grammar into the journal, and nothing of it is kept anywhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from pydantic import ValidationError

from controller.enlarger import standing
from controller.enlarger.enlargers import Enlarger, column_offset_mm, contradicts, must_agree
from controller.enlarger.standing import Differs, HowItStands, InCarrier, PaperOut, Setting
from controller.errors import Impossible, NotThere, Unreadable, WrongMoment
from controller.foot.acts import Act, StandAtEnlarger
from controller.paper.negative import CALLIER, LightSource
from controller.recipe.at_enlarger import AtEnlarger
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.recipe.plan import Plan
    from controller.recipe.recipe import Recipe
    from controller.recipe.strip import Strip
    from controller.store.settings import Settings
    from controller.store.versions import Kept

FEW: Final = 12
"""So many papers, negatives or set-ups are offered; any other is written."""


class EnlargerDesk:
    """Safe from any thread, as its parts are. Raises as `Desk.do` where it changes what stands."""

    def __init__(
        self,
        enlargers: EnlargerShelf,
        papers: PaperShelf,
        recipes: RecipeShelf,
        *,
        status: Callable[[], Status],
        do: Callable[[Act, int], Status],
        settings: Callable[[], Settings],
        change_settings: Callable[[dict[str, object]], Settings],
        negatives: Callable[[], Sequence[InCarrier]] = tuple,
    ) -> None:
        """`negatives` gives those that may be put into the carrier next, the likeliest first."""
        self._enlargers, self._papers, self._recipes = enlargers, papers, recipes
        self._status, self._do = status, do
        self._settings, self._change_settings = settings, change_settings
        self._negatives = negatives

    # ---- what stands

    def standing(self) -> AtEnlarger:
        """Return what stands at the enlarger."""
        return self._status().bench

    def setting(self) -> Setting:
        """Return what a new recipe or strip begins with: negative, paper, set-up and filters, as its form has them."""
        return standing.setting_of(self.standing())

    def differs(self) -> tuple[Differs, ...]:
        """Return each thing of which what is loaded says another than stands at the enlarger."""
        written = self._loaded()
        return () if written is None else standing.differs(self.standing(), written)

    def change(self, number: int, **changes: Any) -> Status:
        """Change some of what stands, by the names of `AtEnlarger`, decided on snapshot `number`.

        Raises:
            Impossible: a figure is out of its limits.
            WrongMoment: a sheet is open, or the snapshot is not the present one.
        """
        return self._stand(lambda bench: standing.changed(bench, changes), number)

    def put_in(self, number: int, taken: InCarrier | None) -> Status:
        """Put a negative into the carrier, or take out the one that is in it; raises as `change`."""
        past = self._enlargers.past()
        return self._stand(lambda bench: standing.with_negative(bench, taken, past), number)

    def set_up(self, number: int, **changes: Any) -> Status:
        """Change how the enlarger stands; what the column tells of the magnification is not asked again.

        A height with its magnification, where nothing was known of the column, is kept as what its scale lacks.

        Raises:
            Impossible: height and magnification contradict each other; or as `change`.
            WrongMoment: as `change`.
        """
        source, enlarger = self._stands()
        status = self._stand(lambda bench: standing.with_setup(bench, enlarger, **changes), number, enlarger)
        bench = status.bench
        told = "magnification" in changes and bench.magnification is not None and bench.head_height_mm is not None
        if enlarger is None or not told or bench.focal_mm is None or enlarger.column_offset_mm is not None:
            return status
        if (bench.magnification or 0.0) < 1.0:
            return status
        lacks = column_offset_mm(bench.focal_mm, bench.magnification or 1.0, bench.head_height_mm or 0.0)
        if abs(lacks) <= 10_000:
            learnt = {"column_offset_mm": Decimal(str(lacks)), "focal_mm": Decimal(str(bench.focal_mm))}
            self._enlargers.keep(enlarger.model_copy(update=learnt), source)
        return status

    def take_loaded(self, number: int) -> Status:
        """Take over what the loaded recipe or strip says of negative, paper and set-up.

        Raises:
            Impossible: nothing is loaded that says anything.
            WrongMoment: as `change`.
        """
        written = self._loaded()
        if written is None:
            raise Impossible(say("enlarger.nothing-loaded"))
        named = written.paper.name if written.paper is not None else None
        paper = self._papers.called(named) if named else ""
        negatives, past = self.negatives_lately(), self._enlargers.past()
        return self._stand(lambda bench: standing.taken_from(bench, written, negatives, paper, past), number)

    def choose(self, number: int, source: str) -> Status:
        """Work another enlarger: its set-up is as it was last, and its lamp's lag is in force.

        The lag that was in force stays with the enlarger that is left.

        Raises:
            NotThere, Unreadable: as `EnlargerShelf.fetch`.
            WrongMoment: as `change`.
        """
        left, enlarger = self.standing().enlarger, self._enlargers.fetch(source)
        past = self._enlargers.past()
        status = self._stand(lambda bench: standing.with_enlarger(bench, source, enlarger, past), number)
        if left != source:
            self._change_lag(left, enlarger)
        return status

    def _change_lag(self, left: str, enlarger: Enlarger) -> None:
        in_force = _lag(self._settings().lamp_lag_seconds)
        if left:
            with suppress(NotThere, Unreadable):
                before = self._enlargers.fetch(left)
                if before.lag_seconds != in_force:
                    self._enlargers.keep(before.model_copy(update={"lag_seconds": in_force}), left)
        wanted = enlarger.lag_seconds
        if wanted is None:  # of one that just gets its name it is the one in force; of another nothing is known yet
            wanted = _lag(0.0) if left else in_force
        if wanted != in_force:
            self._change_settings({"lamp_lag_seconds": float(wanted)})

    def _stand(
        self, after: Callable[[AtEnlarger], AtEnlarger], number: int, enlarger: Enlarger | None = None
    ) -> Status:
        try:
            bench = after(self.standing())
        except ValidationError as problem:
            place = problem.errors()[0]["loc"]
            raise Impossible(say("enlarger.out-of-limits"), tuple(place[:1])) from None
        if enlarger is not None:
            _agrees(bench, enlarger)
        bench = bench.model_copy(update={"paper_version": self._papers.version_of(bench.paper)})
        return self._do(StandAtEnlarger(bench=bench), number)

    def _stands(self) -> tuple[str, Enlarger | None]:
        source = self.standing().enlarger
        if source:
            with suppress(NotThere, Unreadable):
                return source, self._enlargers.fetch(source)
        return source, None

    def light_source(self) -> tuple[LightSource, float] | None:
        """Return whether the enlarger that stands is a diffuser or a condenser, and its Callier factor.

        The usual one of its kind where none is kept; None where no enlarger with figures stands.
        """
        _, enlarger = self._stands()
        if enlarger is None:
            return None
        own = CALLIER[enlarger.light_source] if enlarger.callier is None else float(enlarger.callier)
        return enlarger.light_source, own

    def must_agree(self, written: Recipe | Strip) -> None:
        """Let what is written pass unless its height and magnification contradict each other; raises `Impossible`."""
        must_agree(written, self._enlargers.readable())

    def _loaded(self) -> Recipe | Strip | None:
        plan: Plan | None = self._status().plan
        if plan is None or plan.of_no_sheet:
            return None
        with suppress(NotThere, Unreadable):
            return self._recipes.written(self._recipes.fetch(plan.source, plan.version))
        return None

    # ---- what one tap may take

    def negatives_lately(self) -> tuple[InCarrier, ...]:
        """Return negatives to choose from: those of the sets, those that were in the carrier, those recipes name."""
        named = (
            InCarrier(title=each.negative.name, format=each.negative.format or "")
            for each in self._written()
            if each.negative is not None
        )
        found: dict[str, InCarrier] = {}
        for each in (*self._negatives(), *standing.negatives_of(self._enlargers.past()), *named):
            titles = {other.title.casefold() for other in found.values()}
            if each.negative or each.title.casefold() not in titles:
                found.setdefault(each.negative or each.title.casefold(), each)
        return tuple(found.values())[:FEW]

    def papers_lately(self) -> tuple[PaperOut, ...]:
        """Return papers to choose from: those that were out with their boxes, those kept, those recipes name."""
        written = [(each.paper, each.paper.name) for each in self._written() if each.paper and each.paper.name]
        lately = standing.papers_of(self._enlargers.past())
        support = {name.casefold(): paper.support for paper, name in written if paper.support is not None}
        support |= {each.title.casefold(): each.support for each in lately if each.support}
        kept = (self._kept_paper(each, support.get(each.title.casefold(), "")) for each in self._papers.kept())
        found: dict[tuple[str, str], PaperOut] = {}
        for each in (*lately, *(paper for paper in kept if paper is not None)):
            found.setdefault((each.title.casefold(), each.box.casefold()), each)
        there = {title for title, _ in found}
        for paper, name in written:
            if name.casefold() not in there:
                found.setdefault((name.casefold(), ""), PaperOut(title=name, support=paper.support or ""))
        return tuple(found.values())[:FEW]

    def setups_lately(self) -> tuple[HowItStands, ...]:
        """Return how the enlarger that is worked stood lately, last first; as it stands now left out."""
        bench = self.standing()
        now = standing.how_it_stands(bench)
        return tuple(each for each in standing.setups_of(self._enlargers.past(), bench.enlarger) if each != now)[:FEW]

    def _written(self) -> Iterator[Recipe | Strip]:
        for kept in (*self._recipes.kept("recipe"), *self._recipes.kept("strip")):
            with suppress(Unreadable):
                yield self._recipes.written(kept)

    def _kept_paper(self, kept: Kept, support: Any) -> PaperOut | None:
        with suppress(Unreadable):
            box = self._papers.paper_of(kept).box.label
            return PaperOut(paper=kept.id, title=kept.title, support=support, box=box)
        return None

    # ---- enlargers

    def enlargers(self) -> EnlargerShelf:
        """Return the enlargers on the shelf."""
        return self._enlargers

    def save(self, enlarger: Enlarger, number: int, source: str | None = None) -> Kept:
        """Keep an enlarger as a new version of `source`, or as a new one; the first of all is worked from now on.

        Where it is the one that is worked, its figures are in force.

        Raises:
            NotThere: no such enlarger is kept.
            StoreTrouble: it could not be written; nothing was kept.
        """
        first = source is None and not self.standing().enlarger
        kept = self._enlargers.keep(enlarger, source)
        if first or source == self.standing().enlarger:
            with suppress(WrongMoment):  # it is kept; it can be chosen once no sheet is open
                self._follow(kept.id, enlarger, number, first=first)
        return kept

    def _follow(self, source: str, enlarger: Enlarger, number: int, *, first: bool) -> None:
        if first:
            self.choose(number, source)
        elif self.standing().enlarger_title != enlarger.name:
            self.change(number, enlarger_title=enlarger.name)
        if enlarger.lag_seconds is not None and enlarger.lag_seconds != _lag(self._settings().lamp_lag_seconds):
            self._change_settings({"lamp_lag_seconds": float(enlarger.lag_seconds)})

    def lag_of(self, source: str, enlarger: Enlarger) -> Decimal | None:
        """Return the lag of an enlarger's lamp: of the one that is worked the one in force, however it was found."""
        if source == self.standing().enlarger:
            return _lag(self._settings().lamp_lag_seconds)
        return enlarger.lag_seconds


def _agrees(bench: AtEnlarger, enlarger: Enlarger) -> None:
    """Refuse a height whose magnification the column has otherwise; raises `Impossible`."""
    told = contradicts(enlarger, bench.focal_mm, bench.head_height_mm, bench.magnification)
    if told is not None:
        words = {"height": f"{bench.head_height_mm:g}", "told": f"{told:.2f}", "said": f"{bench.magnification:g}"}
        raise Impossible(say("enlarger.contradict", **words), ("magnification",))


def _lag(seconds: float) -> Decimal:
    return Decimal(f"{seconds:.4f}".rstrip("0").rstrip("."))
