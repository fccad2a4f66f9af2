"""Numbers the lights of one sheet as they are put down, holds each to the limits, and says what would go better."""

from __future__ import annotations

from typing import Final

from controller.errors import Impossible, standing_at
from controller.exposure.stops import seconds_text
from controller.recipe.fields import milliseconds
from controller.recipe.plan import Flashed, Hands, Step, StepKind
from controller.recipe.recipe import Flash
from controller.words import say

MOST_STEPS: Final = 60
SHORTEST_MS: Final = 100
SHORT_PULSE_MS: Final = 2000
SHORT_BASE_MS: Final = 8000
STOP_DOWN: Final = "recipe.advice-stop-down"
RUNNING: Final = "recipe.advice-running"

_WHOLE: Final = frozenset({StepKind.BASE, StepKind.RUNNING, StepKind.UNDER, StepKind.AFTER})
"""Lights judged as a base; the rest are pulses and parts. A flash is judged by its own strip."""


class Steps:
    """The steps of one sheet, put down in order."""

    def __init__(self, longest_ms: int) -> None:
        self._longest_ms = longest_ms
        self._steps: list[Step] = []
        self._hands: Hands | None = None

    def ask(self, hands: Hands) -> None:
        """Ask something of the printer's hands before the next step."""
        self._hands = hands

    def put(
        self,
        name: str,
        act: StepKind,
        filter_name: str,
        planned_ms: int,
        base_ms: int | None,
        *,
        advice: tuple[str, ...] = (),
        **more: object,
    ) -> None:
        """Put down the next light; `more` is what else a `Step` says of it.

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
            **more,
        }
        self._hands = None
        self._steps.append(Step.model_validate(values))

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


def advice_of(steps: tuple[Step, ...], *more: str) -> tuple[str, ...]:
    """Return what is advised for a whole plan, each once: of the plan first, then of its steps."""
    return tuple(dict.fromkeys([*more, *(key for step in steps for key in step.advice)]))
