"""Editions as pages ask for them: begun from a print, numbered sheet by sheet after looking, by day."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from pydantic import Field

from controller.daemon.edition_ledgers import Ledgers, edition_of
from controller.daemon.stock_desk import StockDesk
from controller.editions.alike import Alike, alike, figure, is_print, must_be_of
from controller.editions.cost import Cost, cost_of
from controller.editions.ledger import (
    MOST_SHEETS,
    Edition,
    Given,
    Ledger,
    Outcome,
    given_of,
    ledger_of,
    read_edition,
    told,
    write_edition,
)
from controller.errors import Impossible, NotThere, StoreTrouble, WrongMoment
from controller.model import Frozen
from controller.words import say

if TYPE_CHECKING:
    from controller.foot.status import Status
    from controller.store.archive import Archive
    from controller.store.lookups import Lookups
    from controller.store.records import SheetRecord

READY: Final = 8
"""Prints that stand ready to be looked at, on one page."""
LOOKED_THROUGH: Final = 60
"""Sheets of a recipe among which those are sought, at a time."""


class Ready(Frozen):
    """A closed print that may be given a number."""

    sheet: str
    number: int
    """The sheet's running number."""
    opened: str
    photograph: str = ""
    """Hash of its small photograph."""
    alike: Alike


class Board(Frozen):
    """An edition as its page shows it."""

    id: str
    title: str
    ledger: Ledger
    ready: tuple[Ready, ...] = ()
    older: int | None = None
    """The place below which further prints that stand ready begin."""
    sure: bool = True
    """Else the journal is not the one in which numbers were given last: first it is said which are out."""
    out: tuple[Given, ...] = ()
    """What is given and the journal does not know."""
    numbers: dict[str, int] = Field(default_factory=dict)
    """The running number of each sheet that stands on it, as far as the journal has it."""


class EditionDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        ledgers: Ledgers,
        lookups: Lookups,
        archive: Archive,
        status: Callable[[], Status],
    ) -> None:
        self._ledgers, self._lookups, self._archive, self._status = ledgers, lookups, archive, status
        self._stock = StockDesk(ledgers, lookups, status)

    def kept(self) -> Ledgers:
        """Return the editions themselves, to be put away and taken out."""
        return self._ledgers

    def stock(self) -> StockDesk:
        """Return the paper in boxes."""
        return self._stock

    # ---- looking

    def board(self, source: str, *, first: str = "", below: int | None = None) -> Board:
        """Return an edition as its page shows it; `first` is a sheet that is asked for before all others.

        Raises:
            NotThere: no such edition is kept.
            Unreadable: it was written by a newer version of this software.
        """
        ledger = self._ledgers.ledger(source)
        ready, older = self._ready(ledger, first or self._status().closed_sheet or "", below)
        return Board(
            id=source,
            title=self._ledgers.get(source).title,
            ledger=ledger,
            ready=ready,
            older=older,
            sure=self._ledgers.sure(source),
            out=self._ledgers.out(source),
            numbers=self._numbers([one.sheet for one in ledger.given if one.sheet][-MOST_SHEETS:]),
        )

    def begun(self, recipe: str, version: int) -> str:
        """Return the edition of a version of a recipe, or nothing."""
        self._lookups.follow()
        found = self._lookups.rows(
            "SELECT id FROM edition_terms WHERE recipe = ? AND version = ? ORDER BY place DESC LIMIT 1", recipe, version
        )
        return str(found[0][0]) if found else ""

    def of_sheet(self, record: SheetRecord) -> tuple[str, str]:
        """Return the edition of a closed print, and what it is there: "3/5", or nothing yet; two empty without one."""
        if (row := record.numbered) is not None:
            terms = Edition(recipe=row.recipe, version=row.version, size=row.size, proofs=row.proofs)
            return row.edition, told(terms, given_of(row))
        plan = record.plan
        return (self.begun(plan.source, plan.version) if plan.kind == "recipe" and record.closed else ""), ""

    def may_begin(self, record: SheetRecord) -> bool:
        """Tell whether an edition may be begun from a sheet: a complete print of a recipe that has none yet."""
        return is_print(record) and not self.begun(record.plan.source, record.plan.version)

    def written(self, source: str) -> str:
        """Return an edition as a file, `treadle/edition/1`, with all that was given of it; raises as `board`.

        Where two darkrooms gave one number, the file has it once, as it stands here first.
        """
        ledger = self._ledgers.ledger(source)
        found: dict[object, Given] = {}
        for one in ledger.given:
            found.setdefault((one.outcome, one.number) if one.number else one.sheet, one)
        title = ledger.edition.title or self._ledgers.get(source).title
        return write_edition(ledger.edition.model_copy(update={"title": title, "sheets": tuple(found.values())}))

    def cost(self, source: str) -> Cost:
        """Return what the prints of an edition cost: every sheet on the way to it and in it; raises as `board`."""
        ledger = self._ledgers.ledger(source)
        self._lookups.follow()
        return cost_of(self._stock.used(ledger), len(ledger.kept) + len(ledger.proofs), ledger.edition.chemistry)

    def of_print(self, source: str, sheet: str) -> tuple[Edition, Given, SheetRecord]:
        """Return an edition, what a print of it is, and the print's record.

        Raises:
            NotThere: no such edition; or the print has no number there, or the journal does not know it.
        """
        ledger = self._ledgers.ledger(source)
        given = ledger.of(sheet)
        if given is None or given.number is None:
            raise NotThere(say("editions.no-print"))
        return ledger.edition, given, self._archive.record(sheet)

    # ---- beginning, and its terms

    def begin(self, sheet: str, size: int, proofs: int) -> str:
        """Begin an edition of the recipe's version that a print was made by, with it as the reference; return its id.

        One that a restored backup does not know any more comes back with the terms it was begun with.

        Raises:
            Impossible: it is no complete print of a recipe, or there is an edition of it.
            NotThere: there is no such sheet.
            WrongMoment: it is not day.
        """
        record = self._archive.record(sheet)
        plan = record.plan
        with self._ledgers.lock:
            self._by_day()
            if not is_print(record):
                raise Impossible(say("editions.no-print-to-begin"))
            if source := self._ledgers.of_recipe(plan.source, plan.version):
                self._ledgers.ledger(source).may_become(size, proofs)
                return source
            if (before := self._ledgers.noted_of(plan.source, plan.version)) is not None:
                source, mark = before
                ledger_of(edition_of(mark), mark.given).may_become(size, proofs)
                self._ledgers.bring_back(source, mark)
                return source
            terms = {"title": plan.title, "recipe": plan.source, "version": plan.version}
            more = {"size": size, "proofs": proofs, "reference": sheet}
            source = self._ledgers.keep(Edition.model_validate(terms | more), plan.title)
            self._ledgers.mark(source)
            return source

    def change(self, source: str, size: int, proofs: int) -> None:
        """Change how many prints an edition has, while none was given; raises `Impossible`, or as `board`."""
        with self._ledgers.lock:
            self._by_day()
            ledger = self._ledgers.ledger(source)
            ledger.may_become(size, proofs)
            self._keep(source, ledger.edition.model_copy(update={"size": size, "proofs": proofs}))
            if self._ledgers.sure(source):
                self._ledgers.mark(source)

    def say_more(self, source: str, process: str, toner: str, chemistry: Decimal | None) -> None:
        """Say what a certificate tells of the prints, and what the chemistry of all of them costs.

        Raises:
            Unreadable: words that cannot be kept; the place is the field. Or as `board`.
        """
        with self._ledgers.lock:
            edition = self._ledgers.ledger(source).edition.model_copy(
                update={"process": process or None, "toner": toner or None, "chemistry": chemistry}
            )
            title = self._ledgers.get(source).title
            self._ledgers.keep(read_edition(write_edition(edition), title), title, source)

    def _keep(self, source: str, edition: Edition) -> None:
        self._ledgers.keep(edition, self._ledgers.get(source).title, source)

    # ---- giving

    def give(self, source: str, sheet: str, outcome: Outcome, number: int = 0, said: str = "") -> Given:
        """Give a print its number, or none for ever; `number` is the one that was seen.

        `said` is the spread that the printer was shown and says to count all the same, as `figure` has it.

        Raises:
            WrongMoment: it is not day, or which numbers are out is not sure.
            Impossible: the ledger refuses it, it is no print of this edition, or its number is withheld.
            NotThere: there is no such edition, or no such sheet.
            KeeperGone, StoreTrouble: as `Ledgers.file`.
        """
        record = self._archive.record(sheet)
        with self._ledgers.lock:
            self._by_day()
            ledger = self._ledgers.ledger(source)
            reference = self._reference(ledger)
            must_be_of(ledger.edition, reference, record, outcome)
            off = alike(reference or record, record)
            given = ledger.give(sheet, outcome, number, off.spread_stops)
            if outcome != "reject" and not self._ledgers.sure(source):
                raise WrongMoment(say("editions.not-sure"))
            if outcome != "reject" and off.why and said != figure(off):
                raise Impossible(say(f"editions.withheld-{off.why.replace(' ', '-')}", stops=figure(off)))
            self._ledgers.file(source, ledger.edition, given, said=bool(off.why) and outcome != "reject")
            if ledger.edition.reference is None and outcome == "keep":
                with suppress(StoreTrouble):  # the number is given; the first print kept is the reference anyhow
                    self._keep(source, ledger.edition.model_copy(update={"reference": sheet}))
            if self._ledgers.sure(source):
                self._ledgers.mark(source)
            return given

    def say_out(self, source: str, keeps: set[int], proofs: set[int]) -> None:
        """Say which numbers are out on prints, where the journal may not know them all; what is noted is out anyhow.

        Raises:
            Impossible: a number that this edition does not have.
            NotThere, Unreadable: as `board`.
            WrongMoment, KeeperGone, StoreTrouble: as `give`.
        """
        with self._ledgers.lock:
            self._by_day()
            ledger = self._ledgers.ledger(source)
            edition = ledger.edition
            if not keeps <= set(range(1, edition.size + 1)) or not proofs <= set(range(1, edition.proofs + 1)):
                raise Impossible(say("editions.number-gone"))
            for one in self._ledgers.out(source):
                self._ledgers.file(source, edition, one)
            outcomes: tuple[tuple[Outcome, set[int]], ...] = (("keep", keeps - ledger.kept.keys()), ("proof", proofs))
            for outcome, numbers in outcomes:
                for number in sorted(numbers - (ledger.proofs.keys() if outcome == "proof" else set())):
                    self._ledgers.file(source, edition, Given(sheet="", outcome=outcome, number=number))
            self._ledgers.mark(source)

    # ---- one by one

    def _by_day(self) -> None:
        if self._status().day_until_ns is None:
            raise WrongMoment(say("editions.by-day"))

    def _record(self, sheet: str) -> SheetRecord | None:
        with suppress(NotThere, StoreTrouble):
            return self._archive.record(sheet)
        return None

    def _numbers(self, sheets: list[str]) -> dict[str, int]:
        """Return the running number of each of these sheets that the journal has: without folding all of them."""
        if not sheets:
            return {}
        self._lookups.follow()
        sql = f"SELECT sheet, number FROM thread_sheets WHERE sheet IN ({', '.join('?' * len(sheets))})"  # noqa: S608
        found = {str(sheet): int(number) for sheet, number in self._lookups.rows(sql, *sheets)}
        rest = ((sheet, self._record(sheet)) for sheet in sheets if sheet not in found)
        return found | {sheet: record.number for sheet, record in rest if record}

    def _reference(self, ledger: Ledger) -> SheetRecord | None:
        """Return the print that the others are held against: the one it was begun with, else the first one kept."""
        kept = (one.sheet for all_of in ledger.kept.values() for one in all_of)
        for sheet in filter(None, (ledger.edition.reference, *kept)):
            if (record := self._record(sheet)) is not None and record.plan.source == ledger.edition.recipe:
                return record
        return None

    def _ready(self, ledger: Ledger, first: str, below: int | None) -> tuple[tuple[Ready, ...], int | None]:
        """Return prints of an edition of which nothing was said yet, the newest first, and where the rest begins."""
        edition, reference = ledger.edition, self._reference(ledger)
        self._lookups.follow()
        found = self._lookups.rows(_OF_RECIPE, edition.recipe, 1 << 62 if below is None else below, LOOKED_THROUGH)
        ready: list[Ready] = []
        beginning = [(0, first)] if first and below is None else []
        older = int(found[-1][1]) if len(found) == LOOKED_THROUGH else None
        for place, sheet in (*beginning, *((int(place), str(sheet)) for sheet, place in found)):
            if len(ready) == READY:
                older = place + 1
                break
            if any(one.sheet == sheet for one in ready) or ledger.of(sheet) is not None:
                continue
            record = self._record(sheet)
            try:
                must_be_of(ledger.edition, reference, record, "reject")
            except Impossible:
                continue
            assert record is not None
            ready.append(
                Ready(
                    sheet=record.id,
                    number=record.number,
                    opened=record.opened_wall,
                    photograph=record.photograph.small if record.photograph else "",
                    alike=alike(reference or record, record),
                )
            )
        return tuple(ready), older


_OF_RECIPE: Final = "SELECT sheet, place FROM thread_sheets WHERE source = ? AND place < ? ORDER BY place DESC LIMIT ?"
