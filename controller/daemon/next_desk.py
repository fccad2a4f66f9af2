"""What next: the one offer for the negative in the carrier, and what becomes of it by one tap.

The offer itself is `controller.negatives.next_step`'s; here its history is gathered, from the sheets that the negative
lay in the carrier for, and what is taken is carried out. Nothing is kept of an offer but that it was refused, until
the daemon ends.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from controller.daemon.offers import LOADED, READ, EaselStands, MovedOffers, Next
from controller.enlarger.enlargers import Enlarger, ProofStandard, estimate_ms
from controller.enlarger.first_strip import Learned, fineness, k_at_first, learn, wanted_more
from controller.errors import ControllerError, Impossible, NotThere, Unreadable, WrongMoment
from controller.foot.acts import Act, Load, MakeReference
from controller.negatives.next_step import CHOOSE, History, Offer, Past, past_of, what_next
from controller.paper.negative import CALLIER
from controller.recipe.files import write
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.store.said_of_sheets import Picked
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.daemon.negative_shelf import NegativeShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.store.archive import Archive
    from controller.store.records import SheetRecord

NEWEST: Final = 20
"""So many sheets of a negative decide what comes next."""
MOST_WRITTEN: Final = 64
"""So many recipes and strips, as they were read, are kept at hand: those of the newest sheets."""
MOST_REFUSED: Final = 100
"""So many negatives are remembered of which something was refused."""


class NextDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        archive: Archive,
        recipes: RecipeShelf,
        negatives: NegativeShelf,
        enlargers: EnlargerShelf,
        status: Callable[[], Status],
        do: Callable[[Act, int], Status],
        easel: EaselStands | None = None,
        begun: Callable[[str, int], str] = lambda _recipe, _version: "",
        due: Callable[[], bool] = lambda: False,
        moved: MovedOffers | None = None,
    ) -> None:
        """`easel` tells how readings stand, without it nothing is measured; `begun` a recipe’s edition, `due` tests.

        `moved` tells what has moved on a recipe's paper; without it nothing has.
        """
        self._easel, self._begun, self._due, self._moved = easel, begun, due, moved
        self._status, self._do = status, do
        self._archive, self._recipes, self._negatives, self._enlargers = archive, recipes, negatives, enlargers
        self._refused: dict[tuple[str, str], History] = {}
        self._offered: tuple[tuple[object, ...], Next | None] | None = None
        """What was offered last, and all that it went by: with nothing new it is not thought out again."""
        self._learned_by: tuple[tuple[object, ...], Learned] | None = None
        self._written = lru_cache(MOST_WRITTEN)(self._read)

    def offer(self, status: Status) -> Next | None:
        """Return what is offered at `status`; None with a sheet open, or nothing in the carrier that is known.

        What has moved on the paper of the recipe that is loaded comes first, whatever lies in the carrier.
        """
        bench = status.bench
        if "load" not in status.can:
            return None
        by = self._all_it_goes_by(status)
        if self._offered is not None and self._offered[0] == by:
            return self._offered[1]
        moved = None if self._moved is None else self._moved.loaded(status)
        if moved is not None or not bench.negative:
            self._offered = (by, moved)
            return moved
        try:
            history, records, whole = self._history(bench)
        except (NotThere, Unreadable):  # its set is gone, or newer than this software
            return None
        found = self._thought_out(status, history, records)
        self._offered = (by, found) if whole else None
        return found

    def of_recipe(self, source: str, version: int) -> Next | None:
        """Return what has moved on a recipe's paper since it was printed last; None where nothing has."""
        return None if self._moved is None else self._moved.of(source, version, self._status())

    def take_moved(self, source: str, version: int, key: str, number: int) -> Status:
        """Carry a recipe over what has moved, as it was seen on its review; raises as `take`."""
        found = self.of_recipe(source, version)
        if found is None or found.key != key:
            raise WrongMoment(say("foot.stale"))
        return self._take_moved(found, number)

    def _take_moved(self, found: Next, number: int) -> Status:
        """Carry a recipe over, decided on snapshot `number`, and load its check strip: the recipe's version is new."""
        status = self._status()
        if self._moved is None or not status.holds(number):
            raise WrongMoment(say("foot.stale"))
        if "load" not in status.can:
            raise WrongMoment(say("foot.not-now"))
        load = self._moved.take(found, status)
        return self._do(load, self._status().number)

    def _all_it_goes_by(self, status: Status) -> tuple[object, ...]:
        """Return what an offer depends on; whatever else is new, it stays."""
        bench, plan = status.bench, status.plan
        loaded = None if plan is None else (plan.source, plan.version, plan.kind)
        refused = self._refused.get((bench.negative, bench.paper_title))
        probe = None if self._easel is None else self._easel.answers()
        told = None if self._moved is None else self._moved.refusals
        longest = self._recipes.longest_ms()
        return bench, loaded, refused, told, probe, longest, self._enlargers.marks(), self._due()

    def _thought_out(self, status: Status, history: History, records: list[SheetRecord]) -> Next | None:
        found = what_next(history)
        while self._is_done(found):
            history = history.refuse(found)
            found = what_next(history)
        if found == CHOOSE or self._stands_ready(found, status):
            return None
        last = records[-1] if records else None
        seconds = last.picks[-1].seconds if last and last.picks else 0.0
        return Next.of(found, number=last.number if last else 0, seconds=seconds)

    def _is_done(self, found: Offer) -> bool:
        """Tell whether what is offered was done, where no sheet says so."""
        if found.kind == "edition":
            return bool(self._begun(found.recipe, found.version))
        return found.kind == "standard" and self._is_standard(found.sheet)

    def _stands_ready(self, found: Offer, status: Status) -> bool:
        """Tell whether what is offered is loaded already."""
        plan = status.plan
        if plan is None or plan.of_no_sheet:
            return False
        if found.kind in READ:
            return self._easel is not None and self._easel.taken() == (plan.source, plan.version)
        if found.strip is None:
            return found.kind in LOADED and (found.recipe, found.version) == (plan.source, plan.version)
        with suppress(NotThere, Unreadable):
            return self._written(plan.source, plan.version, self._recipes.longest_ms()) == found.strip
        return False

    def take(self, key: str, number: int) -> Status:
        """Carry out the offer that was seen, decided on snapshot `number`.

        Raises:
            WrongMoment: it is no longer what is offered; or as `Desk.do`.
            Impossible, StoreTrouble: it cannot be kept.
        """
        found = self._seen(key)
        offer = found.offer
        if offer.strip is not None:
            kept = self._recipes.save(write(offer.strip))
            return self._do(Load(source=kept.id, version=kept.version), number)
        match offer.kind:
            case "moved":
                return self._take_moved(found, number)
            case "print" | "print again":
                return self._do(Load(source=offer.recipe, version=offer.version), number)
            case "standard":
                self._keep_standard(offer.sheet)
                return self._status()
            case "keep":
                return self._do(MakeReference(sheet=self._last_of(offer)), number)
        raise Impossible(say("page.next-elsewhere"))

    def go_on(self, status: Status) -> Status:
        """Carry out what is offered at `status`, where it is something to load; return the snapshot after it."""
        found = self.offer(status)
        return self.take(found.key, status.number) if found is not None and found.offer.kind in LOADED else status

    def refuse(self, key: str) -> None:
        """Offer something else until more has happened; raises as `take`."""
        found, bench = self._seen(key), self._status().bench
        if found.moved is not None and self._moved is not None:
            self._moved.refuse(found)
            return
        history, _, _ = self._history(bench)
        if len(self._refused) >= MOST_REFUSED:
            self._refused.pop(next(iter(self._refused)))
        self._refused[bench.negative, bench.paper_title] = history.refuse(found.offer)

    def _seen(self, key: str) -> Next:
        found = self.offer(self._status())
        if found is None or found.key != key:
            raise WrongMoment(say("foot.stale"))
        return found

    def base_of(self, record: SheetRecord) -> str:
        """Return the recipe that a strip's pick belongs to: its lights lay under the strip; else nothing."""
        bench = record.plan.bench
        with suppress(NotThere, Unreadable, Impossible):
            strip = self._recipes.written(self._recipes.fetch(record.plan.source, record.plan.version))
            if bench is None or not bench.negative or not isinstance(strip, Strip) or not strip.under:
                return ""
            for line in self._negatives.life(bench.negative).sheets[:NEWEST]:
                for pick in reversed(self._archive.record(line.id).picks):
                    if pick.recipe and self._recipes.recipe(pick.recipe).bare_lights == strip.under:
                        return pick.recipe
        return ""

    # ---- the history

    def _history(self, bench: AtEnlarger) -> tuple[History, list[SheetRecord], bool]:
        """Return what was done with a negative on a paper, the sheets of it, and whether that is all of it for sure."""
        frame, longest = self._negatives.negative(bench.negative).frame, self._recipes.longest_ms()
        life = self._negatives.life(bench.negative)
        records = [self._archive.record(line.id) for line in reversed(life.sheets[:NEWEST])]
        sheets, of = [], []
        for record in records:
            stood = record.plan.bench
            if record.plan.flashes_sheets or stood is None or stood.paper_title != bench.paper_title:
                continue
            with suppress(NotThere, Unreadable):
                sheets.append(past_of(record, self._written(record.plan.source, record.plan.version, longest)))
                of.append(record)
        enlarger = self._enlarger(bench)
        fine = fineness(learned := self._learned(bench, enlarger))
        refused = self._refused.get((bench.negative, bench.paper_title))
        history = History(
            at=bench,
            sheets=tuple(sheets),
            estimate_ms=estimate_ms(bench, enlarger, frame.look or "", learned.k),
            step=fine.step,
            bands=fine.bands,
            probe=self._easel is not None and self._easel.can_measure(),
            measured=self._easel is not None and self._easel.measured(),
            kept=tuple((record.plan.source, record.plan.version) for record in of if record.reference),
            flashed=self._flashed(sheets),
            refused=refused.refused if refused else (),
            due=self._due(),
            longest_ms=longest,
        )
        return history, of, not life.behind

    def _flashed(self, sheets: list[Past]) -> tuple[str, int] | None:
        """Return the recipe that was printed last, where it has got a flash since, with its newest version."""
        last = next((past for past in reversed(sheets) if isinstance(past.written, Recipe)), None)
        with suppress(NotThere, Unreadable, Impossible):
            if last is not None:
                kept = self._recipes.fetch(last.source)
                if kept.version > last.version and self._recipes.recipe(kept.id).flash is not None:
                    return kept.id, kept.version
        return None

    def _read(self, source: str, version: int, _longest_ms: int) -> Recipe | Strip:
        """Return a version of a recipe or strip, which never changes, as it is read while a light may be so long."""
        return self._recipes.written(self._recipes.fetch(source, version))

    def _enlarger(self, bench: AtEnlarger) -> Enlarger | None:
        with suppress(NotThere, Unreadable):
            return self._enlargers.fetch(bench.enlarger) if bench.enlarger else None
        return None

    def _learned(self, bench: AtEnlarger, enlarger: Enlarger | None) -> Learned:
        """Return what this enlarger's first strips have taught, by the standard that is kept now."""
        if enlarger is None:
            return Learned(0.0, 0)
        usual = CALLIER[enlarger.light_source]
        start = k_at_first(enlarger.light_source, usual if enlarger.callier is None else float(enlarger.callier))
        if enlarger.proof is None:
            return Learned(start, 0)
        picks = self._enlargers.picked()
        by = bench.enlarger, enlarger, picks, self._enlargers.marks()[:-1]
        if self._learned_by is not None and self._learned_by[0] == by:
            return self._learned_by[1]
        wanted: dict[str, float] = {}
        for picked in picks:
            with suppress(ControllerError):
                if (more := self._wanted(picked, bench.enlarger, enlarger)) is not None:
                    wanted.setdefault(picked.sheet, more)
        learned = learn(tuple(wanted.values()), start)
        self._learned_by = by, learned
        return learned

    def _wanted(self, picked: Picked, source: str, enlarger: Enlarger) -> float | None:
        record = self._archive.record(picked.sheet)
        strip, at = record.plan.strip, record.plan.bench
        if strip is None or strip.template != "first" or at is None or at.enlarger != source or not at.negative:
            return None
        estimate = estimate_ms(at, enlarger, self._negatives.negative(at.negative).frame.look or "", 0.0)
        if not estimate or not picked.seconds:
            return None
        return wanted_more(round(picked.seconds * 1000), Fraction(estimate))

    def _last_of(self, offer: Offer) -> str:
        _, records, _ = self._history(self._status().bench)
        for record in reversed(records):
            if (record.plan.source, record.plan.version) == (offer.recipe, offer.version):
                return record.id
        raise WrongMoment(say("foot.stale"))

    def _is_standard(self, sheet: str) -> bool:
        """Tell whether a contact proof's pick is the standard already."""
        record = self._archive.record(sheet)
        enlarger = self._enlarger(record.plan.bench) if record.plan.bench else None
        proof = enlarger.proof if enlarger else None
        if proof is None or not record.picks:
            return False
        return (float(proof.seconds), proof.date) == (record.picks[-1].seconds, _day(record.opened.wall))

    def _keep_standard(self, sheet: str) -> None:
        """Keep a contact proof's pick as the standard of the enlarger that stands; raises `Impossible`."""
        record = self._archive.record(sheet)
        bench, pick = record.plan.bench, record.picks[-1] if record.picks else None
        enlarger = self._enlarger(bench) if bench else None
        if bench is None or pick is None or enlarger is None or bench.aperture is None or not bench.paper_title:
            raise Impossible(say("enlarger.standard-lacks"))
        facts = {
            "seconds": pick.seconds,
            "filter": pick.filter,
            "head_height_mm": bench.head_height_mm,
            "magnification": bench.magnification,
            "aperture": bench.aperture,
            "paper": bench.paper or bench.paper_title,
            "box": bench.box or None,
            "date": _day(record.opened.wall),
        }
        standard = ProofStandard.model_validate({name: value for name, value in facts.items() if value is not None})
        self._enlargers.keep(enlarger.model_copy(update={"proof": standard}), bench.enlarger)


def _day(wall: str) -> date:
    with suppress(ValueError):  # the clock was not set
        return date.fromisoformat(wall[:10])
    return date(1970, 1, 1)
