"""What a snapshot says of a sheet's steps: the one that comes next, a line for each, and their light in words. Pure."""

from __future__ import annotations

from typing import Final, Literal

from controller.exposure import lag
from controller.foot.state import Given, State, Work
from controller.foot.status import NextStep, StepLine
from controller.recipe.plan import Act, Step
from controller.words import say
from hardware.clock import NS_PER_MS

_VERBS: Final[dict[Act, str]] = {
    Act.BASE: "foot.verb-base",
    Act.OPEN: "foot.verb-base",
    Act.UNDER: "foot.verb-base",
    Act.AFTER: "foot.verb-base",
    Act.PART: "foot.verb-dodge",
    Act.RUNNING: "foot.verb-dodge",
    Act.BURN: "foot.verb-burn",
    Act.EDGE: "foot.verb-edge",
    Act.BAND: "foot.verb-band",
    Act.LONG: "foot.verb-strip",
    Act.FLASH: "foot.verb-flash",
    Act.CHECK: "lamp.verb-check",
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


def seconds(ms: int) -> str:
    """Return milliseconds as seconds to a tenth."""
    return f"{(ms + 50) // 100 / 10:.1f}"
