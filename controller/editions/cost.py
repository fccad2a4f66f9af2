"""Paper in boxes, counted down by closed sheets, and what a print of an edition costs; pure.

Amounts are in the printer's own money, whatever that is, and exact: decimals as they were typed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan
from controller.store.edition_rows import BoxCounted

CENT: Final = Decimal("0.01")


class Box(Frozen):
    """A box of paper, named as it stands at the enlarger."""

    paper: str
    """Its id on the shelf, or what it is called where it is not there."""
    box: str


class Used(Frozen):
    """A sheet that was used up: out of which box, as far as that is known, and what it cost."""

    box: Box | None
    price: Decimal | None = None


class Cost(Frozen):
    """What the prints of an edition cost."""

    sheets: int
    """Used for it: strips and spoiled ones included."""
    kept: int
    paper: Decimal | None = None
    """What all that paper cost; None where not every sheet has a price."""
    unpriced: tuple[str, ...] = ()
    """The boxes without a price; an empty one where it is not known out of which box a sheet was."""
    chemistry: Decimal = Decimal(0)
    a_print: Decimal | None = None
    """(sheets × price + chemistry) / prints kept, to a hundredth; None where that is not known, or none was kept."""


def box_of(bench: AtEnlarger | None) -> Box | None:
    """Return the box that is out; None where none is named."""
    if bench is None or not bench.box or not (bench.paper or bench.paper_title):
        return None
    return Box(paper=bench.paper or bench.paper_title, box=bench.box)


def box_counted(row: BoxCounted) -> Box:
    """Return the box that was counted."""
    return Box(paper=row.paper or row.paper_title, box=row.box)


def takes_a_sheet(plan: Plan) -> bool:
    """Tell whether a sheet of that plan comes out of a box: not one of no paper, nor one that is worked once more."""
    return not plan.of_no_sheet and not plan.flashes_sheets


def left(counted: BoxCounted, closed_since: int) -> int:
    """Return how many sheets are left in a box of which so many were closed since it was counted; never under none."""
    return max(0, counted.sheets - closed_since)


def price_of(counted: BoxCounted) -> Decimal | None:
    """Return what a sheet of a box costs; None where nobody said."""
    return Decimal(counted.price) if counted.price else None


def cost_of(used: Iterable[Used], kept: int, chemistry: Decimal | None) -> Cost:
    """Return what an edition's prints cost: every sheet used at its own price, and the chemistry, over those kept."""
    all_of = list(used)
    lacks = Counter(one.box.box if one.box else "" for one in all_of if one.price is None)
    paper = None if lacks else sum((one.price for one in all_of if one.price is not None), Decimal(0))
    share = chemistry or Decimal(0)
    a_print = None if paper is None or not kept else ((paper + share) / kept).quantize(CENT, ROUND_HALF_UP)
    return Cost(
        sheets=len(all_of),
        kept=kept,
        paper=paper,
        unpriced=tuple(lacks),
        chemistry=share,
        a_print=a_print,
    )
