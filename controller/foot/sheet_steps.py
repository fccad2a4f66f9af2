"""The steps of a sheet as a snapshot has them: the one that comes next, and a line for each. Pure."""

from __future__ import annotations

from typing import Final, Literal

from controller.exposure import lag
from controller.foot.state import Given, State, Work
from controller.foot.status import NextStep, StepLine
from controller.recipe.asks import tool_called
from controller.recipe.plan import Step, StepKind
from controller.words import say
from hardware.clock import NS_PER_MS

_VERBS: Final[dict[StepKind, str]] = {
    StepKind.BASE: "foot.verb-base",
    StepKind.OPEN: "foot.verb-base",
    StepKind.UNDER: "foot.verb-base",
    StepKind.AFTER: "foot.verb-base",
    StepKind.PART: "foot.verb-dodge",
    StepKind.RUNNING: "foot.verb-dodge",
    StepKind.BURN: "foot.verb-burn",
    StepKind.EDGE: "foot.verb-edge",
    StepKind.BAND: "foot.verb-band",
    StepKind.LONG: "foot.verb-strip",
    StepKind.FLASH: "foot.verb-flash",
    StepKind.CHECK: "lamp.verb-check",
    StepKind.READING: "easel.verb",
}


def next_step(work: Work, lag_ms: int) -> NextStep:
    """Return the step that comes next, or is being given."""
    step = work.step
    return NextStep(
        number=step.number,
        of=len(work.steps),
        name=step.name,
        verb=say(_VERBS[step.act]),
        area=step.area,
        what=step.what,
        filter=step.filter,
        planned_ms=step.planned_ms,
        remaining_ms=nominal_ms(step, work.missing_ns(lag_ms), lag_ms),
        hands=step.hands,
        card=card_words(step),
        marks=step.marks,
        advice=tuple(say(key) for key in step.advice),
        carrier=step.carrier,
        tools=tuple(tool_called(tool) for tool in work.plan.tools if tool.letter in step.tools),
        words=step.words,
    )


def step_lines(state: State, work: Work) -> list[StepLine]:
    """Return a line for each step, those added for this sheet last."""
    added_from = len(work.plan.steps)
    lines = []
    for index, (step, given) in enumerate(zip(work.steps, work.given, strict=True)):
        least, most = given_ms(step, given, state.habits.lag_ms)
        lines.append(
            StepLine(
                number=step.number,
                name=step.name,
                filter=step.filter,
                planned_ms=step.planned_ms,
                given_least_ms=least,
                given_most_ms=most,
                state=_line_state(work, index, given),
                added=index >= added_from,
            )
        )
    return lines


def _line_state(
    work: Work, index: int, given: Given
) -> Literal["given", "called given", "left out", "held", "next", "to come"]:
    if given.left_out:
        return "left out"
    if given.called:
        return "called given"
    if given.done:
        return "given"
    if index != work.index:
        return "to come"
    return "held" if given.most_ns else "next"


def given_ms(step: Step, given: Given, lag_ms: int) -> tuple[int, int]:
    """Return the nominal light a step has had, least and most, in ms."""
    least, most = (lag.nominal_ns(full, step.base_ms, lag_ms) for full in (given.least_ns, given.most_ns))
    return lag.bounds_ms(least, most)


def nominal_ms(step: Step, full_ns: int, lag_ms: int) -> int:
    """Return full light of a step as nominal light, in ms."""
    return (lag.nominal_ns(full_ns, step.base_ms, lag_ms) + NS_PER_MS // 2) // NS_PER_MS


def card_words(step: Step) -> str:
    """Return the words for where the card or dodger goes first, or nothing."""
    if not step.card:
        return ""
    return say(step.card, area=step.area, what=step.what, edge=step.edge or "", filter=step.filter)
