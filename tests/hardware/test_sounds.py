"""The cues by ear alone: each is told from every other, and nothing that ends a light sounds like what begins one."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from hardware.sounds import FAMILY, Cue, Note, notes

SILENT = {Cue.NUMBER}
"""Has no notes of its own."""
A_STEP = 1.18
"""A minor third and a little less (derived: 2^(3/12) = 1.189): a step that an untrained ear tells (common practice)."""
LONGER = 1.5
"""Half as long again is told without counting (common practice)."""
ENDS = (Cue.STOPPED, Cue.DARK, Cue.NO, Cue.WAIT, Cue.ALARM)
BEGINS = (Cue.LEAD_IN, Cue.HANDS, Cue.DODGER_IN, Cue.DODGER_OUT, Cue.MOVE_CARD, Cue.SOFT, Cue.HARD, Cue.OTHER)


def _tones(cue: Cue) -> list[Note]:
    return [note for note in notes(cue) if note.hertz]


def _ratio(one: int, other: int) -> float:
    return max(one, other) / min(one, other)


def _told(one: Note, other: Note) -> bool:
    return _ratio(one.hertz, other.hertz) >= A_STEP or _ratio(one.ms, other.ms) >= LONGER


@pytest.mark.parametrize(("one", "other"), [*combinations(sorted(set(Cue) - SILENT), 2)])
def test_every_cue_is_told_from_every_other(one: Cue, other: Cue) -> None:
    """Two cues differ in how many tones they have, or in one tone's pitch or length by what an ear tells."""
    first, second = _tones(one), _tones(other)
    assert len(first) != len(second) or any(_told(a, b) for a, b in zip(first, second, strict=True))


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("begin", BEGINS)
def test_what_ends_a_light_never_begins_like_what_asks_for_one(end: Cue, begin: Cue) -> None:
    """Already the first tone parts “stop”, “no” and the alarm from every cue that asks a printer to go on."""
    assert _told(_tones(end)[0], _tones(begin)[0])


def test_a_tool_goes_up_and_comes_down() -> None:
    """The tool goes into the light with a rising sound and out of it with a falling one, each staying where it went."""
    assert [note.hertz for note in _tones(Cue.DODGER_IN)] == [494, 587, 587]
    assert [note.hertz for note in _tones(Cue.DODGER_OUT)] == [587, 494, 494]


def test_done_is_the_only_falling_pair() -> None:
    """A falling pair says that the light is over, and nothing else does."""
    falling = [cue for cue in Cue if len(_tones(cue)) == 2 and _tones(cue)[0].hertz > _tones(cue)[1].hertz]
    assert [cue for cue in falling if cue is not Cue.BEAT] == [Cue.DONE]


OF_TRAYS = [cue for cue in Cue if FAMILY[cue] == "trays"]


@pytest.mark.parametrize("cue", OF_TRAYS)
def test_the_trays_have_a_timbre_of_their_own(cue: Cue) -> None:
    """A tray's cue is made of notes of 25 ms at most, two close ones by turns, higher than any that light sounds.

    Between the highest note of light's and the lowest of the trays' lie 5 half tones at the least (a fourth: 2^(5/12)),
    and light has no note so short; so one note is enough to tell them (common practice: pitch and length part timbres).
    """
    light = [note for other in set(Cue) - set(OF_TRAYS) - SILENT for note in _tones(other)]
    tones = _tones(cue)
    assert all(note.ms <= 25 for note in tones)
    assert min(note.ms for note in light) >= LONGER * max(note.ms for note in tones) * 0.99
    assert min(note.hertz for note in tones) >= 2 ** (5 / 12) * max(note.hertz for note in light)
    pairs = list(pairwise(note for note in notes(cue) if note.hertz))
    assert all(one.hertz != two.hertz for one, two in pairs)
    close = [_ratio(one.hertz, two.hertz) for one, two in pairs]
    assert sorted(close)[len(close) // 2] <= 2 ** (2 / 12)
