"""The cues a printer hears, and the notes each is made of: seven families, low, soft, like a block of wood."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Cue(StrEnum):
    """A sound with one meaning. The family stands before the colon in `FAMILY`."""

    LEAD_IN = "lead-in"
    TICK = "tick"
    LAST = "last"
    """One of the last three seconds of a light."""
    DONE = "done"
    STOPPED = "stopped"
    SOFT = "filter soft"
    HARD = "filter hard"
    OTHER = "filter other"
    HANDS = "hands"
    DODGER_IN = "dodger in"
    DODGER_OUT = "dodger out"
    MOVE_CARD = "move card"
    NO = "no"
    WAIT = "wait"
    QUESTION = "question"
    CLOSED = "closed"
    WARNING = "warning"
    BEAT = "beat"
    DARK = "guard on"
    NUMBER = "number"
    """Nothing of its own: the beats of a message's count alone."""
    ALARM = "alarm"
    WEAK = "weak light"
    """The light that is on is weaker than the last good one, or comes through another filter."""


FAMILY: Final[dict[Cue, str]] = {
    Cue.LEAD_IN: "tick",
    Cue.TICK: "tick",
    Cue.LAST: "tick",
    Cue.DONE: "done",
    Cue.CLOSED: "done",
    Cue.STOPPED: "stopped",
    Cue.DARK: "stopped",
    Cue.SOFT: "filter",
    Cue.HARD: "filter",
    Cue.OTHER: "filter",
    Cue.HANDS: "hands",
    Cue.DODGER_IN: "hands",
    Cue.DODGER_OUT: "hands",
    Cue.MOVE_CARD: "hands",
    Cue.NO: "no",
    Cue.WAIT: "no",
    Cue.QUESTION: "question",
    Cue.NUMBER: "tick",
    Cue.WARNING: "white light",
    Cue.BEAT: "white light",
    Cue.ALARM: "white light",
    Cue.WEAK: "question",
}


@dataclass(frozen=True, slots=True)
class Note:
    """One tone: `hertz` (0 is silence) for `ms` milliseconds."""

    hertz: int
    ms: int


def notes(cue: Cue, count: int = 0) -> tuple[Note, ...]:
    """Return the notes of a cue, after `count` short beats (a pause after every five, at most 60) that say a number."""
    beats: list[Note] = []
    for n in range(1, min(count, 60) + 1):
        beats += [Note(620, 45), Note(0, 520 if n % 5 == 0 and n != count else 165)]
    return (*beats, *_NOTES[cue])


_NOTES: Final[dict[Cue, tuple[Note, ...]]] = {
    Cue.LEAD_IN: (Note(520, 70),),
    Cue.TICK: (Note(440, 35),),
    Cue.LAST: (Note(554, 45),),
    Cue.DONE: (Note(660, 110), Note(0, 30), Note(440, 180)),
    Cue.CLOSED: (Note(660, 110), Note(0, 30), Note(440, 110), Note(0, 30), Note(330, 220)),
    Cue.STOPPED: (Note(360, 60), Note(0, 50), Note(360, 60), Note(0, 50), Note(360, 60)),
    Cue.DARK: (Note(360, 60), Note(0, 50), Note(360, 240)),
    Cue.SOFT: (Note(392, 700),),
    Cue.HARD: (Note(392, 420), Note(0, 180), Note(392, 420)),
    Cue.OTHER: (Note(392, 220), Note(0, 120), Note(392, 220), Note(0, 120), Note(392, 220)),
    Cue.HANDS: (Note(494, 120), Note(0, 40), Note(587, 120)),
    Cue.DODGER_IN: (Note(494, 90), Note(0, 40), Note(587, 90), Note(0, 40), Note(587, 90)),
    Cue.DODGER_OUT: (Note(587, 90), Note(0, 40), Note(494, 90), Note(0, 40), Note(494, 90)),
    Cue.MOVE_CARD: (Note(494, 90), Note(0, 40), Note(494, 90), Note(0, 40), Note(587, 120)),
    Cue.NO: (Note(311, 260),),
    Cue.WAIT: (Note(311, 110),),
    Cue.QUESTION: (Note(440, 140), Note(0, 50), Note(659, 200)),
    Cue.WARNING: (Note(880, 160), Note(0, 90), Note(698, 160), Note(0, 90)) * 4,
    Cue.BEAT: (Note(880, 40), Note(698, 60)),
    Cue.NUMBER: (),
    Cue.ALARM: (Note(880, 400), Note(0, 100)) * 6,
    Cue.WEAK: (Note(659, 90), Note(0, 40), Note(440, 90), Note(0, 40), Note(659, 220)),
}
