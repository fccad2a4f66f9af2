"""Paper in boxes, as pages ask for it: counted by hand, counted down by what was closed since, priced by the sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from controller.editions.cost import Box, Used, box_counted, box_of, left, price_of
from controller.errors import Impossible
from controller.model import Frozen
from controller.store.edition_rows import BoxCounted
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.edition_ledgers import Ledgers
    from controller.editions.ledger import Ledger
    from controller.foot.status import Status
    from controller.store.lookups import Lookups

MOST: Final = 20
"""So many boxes are listed: those counted last."""
MOST_USED: Final = 2000
"""Sheets of one edition whose paper is counted."""


class Stocked(Frozen):
    """A box as pages show it."""

    paper: str
    """Its id on the shelf; empty for one that is only named."""
    paper_title: str
    box: str
    left: int | None = None
    """Sheets in it; None where it was never counted."""
    closed: int = 0
    """Sheets that were closed since it was counted, or at all."""
    price: Decimal | None = None
    out: bool = False
    """It is the one that is out at the enlarger."""


class StockDesk:
    """Safe from any thread, as its parts are."""

    def __init__(self, ledgers: Ledgers, lookups: Lookups, status: Callable[[], Status]) -> None:
        self._ledgers, self._lookups, self._status = ledgers, lookups, status

    def boxes(self) -> tuple[Stocked, ...]:
        """Return the boxes: the one that is out first, then those counted last."""
        self._lookups.follow()
        bench = self._status().bench
        now = box_of(bench)
        counted = self._ledgers.counted()
        found = []
        if now is not None and now not in counted:
            title = bench.paper_title or bench.paper
            closed = self._closed(now, 0)
            found.append(Stocked(paper=bench.paper, paper_title=title, box=now.box, closed=closed, out=True))
        for box, (row, count) in reversed(counted.items()):
            closed = self._closed(box, row)
            found.append(
                Stocked(
                    paper=count.paper,
                    paper_title=count.paper_title,
                    box=count.box,
                    left=left(count, closed),
                    closed=closed,
                    price=price_of(count),
                    out=box == now,
                )
            )
            if len(found) == MOST:
                break
        return tuple(sorted(found, key=lambda each: not each.out))

    def used(self, ledger: Ledger) -> Iterator[Used]:
        """Give the sheets that were used for an edition: strips it was picked from, prints of its recipe until then."""
        edition = ledger.edition
        rows = self._lookups.rows(_USED, *(edition.recipe, edition.version) * 2, MOST_USED)
        boxes = {str(sheet): Box(paper=paper, box=box) if box else None for sheet, paper, box in rows}
        for one in ledger.given:  # made by a later version, with the same light
            if one.sheet and one.sheet not in boxes:
                found = self._lookups.rows("SELECT paper, box FROM box_sheets WHERE sheet = ?", one.sheet)
                boxes[one.sheet] = Box(paper=found[0][0], box=found[0][1]) if found else None
        prices = {box: price_of(count) for box, (_, count) in self._ledgers.counted().items()}
        for box in boxes.values():
            yield Used(box=box, price=prices.get(box) if box else None)

    def count(self, paper: str, paper_title: str, box: str, sheets: int, price: Decimal | None) -> None:
        """Note how many sheets are in a box now; what was counted before stays on file.

        Raises:
            Impossible: it has no name.
            KeeperGone, StoreTrouble: as `Desk.do`.
        """
        if not box.strip() or not (paper or paper_title).strip():
            raise Impossible(say("editions.box-unnamed"))
        with self._ledgers.lock:
            row = BoxCounted(
                paper=paper,
                paper_title=paper_title or paper,
                box=box,
                sheets=sheets,
                price="" if price is None else f"{price:f}",
            )
            last = self._ledgers.counted().get(box_counted(row))
            if last is None or last[1] != row or self._closed(box_counted(row), last[0]):
                self._ledgers.note(row)

    def _closed(self, box: Box, after: int) -> int:
        sql = "SELECT count(*) FROM box_sheets WHERE paper = ? AND box = ? AND closed > ?"
        return int(self._lookups.rows(sql, box.paper, box.box, after)[0][0])


_USED: Final = """SELECT of.sheet, box_sheets.paper, box_sheets.box FROM (
    SELECT sheet FROM thread_sheets WHERE source = ? AND version <= ?
    UNION SELECT sheet FROM thread_picks WHERE recipe = ? AND version <= ? LIMIT ?
    ) AS of LEFT JOIN box_sheets ON box_sheets.sheet = of.sheet"""
