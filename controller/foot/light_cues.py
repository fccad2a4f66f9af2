"""What one light is to be: how long the line is lit for it, and the cues that go with it."""

from __future__ import annotations

from typing import Final

from controller.exposure import lag
from controller.foot.state import Habits, Work
from controller.recipe.plan import Mark, Step, StepKind
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.timing import Timing
from hardware.wire import LONGEST_DOSE, Beat

LEAST_DOSED_MS: Final = 4000
"""A shorter light is given by its time."""
_SECOND: Final = 1000
_AFTER_HANDS_MS: Final = 450
_AFTER_DONE_MS: Final = 450
"""How long after a band's end the card is asked for: "done" has been heard to its end by then."""
_LAST: Final = 3


def lead_in_ms(habits: Habits) -> int:
    """Return the span between a press and its light."""
    return habits.timing.announced_ms(sounder=habits.sounder)


def remainder_ms(work: Work, habits: Habits) -> int:
    """Return how long the line is to be lit for what the present step still wants."""
    return lag.lit_ms(work.missing_ns(habits.lag_ms), habits.lag_ms)


def step_cues(work: Work, habits: Habits, announced_ms: int, gap_ms: int = 0) -> tuple[Beat, ...]:
    """Return the cues of the present step's next light, `announced_ms` before it and while it is on.

    Where it follows another by itself after `gap_ms`, nobody presses: the card is asked for once that one is dark.
    """
    if work.readings:
        return reading_cues(habits.timing, work.step.planned_ms)
    step = work.step
    lit = remainder_ms(work, habits)
    before = _announcing(step, announced_ms)
    if gap_ms and wants_hands(step):
        card = Beat(_AFTER_DONE_MS - gap_ms, Cue.MOVE_CARD)
        before = [card, *(beat for beat in before if beat.at_ms >= card.at_ms + _SECOND // 2)]
    beats = [*before, *_counting(lit), *_marks(work, habits.lag_ms, lit)]
    return tuple(sorted(beats, key=lambda beat: beat.at_ms))


def longest_dose_ms(work: Work, habits: Habits, lit_ms: int) -> int:
    """Return how long the present step's light may last for its dose, in ms; 0 where none is asked for.

    A strip's times are what is read from it, and where a hand moves by a cue its share of the light would change; a
    short light is over before much is known of it.
    """
    step = work.step
    wanted = habits.give_dose and work.plan.kind == "recipe" and lit_ms >= LEAST_DOSED_MS
    if not wanted or step.marks or step.card or step.gap_ms is not None:
        return 0
    return max(lit_ms, min(int(lit_ms * LONGEST_DOSE), habits.timing.longest_light_ms))


def first_cue(work: Work) -> Cue:
    """Return the sound of the press that begins the present step: hands before the tick, so the right tool is taken.

    Readings have the warning's: their light would fog paper, whatever stage it is at.
    """
    if work.readings:
        return Cue.WARNING
    return Cue.HANDS if wants_hands(work.step) else Cue.LEAD_IN


def wants_hands(step: Step) -> bool:
    """Tell whether a tool has its place under this step's light from the start: a dodger or a card."""
    return bool(step.card)


def reading_cues(timing: Timing, lit_ms: int) -> tuple[Beat, ...]:
    """Return the soft beats of a reading's light; nothing ticks, since nothing is counted."""
    beats = [Beat(at, Cue.BEAT) for at in range(timing.beat_ms, lit_ms - _LAST * _SECOND, timing.beat_ms)]
    return (*beats, *(Beat(lit_ms - n * _SECOND, Cue.LAST) for n in range(_LAST, 0, -1) if lit_ms > n * _SECOND))


def focus_cues(timing: Timing) -> tuple[Beat, ...]:
    """Return the soft beats of focus light, its last seconds ticked."""
    last = timing.focus_limit_ms - timing.focus_last_ms
    beats = [Beat(at, Cue.BEAT) for at in range(timing.beat_ms, last, timing.beat_ms)]
    ticks = [Beat(at, Cue.TICK) for at in range(last, timing.focus_limit_ms, max(1, timing.focus_last_ms // 10))]
    return (*beats, *ticks)


def _announcing(step: Step, announced_ms: int) -> list[Beat]:
    first = [Beat(_AFTER_HANDS_MS - announced_ms, Cue.LEAD_IN)] if wants_hands(step) else []
    ticks = [Beat(-at, Cue.TICK) for at in range(_SECOND, announced_ms - _AFTER_HANDS_MS, _SECOND)]
    return [*first, *reversed(ticks)]


def _counting(lit_ms: int) -> list[Beat]:
    last = [lit_ms - n * _SECOND for n in range(_LAST, 0, -1)] if lit_ms > (_LAST + 1) * _SECOND else []
    until = last[0] - _SECOND // 2 if last else lit_ms
    return [
        *(Beat(at, Cue.TICK) for at in range(_SECOND, until, _SECOND)),
        *(Beat(at, Cue.LAST) for at in last),
    ]


def _marks(work: Work, lag_ms: int, lit_ms: int) -> list[Beat]:
    """Return the present step's own cues; a remainder has those still to come, its own warming-up counted once."""
    passed_ms = work.given[work.index].most_ns // NS_PER_MS
    warming = lag_ms if passed_ms else 0  # what came before has sounded, up to the moment at which it was stopped
    due = ((mark_ms - passed_ms, cue) for mark_ms, cue in _due_ms(work, lag_ms))
    return [Beat(at_ms, cue) for at_ms, cue in due if warming < at_ms < lit_ms]


def _due_ms(work: Work, lag_ms: int) -> list[tuple[int, Cue]]:
    """Return when each cue is due in the step's one uninterrupted light, so that each area has its share of it.

    A total of a strip stands for a light of its own: where a band is covered its cue is due when the line has been lit
    for it, and where one is uncovered a lag later, since a light of its own would have lost that. What is a share of a
    base is that share of the full light, with the lag before it once: a burn's totals, and how long a dodger stays in
    (derived; see `printing.lag`).
    """
    step, base_ms, strip = work.step, work.step.base_ms, work.plan.strip
    if step.act is StepKind.LONG and strip is not None and strip.base_ms is None:
        after_ms = lag_ms if strip.card == "uncover" else 0
        return [(mark.at_ms + after_ms, Cue(mark.cue)) for mark in step.marks]
    if step.act is StepKind.LONG and strip is not None:
        return [
            (lag.lit_ms(lag.planned_full_ns(mark.at_ms, base_ms, lag_ms), lag_ms), Cue(mark.cue)) for mark in step.marks
        ]
    due: list[tuple[int, Cue]] = []
    gone_in, later_ms = Mark(at_ms=0, cue="dodger in"), 0
    for mark in step.marks:
        if mark.cue == "dodger in":
            gone_in = mark
        elif mark.cue == "dodger out":
            held_ms = mark.at_ms - gone_in.at_ms
            later_ms -= held_ms - lag.planned_full_ns(held_ms, base_ms, lag_ms) // NS_PER_MS
        due.append((mark.at_ms + later_ms, Cue(mark.cue)))
    return due
