"""The cues as a page can play and read them: notes as plain numbers, and the words for each."""

from __future__ import annotations

from controller.words import say, say_many
from hardware.sounds import Cue, notes


def notes_of(cue: str, count: int = 0) -> tuple[tuple[int, int], ...]:
    """Return a cue's notes as (hertz, ms), 0 hertz being silence.

    Raises:
        ValueError: there is no such cue.
    """
    return tuple((note.hertz, note.ms) for note in notes(Cue(cue), count))


def words_of(cue: str, count: int = 0) -> str:
    """Return what a cue says, in words; `count` is the number of beats of the number cue.

    Raises:
        ValueError: there is no such cue.
    """
    which = Cue(cue)
    if which is Cue.NUMBER:
        return say_many("page.cue-number", count)
    return say(f"page.cue-{which.value.replace(' ', '-')}")
