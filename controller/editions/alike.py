"""How alike the prints of an edition are: the light of each against the reference's, and what withholds a number."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Final, Literal

from controller.errors import Impossible
from controller.exposure.stops import farthest_off, figure_text
from controller.model import Frozen
from controller.words import say

if TYPE_CHECKING:
    from controller.editions.ledger import Edition, Outcome
    from controller.recipe.plan import Plan
    from controller.store.records import SheetRecord

LIMIT: Final = 1 / 12
"""Stops: what is off by more is withheld until its printer says otherwise."""
OF_ONE_SIZE: Final = 0.01
"""Share by which the magnification of two prints of one size may differ: as a column is read."""
Why = Literal["", "spread", "no light", "doubt", "spoiled"]


class Alike(Frozen):
    """A print beside the reference."""

    spread_stops: float | None = None
    """Of the step that is farthest off, with its sign, to a thousandth; None where no stops lead there."""
    why: Why = ""
    """Why its number is withheld until the printer says that it counts all the same; empty where it is not."""


def alike(reference: SheetRecord, record: SheetRecord) -> Alike:
    """Return how a sheet stands beside the reference print, by what the journal says that both were given."""
    one, two = ({step.step.number: step.worth_ms[1] for step in each.steps} for each in (reference, record))
    stops = farthest_off(one, two)
    if stops is None:
        return Alike(why="no light")
    spread = round(stops, 3) + 0.0
    if abs(stops) > LIMIT:
        return Alike(spread_stops=spread, why="spread")
    if record.lamp_failed or reference.lamp_failed:
        return Alike(spread_stops=spread, why="doubt")
    return Alike(spread_stops=spread, why="spoiled" if record.outcome == "spoiled" else "")


def same_light(one: Plan, two: Plan) -> bool:
    """Tell whether two plans give a sheet the same light, step by step, whatever else their recipes say.

    A flash that the paper had beforehand is in no step, and counts too.
    """
    return one.flashed == two.flashed and [(step.filter, step.planned_ms) for step in one.steps] == [
        (step.filter, step.planned_ms) for step in two.steps
    ]


def same_size(reference: SheetRecord, record: SheetRecord) -> bool:
    """Tell whether two prints are of one size, as far as it is known how the enlarger stood for both."""
    one, two = (None if each.plan.bench is None else each.plan.bench.magnification for each in (reference, record))
    if not one or not two:
        return True
    return abs(Fraction(two) / Fraction(one) - 1) <= OF_ONE_SIZE


def figure(off: Alike) -> str:
    """Return how far a print is off as the printer is shown it, and says it back: "+0.104"; a dash for no figure."""
    return "—" if off.spread_stops is None else figure_text(off.spread_stops)


def is_print(record: SheetRecord) -> bool:
    """Tell whether a sheet is a complete print of a recipe."""
    plan = record.plan
    whole = plan.kind == "recipe" and record.outcome == "complete"
    return whole and not plan.of_no_sheet and not plan.flashes_sheets


def must_be_of(edition: Edition, reference: SheetRecord | None, record: SheetRecord | None, outcome: Outcome) -> None:
    """Refuse a sheet that is no print of an edition.

    Raises:
        Impossible: it is open, a strip, of another recipe or of other times, or of another size than the reference.
    """
    if record is None or record.plan.kind != "recipe" or record.plan.flashes_sheets:
        raise Impossible(say("editions.not-a-print"))
    if record.closed is None:
        raise Impossible(say("editions.open", number=record.number))
    plan = record.plan
    same = plan.source == edition.recipe and (
        plan.version == edition.version or (reference is not None and same_light(reference.plan, plan))
    )
    if not same:
        raise Impossible(say("editions.other-times", number=record.number, version=edition.version))
    if outcome != "reject" and reference is not None and not same_size(reference, record):
        raise Impossible(say("editions.other-enlargement", number=record.number))
