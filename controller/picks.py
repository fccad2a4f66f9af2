"""A pick from a strip's sheet as the page shows it: what it means, what to look at, and why it may not be offered."""

from __future__ import annotations

from fractions import Fraction

from controller.printing.picks import Pick, look_for, pick_offered, read_pick
from controller.printing.stops import seconds_text
from controller.sheet import Frozen, Plan
from controller.strips import Strip
from controller.words import say


class PickMeaning(Frozen):
    """What a pick would mean for the next recipe, in words and in figures."""

    pick: Pick
    meaning: str
    """One sentence: the base it makes, or the burn."""
    look_for: tuple[str, ...]
    """What to look at on the strip, one sentence each."""
    not_offered: str | None = None
    """Why it cannot become a base, in one sentence; None where it can."""
    confirms: str = ""
    """The carried recipe that this check strip confirms, by its id; empty where it is no check strip."""


def pick_meaning(plan: Plan, strip: Strip, band: int, *, between: bool = False) -> PickMeaning:
    """Return what it means to pick `band` of a strip, or the place between it and the next.

    Raises:
        Impossible: there is no such band.
    """
    pick = read_pick(plan, band, between=between)
    seconds = seconds_text(round(pick.seconds * 1000))
    if pick.kind == "base":
        key = "reckoning.pick-base-numbered" if pick.filter[:1].isdigit() else "reckoning.pick-base"
        meaning = say(key, filter=pick.filter, seconds=seconds)
    elif Fraction(pick.stops) == 0:
        meaning = say("reckoning.pick-no-burn", filter=pick.filter)
    else:
        meaning = say("reckoning.pick-burn", filter=pick.filter, stops=pick.stops, seconds=seconds)
    return PickMeaning(pick=pick, meaning=meaning, look_for=look_for(strip), not_offered=pick_offered(strip))
