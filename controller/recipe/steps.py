"""Numbers the lights of one sheet as they are put down, holds each to the limits, and says what would go better."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from controller.errors import Impossible, standing_at
from controller.exposure.stops import seconds_text
from controller.recipe.asks import Asks
from controller.recipe.fields import milliseconds
from controller.recipe.plan import Ask, Flashed, Hands, Step, StepKind
from controller.recipe.recipe import Carrier, Flash, Recipe
from controller.recipe.set_up import SetUp
from controller.words import say

MOST_STEPS: Final = 60
SHORTEST_MS: Final = 100
SHORT_PULSE_MS: Final = 2000
SHORT_BASE_MS: Final = 8000
STOP_DOWN: Final = "recipe.advice-stop-down"
RINGS: Final = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)
"""Whole stops as lenses are marked with them (ISO 517; from memory)."""
RUNNING: Final = "recipe.advice-running"

_WHOLE: Final = frozenset({StepKind.BASE, StepKind.RUNNING, StepKind.UNDER, StepKind.AFTER})
"""Lights judged as a base; the rest are pulses and parts. A flash is judged by its own strip."""


class Steps:
    """The steps of one sheet, put down in order."""

    def __init__(self, longest_ms: int, recipe: Recipe | None = None) -> None:
        self._longest_ms = longest_ms
        self._steps: list[Step] = []
        self._hands: Hands | None = None
        self._asks = None if recipe is None else Asks(recipe)
        self._entries: list[int] = []
        self._carrier: Carrier | None = None

    def entry(self, number: int, carrier: Carrier | None) -> None:
        """Say that the next step is the first of a recipe's entry, and through which carrier its light goes."""
        self._entries.append(number)
        self.through(carrier)

    def ask(self, hands: Hands) -> None:
        """Ask something of the printer's hands before the next step."""
        self._hands = hands

    def through(self, carrier: Carrier | None) -> None:
        """Say through which carrier the next step's light goes."""
        self._carrier = carrier or self._carrier

    def put(
        self,
        name: str,
        act: StepKind,
        filter_name: str,
        planned_ms: int,
        base_ms: int | None,
        *,
        advice: tuple[str, ...] = (),
        areas: Sequence[str] = (),
        **more: object,
    ) -> None:
        """Put down the next light, for `areas` alone where it is for some; `more` is what else a `Step` says of it.

        Raises:
            Impossible: it is longer than the longest light, or under 0.1 s.
        """
        if not planned_ms >= SHORTEST_MS:
            raise Impossible(say("recipe.step-too-short", step=name, least=seconds_text(SHORTEST_MS)))
        if planned_ms > self._longest_ms:
            raise Impossible(
                say(
                    "recipe.step-too-long",
                    step=name,
                    seconds=seconds_text(planned_ms),
                    longest=seconds_text(self._longest_ms),
                )
            )
        if act is not StepKind.FLASH and planned_ms < (SHORT_BASE_MS if act in _WHOLE else SHORT_PULSE_MS):
            advice = (STOP_DOWN, *advice)
        values = {
            "number": len(self._steps) + 1,
            "name": name,
            "act": act,
            "filter": filter_name,
            "planned_ms": planned_ms,
            "base_ms": base_ms,
            "hands": self._hands,
            "advice": tuple(dict.fromkeys(advice)),
            **self._asked(act, areas),
            **more,
        }
        self._hands = None
        self._steps.append(Step.model_validate(values))

    def _asked(self, act: StepKind, areas: Sequence[str]) -> dict[str, Any]:
        """Return what a step has of the recipe's asks, tools and carriers; of the flash, before them all, nothing."""
        if self._asks is None or act is StepKind.FLASH:
            return {}
        entries, carrier, self._entries, self._carrier = self._entries, self._carrier, [], None
        back = self._hands is Hands.NEGATIVE_BACK
        return self._asks.before(entries, carrier, areas, laid=act is not StepKind.RUNNING, back=back)

    def end_asks(self) -> tuple[Ask, ...]:
        """Return what is asked after the last of them."""
        return () if self._asks is None else self._asks.at_end()

    def all(self) -> tuple[Step, ...]:
        """Return the steps.

        Raises:
            Impossible: there are more than a sheet may have.
        """
        if len(self._steps) > MOST_STEPS:
            raise Impossible(say("recipe.too-many-steps", number=len(self._steps), most=MOST_STEPS))
        return tuple(self._steps)


def put_flash(steps: Steps, flash: Flash | None, first_filter: str) -> Flashed | None:
    """Put down a sheet's flash, with what the hands do before and after it.

    One that was given beforehand has no step: it is returned as the sheet's plan has it.
    """
    if flash is None:
        return None
    opal = flash.way == "opal under the lens"
    filter_name, seconds_ms = flash.filter or first_filter, milliseconds(flash.seconds)
    if flash.beforehand:
        return Flashed(filter=filter_name, planned_ms=seconds_ms, opal=opal)
    steps.ask(Hands.OPAL_IN if opal else Hands.NEGATIVE_OUT)
    with standing_at("flash", "seconds"):
        steps.put(say("recipe.name-flash"), StepKind.FLASH, filter_name, seconds_ms, seconds_ms)
    steps.ask(Hands.OPAL_OUT if opal else Hands.NEGATIVE_BACK)
    return None


def advice_words(key: str, set_up: SetUp | None) -> str:
    """Return advice as a sentence; where the lens is to be stopped down, to which f-number from the one that is set."""
    marked = None if set_up is None else set_up.aperture
    if key != STOP_DOWN or marked is None:
        return say(key)
    return say("recipe.advice-stop-down-to", aperture=f"{_one_stop_down(marked):g}")


def _one_stop_down(marked: float) -> float:
    """Return the f-number one stop down, as rings have it; between two of them reckoned, to a tenth."""
    near = next((n for n, ring in enumerate(RINGS[:-1]) if abs(ring - marked) < 0.02 * ring), None)
    return round(marked * math.sqrt(2.0), 1) if near is None else RINGS[near + 1]


def advice_of(steps: tuple[Step, ...], *more: str) -> tuple[str, ...]:
    """Return what is advised for a whole plan, each once: of the plan first, then of its steps."""
    return tuple(dict.fromkeys([*more, *(key for step in steps for key in step.advice)]))
