"""The lights under which evenness and alignment are looked at, as plans that are worked by foot. Pure.

They are readings: check lights of no sheet, begun by a press with all paper away, ended by the next, dark by
themselves after a minute. Under the lights of evenness a probe counts; under those of alignment an eye looks.
"""

from __future__ import annotations

from typing import Final

from controller.recipe.plan import Plan, Step, StepKind
from controller.trials.alignment import CORNERS, corner_words
from controller.trials.evenness import PLACES, place_words
from controller.words import say

SOURCE: Final = "readings:"
"""Before the name of readings, where another plan has its recipe."""
EVENNESS: Final = f"{SOURCE}evenness"
ALIGNMENT: Final = f"{SOURCE}alignment"
LONGEST_MS: Final = 60_000


def places_plan(longest_ms: int = LONGEST_MS) -> Plan:
    """Return the lights of the nine places, and of the centre again; a hold after the nine leaves that out.

    `longest_ms` is the longest light that the keeper allows.
    """
    names = [*(place_words(place) for place in PLACES), say("evenness.place-again")]
    return _plan(EVENNESS, say("evenness.title"), names, longest_ms)


def corners_plan(longest_ms: int = LONGEST_MS) -> Plan:
    """Return the lights of the centre, the four corners, and the centre again."""
    names = [place_words("centre"), *(corner_words(corner) for corner in CORNERS), say("evenness.place-again")]
    return _plan(ALIGNMENT, say("alignment.title"), names, longest_ms)


def _plan(source: str, title: str, names: list[str], longest_ms: int) -> Plan:
    lit_ms = min(LONGEST_MS, longest_ms)
    # as a check's light: whatever lag is set, an uninterrupted one is lit for what it says
    steps = (
        Step(number=number, name=name, act=StepKind.READING, filter="", planned_ms=lit_ms, base_ms=lit_ms)
        for number, name in enumerate(names, start=1)
    )
    return Plan(source=source, version=1, kind="readings", title=title, steps=tuple(steps))
