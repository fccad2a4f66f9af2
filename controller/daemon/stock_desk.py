"""Paper in boxes, as pages ask for it: counted by hand, counted down by what was closed since, priced by the sheet."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from controller.editions.cost import Box, box_counted, box_of, left, price_of
from controller.errors import Impossible
from controller.model import Frozen
from controller.store.edition_rows import BoxCounted
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.edition_ledgers import Ledgers
    from controller.foot.status import Status
    from controller.store.lookups import Lookups

MOST: Final = 20
"""So many boxes are listed: those counted last."""


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

    def prices(self) -> dict[Box, Decimal | None]:
        """Return what a sheet of each box costs that was counted; None where nobody said."""
        return {box: price_of(count) for box, (_, count) in self._ledgers.counted().items()}

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
