"""The sounder: it plays what it is given, drops what is overtaken, and never makes its caller wait."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest
from tools.tether_bench import MS, until

from hardware.errors import LineError
from hardware.lines.sounder import ThreadSounder
from hardware.sounds import Cue, Note, notes

pytestmark = pytest.mark.usefixtures("by_real_time")


class FakeTone:
    """Remembers what it was to sound and when; can hang or fail."""

    def __init__(self) -> None:
        self.told: list[tuple[int, int]] = []
        self.hang = threading.Event()
        self.hang.set()
        self.broken = False
        self.slow_seconds = 0.0
        self.closed = False

    def sound(self, hertz: int) -> None:
        if self.broken:
            raise OSError("no such buzzer")
        self.told.append((time.monotonic_ns(), hertz))
        slow, self.slow_seconds = self.slow_seconds, 0.0
        time.sleep(slow)
        self.hang.wait(5)

    def hush(self) -> None:
        self.told.append((time.monotonic_ns(), 0))

    def close(self) -> None:
        self.closed = True

    def pitches(self) -> list[int]:
        return [hertz for _, hertz in self.told]


@pytest.fixture
def tone(_nothing_left_behind: None) -> FakeTone:
    return FakeTone()


@pytest.fixture
def sounder(tone: FakeTone) -> Iterator[ThreadSounder]:
    sounder = ThreadSounder(tone)
    yield sounder
    tone.hang.set()
    sounder.close()
    assert tone.closed


def test_notes_sound_in_order_and_end_in_silence(sounder: ThreadSounder, tone: FakeTone) -> None:
    """Each note sounds for its time, a pause is silent, and after the last there is silence."""
    sounder.play([Note(440, 20), Note(0, 10), Note(660, 20)])
    until(lambda: len(tone.told) == 4)
    assert tone.pitches() == [440, 0, 660, 0]
    starts = [at for at, _ in tone.told]
    for start, after, ms in zip(starts, starts[1:], (20, 10, 20), strict=False):
        assert after - start == pytest.approx(ms * MS, abs=15 * MS)


def test_a_cue_keeps_its_length(sounder: ThreadSounder, tone: FakeTone) -> None:
    """A late start of one note is made up for: a cue of many notes is as long as its notes together."""
    beats = notes(Cue.NUMBER, 1) + tuple(Note(440, 8) for _ in range(40))
    tone.slow_seconds = 0.15
    began = time.monotonic_ns()
    sounder.play(beats)
    until(lambda: len(tone.told) == len(beats) + 1)
    assert tone.told[-1][0] - began == pytest.approx(sum(note.ms for note in beats) * MS, abs=25 * MS)


def test_a_new_cue_takes_the_place_of_the_old(sounder: ThreadSounder, tone: FakeTone) -> None:
    """What is sounding is dropped for what comes; of two that come before either sounds, the later one sounds."""
    sounder.play([Note(440, 5000), Note(600, 5)])
    until(lambda: tone.pitches() == [440])
    sounder.play([Note(500, 10)])
    until(lambda: tone.pitches() == [440, 0, 500, 0])


def test_a_hanging_tone_keeps_nobody_waiting(sounder: ThreadSounder, tone: FakeTone) -> None:
    """While the tone hangs, playing returns at once."""
    tone.hang.clear()
    sounder.play([Note(440, 10)])
    until(lambda: tone.pitches() == [440])
    began = time.monotonic_ns()
    for _ in range(100):
        sounder.play(notes(Cue.ALARM))
    assert time.monotonic_ns() - began < 200 * MS


def test_a_broken_sounder_says_so_at_the_next_cue(sounder: ThreadSounder, tone: FakeTone) -> None:
    """A tone that failed is told to whoever plays next, with what it said."""
    tone.broken = True
    sounder.play([Note(440, 10)])
    until(lambda: tone.closed)
    with pytest.raises(LineError, match=r"does not answer \(no such buzzer\)"):
        sounder.play([Note(440, 10)])


def test_closing_is_silence_at_once(tone: FakeTone) -> None:
    """Closing cuts a long note short, lets the tone go, and may be done twice; a closed sounder refuses."""
    sounder = ThreadSounder(tone)
    sounder.play([Note(440, 60_000)])
    until(lambda: tone.pitches() == [440])
    began = time.monotonic_ns()
    sounder.close()
    sounder.close()
    assert time.monotonic_ns() - began < 500 * MS
    assert (tone.pitches(), tone.closed) == ([440, 0], True)
    with pytest.raises(LineError, match="closed"):
        sounder.play([Note(440, 10)])
