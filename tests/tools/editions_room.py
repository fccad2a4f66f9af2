"""Real stores in a folder with the desk of editions over them, and prints that are worked row by row."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from controller.backup.registered import DERIVED, THINGS
from controller.daemon.edition_desk import Board, EditionDesk
from controller.daemon.edition_ledgers import Ledgers
from controller.editions.ledger import told
from controller.errors import KeeperGone
from controller.foot.status import Status
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.archive import Archive
from controller.store.entries import CalledGiven, Closed, Entry, SheetPlanned
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from hardware.clock import ManualClock
from tools.history import FakeWall, came, intent, plan, whole_sheet

BENCH = AtEnlarger(paper="p1", paper_title="paper one", box="A", magnification=2.0)
DAY = Status(
    number=1, at_ns=0, place="ready", headline="", keeper="ready", practice=True, can=("load",), day_until_ns=10**12
)


class Room:
    """Stores in a folder, and the desk of editions over them."""

    def __init__(self, data: DataFolder, journal: Journal, shelf: Shelf, lookups: Lookups) -> None:
        self.data, self.journal, self.shelf, self.lookups = data, journal, shelf, lookups
        self.status = DAY
        self.silent = False
        self.full = False
        """The card takes no row, and what is to be filed waits, as the daemon has it."""
        ledgers = Ledgers(shelf, journal, data.path, self._note)
        archive = Archive(journal, lookups, threaded=True)
        self.desk = EditionDesk(ledgers, lookups, archive, lambda: self.status)

    def _note(self, row: Entry) -> None:
        if self.silent:
            raise KeeperGone("Nobody answers.")
        if not self.full:
            self.journal.append(row)

    def sheet(self, name: str, number: int, *lit_ms: int, version: int = 1, **more: Any) -> str:
        """Work a print of the crane, with so many ms of each light in place of 10,100 and 8,000."""
        planned = plan(version=version).model_copy(update={"bench": BENCH} | more)
        rows = whole_sheet(name, number, planned)
        if lit_ms:
            rows = [SheetPlanned(sheet=name, number=number, plan=planned)]
            for at, ms in enumerate(lit_ms, 1):
                if ms:
                    rows += [intent(f"{name}.{at}", name, at, lit_ms=ms), came(f"{name}.{at}", ms)]
                rows.append(CalledGiven(sheet=name, step=at, by="foot"))
            rows.append(Closed(sheet=name, outcome="complete"))
        self.journal.append(*rows)
        return name

    def board(self, edition: str) -> Board:
        return self.desk.board(edition)

    def keep(self, edition: str, sheet: str, said: str = "") -> str:
        """Keep a print with the number that is next, and say which."""
        ledger = self.board(edition).ledger
        return told(ledger.edition, self.desk.give(edition, sheet, "keep", ledger.next("keep") or 99, said))


@contextmanager
def opened(folder: Path) -> Iterator[Room]:
    data = DataFolder(folder)
    with ExitStack() as leaving:
        journal = leaving.enter_context(Journal.open(data.journal, ManualClock(), FakeWall().stamp()))
        shelf = leaving.enter_context(Shelf.open(data.shelf, FakeWall().now))
        lookups = Lookups(data.lookups, shelf, journal, THINGS, DERIVED)
        leaving.callback(lookups.close)
        yield Room(data, journal, shelf, lookups)
