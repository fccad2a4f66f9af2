"""The page to hear each sound: all of them, with the sounder's notes, and in words as well."""

from __future__ import annotations

import html
import json
import re

import pytest
from tools.phone import Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.words import say
from hardware.sounds import Cue, Note, notes
from webui.pages.sounds import GROUPS, SAMPLE, notes_in_words


@pytest.fixture
def page(phone: Paired, desk: StandInDesk) -> str:
    """The page by day, as it comes."""
    desk.say_day()
    answer = phone.look("/sounds")
    assert answer.status_code == 200
    return answer.text


def _played(page: str) -> dict[str, tuple[Note, ...]]:
    buttons = re.findall(r'<button type="button" data-cue="([^"]*)" data-notes="([^"]*)"', page)
    assert len(buttons) == len(dict(buttons)) == page.count("data-notes=")
    return {cue: tuple(Note(*pair) for pair in json.loads(html.unescape(told))) for cue, told in buttons}


def test_each_sound_stands_there_once_with_its_own_notes(page: str) -> None:
    """Every cue of the table has one button, and what the button plays is what the sounder would play."""
    assert _played(page) == {cue: notes(cue, SAMPLE if cue is Cue.NUMBER else 0) for cue in Cue}


def test_each_sound_is_said_in_words(page: str) -> None:
    """Meaning and notes stand beside each button as text, so that nothing is lost where no script runs."""
    read = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    for cue in set(Cue) - {Cue.NUMBER}:
        meaning = say(f"page.cue-{cue.replace(' ', '-')}")
        told = notes_in_words([(note.hertz, note.ms) for note in notes(cue)])
        assert f"{meaning} {told}" in read


def test_they_come_as_a_printer_learns_them(page: str) -> None:
    """Light first, then hands, filters, answers, white light, trays; the alarm, hoped never to be heard, last."""
    headings = re.findall(r"<h2>([^<]*)</h2>", page)
    assert headings == ["Light", "Hands", "Filter", "Answers", "White light", "Trays", "Alarm"]
    assert list(_played(page)) == [cue for cues in GROUPS.values() for cue in cues]


@pytest.mark.parametrize(
    ("played", "words"),
    [
        ([(440, 35)], "440 Hz for 35 ms"),
        ([(660, 110), (0, 30), (440, 180)], "660 Hz for 110 ms, 30 ms of silence, 440 Hz for 180 ms"),
        ([(880, 160), (0, 90)] * 4, "4 times: 880 Hz for 160 ms, 90 ms of silence"),
        ([(360, 60), (0, 50), (360, 60)], "360 Hz for 60 ms, 50 ms of silence, 360 Hz for 60 ms"),
    ],
)
def test_notes_are_read_in_order(played: list[tuple[int, int]], words: str) -> None:
    """Each tone and each silence is named with its length; what is repeated is said once, with how often."""
    assert notes_in_words(played) == words


def test_it_is_a_page_of_the_lit_room(phone: Paired, desk: StandInDesk) -> None:
    """With a sheet open it is refused like every page of the day face, and the settings lead to it."""
    desk.say_day()
    assert '<a class="way" href="/sounds">' in phone.look("/settings").text
    desk.show(open=True, day_until_ns=None, day_refused="Sheet 5 is open.")
    answer = phone.look("/sounds")
    assert answer.status_code == 409
    assert "Sheet 5 is open." in words_of(answer)


def test_the_sounder_itself_says_one(phone: Paired, desk: StandInDesk) -> None:
    """What is asked for is sounded, the number with its beats; what is no sound is told, and so is a dark page."""
    desk.say_day()
    heard: list[tuple[Cue, int]] = []
    desk.hear = lambda cue, count=0: heard.append((cue, count))  # type: ignore[method-assign,assign,return-value]
    answer = phone.send("/sounds/hear", {"cue": "filter soft"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sounds#filter-soft")
    phone.send("/sounds/hear", {"cue": "number"})
    assert heard == [(Cue.SOFT, 0), (Cue.NUMBER, SAMPLE)]
    assert phone.send("/sounds/hear", {"cue": "a horn"}).status_code == 404
    assert phone.look("/sounds/hear").headers["Location"] == "/sounds"
    desk.show(day_until_ns=None)
    assert phone.send("/sounds/hear", {"cue": "tick"}).status_code == 409
    assert len(heard) == 2


def test_without_a_sounder_it_is_not_offered(phone: Paired, desk: StandInDesk) -> None:
    """Where no sounder works the page says so, and has the phone's own buttons alone."""
    desk.say_day()
    assert 'form="hear"' in phone.look("/sounds").text
    desk.show(sounder=False)
    page = phone.look("/sounds")
    assert 'form="hear"' not in page.text
    assert say("sounds.no-sounder") in words_of(page)
