"""The sounds as a browser plays them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page
from tools.stand_in_desk import StandInDesk

from hardware.sounds import Cue, Note, notes
from webui.pages.sounds import SAMPLE

LISTEN = """() => {
  window.played = [];
  const make = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function () {
    const tone = make.call(this);
    const start = tone.start.bind(tone);
    tone.start = (at) => { window.played.push([Math.round(tone.frequency.value), at]); start(at); };
    const stop = tone.stop.bind(tone);
    tone.stop = (at) => { window.played.at(-1).push(at); stop(at); };
    return tone;
  };
}"""
FADES_MS = 30
"""A tone is faded out so long after its end, so that it does not click."""


def _tones(played: list[list[float]]) -> list[tuple[int, int, int]]:
    """Return each tone as its pitch, when it begins after the first, and how long it is, in ms."""
    first = played[0][1]
    return [(int(hz), round((on - first) * 1000), round((off - on) * 1000) - FADES_MS) for hz, on, off in played]


def _wanted(sound: tuple[Note, ...]) -> list[tuple[int, int, int]]:
    at, tones = 0, []
    for note in sound:
        if note.hertz:
            tones.append((note.hertz, at, note.ms))
        at += note.ms
    return tones


@pytest.mark.parametrize("by", ["touch", "keyboard"])
def test_a_button_plays_exactly_the_table(open_phone: Callable[..., Page], desk: StandInDesk, by: str) -> None:
    """By touch and by keyboard each button plays the sounder's own notes: their pitch, their moments, their lengths."""
    page = open_phone(has_touch=True)
    desk.say_day()
    page.add_init_script(f"({LISTEN})()")
    page.goto("/sounds")
    page.wait_for_selector("html.day")
    for cue in Cue:
        page.evaluate("window.played = []")
        button = page.locator(f'button[data-cue="{cue}"]')
        if by == "touch":
            button.tap()
        else:
            button.focus()
            page.keyboard.press("Enter")
        played: Any = page.evaluate("window.played")
        assert _tones(played) == _wanted(notes(cue, SAMPLE if cue is Cue.NUMBER else 0)), cue
