"""The verdicts of this evening on prints that were made from spots, out of the journal's last rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Final

from controller.easel.evening import Verdict
from controller.store.easel_rows import SpotsTaken
from controller.store.entries import SheetPlanned
from controller.store.rows import Reader, Row
from controller.store.said_of_sheets import Looked

EVENING: Final = timedelta(hours=12)
"""What is older is of another evening: the developer is another, and the mains."""
LOOKED_BACK: Final = 5_000
"""Rows of the journal that an evening may have."""


def verdicts_lately(reader: Reader, now: datetime) -> tuple[Verdict, ...]:
    """Return this evening's verdicts from the journal: the last rows of it, and no sum over years."""
    after = max(0, reader.last() - LOOKED_BACK)
    rows = reader.rows(after=after, kinds=("spots taken", "looked", "planned"))
    plans = {
        row.entry.sheet: (row.entry.plan.source, row.entry.plan.version)
        for row in rows
        if isinstance(row.entry, SheetPlanned)
    }
    return verdicts_of(rows, plans, now)


def verdicts_of(rows: Iterable[Row], plans: Mapping[str, tuple[str, int]], now: datetime) -> tuple[Verdict, ...]:
    """Return this evening's verdicts from rows in their order; `plans` are the recipe and version of each sheet.

    Said again of the same sheet, the last word counts.
    """
    taken: dict[tuple[str, int], SpotsTaken] = {}
    found: dict[str, Verdict] = {}
    for row in rows:
        try:
            old = now - datetime.fromisoformat(row.wall) > EVENING
        except (ValueError, TypeError):
            old = True
        match row.entry:
            case SpotsTaken() as one if not old:
                taken[one.recipe, one.version] = one
            case Looked() as looked if not old:
                one_taken = taken.get(plans.get(looked.sheet, ("", 0)))
                if one_taken is not None:
                    found[looked.sheet] = Verdict(one_taken, looked.light, looked.dark)
            case _:
                pass
    return tuple(found.values())
