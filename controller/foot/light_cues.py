"""The cues within a light that are not its seconds: a strip's and a dodger's own, a reading's, the focus light's."""

from __future__ import annotations

from typing import Final

from controller.exposure import lag
from controller.foot.state import Work
from controller.recipe.plan import Mark, StepKind
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue
from hardware.timing import Timing
from hardware.wire import Beat

_SECOND: Final = 1000
_LAST: Final = 3


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


def marked_cues(work: Work, lag_ms: int, lit_ms: int) -> list[Beat]:
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
