"""The cues a printer hears, and the notes each is made of: seven families, low, soft, like a block of wood.

What the trays say has a timbre of its own: trills of two close notes, high and quick, that no cue of light's has.
"""

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
    TRAY_TICK = "rock the tray"
    TRAY_LIFT = "lift and drain"
    TRAY_NEXT = "next tray"
    TRAY_IN = "tray understood"
    """A press that a print has waited for is understood."""
    TRAY_ASK = "tray asks"
    """A print waits for a press."""
    TRAY_SAFE = "white light is safe"
    """The print has had its least time in the fix: white light may be asked for."""


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
    Cue.TRAY_TICK: "trays",
    Cue.TRAY_LIFT: "trays",
    Cue.TRAY_NEXT: "trays",
    Cue.TRAY_IN: "trays",
    Cue.TRAY_ASK: "trays",
    Cue.TRAY_SAFE: "trays",
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


def _trill(notes_: int, low: int = 1319, high: int = 1480) -> tuple[Note, ...]:
    """Return so many quick notes, low and high by turns: what light sounds has no note so short or so high."""
    return tuple(Note(high if n % 2 else low, 20) for n in range(notes_))


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
    Cue.TRAY_TICK: _trill(2),
    Cue.TRAY_IN: _trill(6),
    Cue.TRAY_NEXT: (*_trill(4), Note(0, 90), *_trill(4)),
    Cue.TRAY_LIFT: (*_trill(4), Note(0, 90), *_trill(6, 1661, 1864)),
    Cue.TRAY_ASK: (*_trill(4), Note(0, 90), *_trill(4), Note(0, 90), *_trill(4)),
    Cue.TRAY_SAFE: _trill(24),
}
