"""The live word: at once, at every change, as a beat; bounded in number and in time; never stale."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from itertools import islice
from typing import Any

import pytest
from flask import Flask
from tools.phone import Paired
from tools.stand_in_desk import PLAN, FakePractice, StandInDesk, next_step
from werkzeug.test import TestResponse

from controller.foot.status import LitNow
from webui.frame.live import BEAT_S, LASTS_NS, STREAMS, Streams, end_streams


class Clock:
    """A clock that a test moves; each look moves it on a little, as time does."""

    def __init__(self) -> None:
        self.ns = 1_000_000_000
        self.step_ns = 0

    def __call__(self) -> int:
        self.ns += self.step_ns
        return self.ns


@pytest.fixture
def clock(desk: StandInDesk) -> Clock:
    made = Clock()
    desk.clock = made
    return made


def _events(answer: TestResponse) -> Iterator[dict[str, Any]]:
    """Yield a stream's events: their fields, with the data read."""
    for chunk in answer.iter_encoded():
        fields = dict(line.split(": ", 1) for line in chunk.decode().strip().split("\n"))
        if "data" in fields:
            yield {**fields, "data": json.loads(fields["data"])}


def test_the_word_comes_at_once_and_at_every_change(phone: Paired, desk: StandInDesk, clock: Clock) -> None:
    """The first event says how things stand; the next comes with the next snapshot, under its number as id."""
    events = _events(phone.look("/live?part=now"))
    first = next(events)
    assert first["id"] == "1"
    assert first["data"]["place"] == "nothing chosen"
    assert "Harbour crane" in first["data"]["html"]
    desk.show(place="light", next=next_step(2), lit=LitNow(kind="step", on_ns=0, lit_ms=1), stop_possible=True, can=())
    second = next(events)
    assert second["id"] == "2"
    assert (second["data"]["lit"], second["data"]["stop"]) == (True, True)
    assert second["data"]["line"] == "light: burn A, soft"


def test_the_beat_carries_no_panel(phone: Paired, desk: StandInDesk, clock: Clock) -> None:
    """When nothing changes the word is renewed within its time, small: the page already has the panel."""
    clock.step_ns = 100_000_000
    desk.wait = lambda after, timeout_s: desk.status()  # type: ignore[method-assign]
    events = _events(phone.look("/live?part=now"))
    next(events)
    asked = clock.ns
    beat = next(events)
    assert "html" not in beat["data"]
    assert clock.ns - asked <= (BEAT_S + 0.5) * 1e9


def test_a_page_says_what_it_has_seen(phone: Paired, desk: StandInDesk) -> None:
    """A page that already shows the present snapshot is not sent its panel again."""
    number = desk.status().number
    run = phone.look("/status.json").get_json()["run"]
    assert "html" not in phone.look(f"/status.json?part=now&run={run}&number={number}").get_json()
    assert "html" in phone.look(f"/status.json?part=now&run={run}&number={number - 1}").get_json()
    assert "html" in phone.look(f"/status.json?part=now&run=other&number={number}").get_json()
    assert "html" not in phone.look("/status.json?part=word").get_json()


def test_a_stream_ends_after_a_minute(phone: Paired, clock: Clock) -> None:
    """When its time is over it says “again” and ends; its place is free."""
    clock.step_ns = LASTS_NS // 5
    kinds = [event.get("event", "word") for event in islice(_events(phone.look("/live")), 20)]
    assert kinds[-1] == "again"
    assert len(kinds) < 10


def test_streams_are_bounded(phone: Paired, app: Flask) -> None:
    """One stream too many is told 503 and when to come again; polling goes on; a place given back is taken again."""
    opened = [phone.look("/live") for _ in range(STREAMS)]
    refused = phone.look("/live")
    assert refused.status_code == 503
    assert refused.headers["Retry-After"]
    assert phone.look("/status.json").status_code == 200
    opened.pop().close()
    assert phone.look("/live").status_code == 200


def test_a_look_at_the_head_takes_no_place(phone: Paired) -> None:
    """HEAD has no body whose end could give a place back, so it takes none."""
    for _ in range(STREAMS + 1):
        assert phone.client.head("/live").status_code == 200
    assert phone.look("/live").status_code == 200


def test_a_page_that_is_gone_is_noticed(phone: Paired, desk: StandInDesk, clock: Clock) -> None:
    """The server's word that the browser hung up ends the stream at its next beat."""
    clock.step_ns = 50_000_000
    gone = threading.Event()
    answer = phone.client.get("/live", environ_overrides={"waitress.client_disconnected": gone.is_set})
    events = _events(answer)
    next(events)
    gone.set()
    desk.show()
    assert list(islice(events, 3)) == []


def test_streams_end_when_the_server_closes(phone: Paired, app: Flask, desk: StandInDesk, clock: Clock) -> None:
    """Once closing, open streams end and new ones are refused."""
    clock.step_ns = 50_000_000
    events = _events(phone.look("/live"))
    next(events)
    end_streams(app)
    desk.show()
    assert list(islice(events, 3)) == []
    assert phone.look("/live").status_code == 503


def test_a_stream_ends_when_its_phone_is_put_out(phone: Paired, desk: StandInDesk, clock: Clock) -> None:
    """What a phone is being told ends with its being put out."""
    clock.step_ns = 100_000_000
    events = _events(phone.look("/live?part=now"))
    next(events)
    (known,) = desk.phones().listed()
    desk.phones().put_out(known.name)
    desk.show(place="light")
    assert list(islice(events, 3)) == []


def test_a_place_is_given_back_once(app: Flask) -> None:
    """Giving back more places than were taken is a mistake that shows."""
    streams = Streams(1)
    assert streams.enter()
    assert not streams.enter()
    streams.leave()
    with pytest.raises(ValueError, match="released too many"):
        streams.leave()


# ---- the day face


def test_the_day_face_is_counted_from_the_daemons_clock(phone: Paired, desk: StandInDesk) -> None:
    """The word says how long the day face may last; at its end it says so, and why it cannot be had."""
    assert phone.look("/status.json").get_json()["day_ms"] == 0
    desk.say_day(2.5)
    assert phone.look("/status.json").get_json()["day_ms"] == 2500
    desk.clock_ns += 2_500_000_000
    assert phone.look("/status.json").get_json()["day_ms"] == 0
    desk.show(day_until_ns=None, day_refused="Sheet 5 is open; hold to close it.")
    assert phone.look("/status.json").get_json()["dark_why"] == "Sheet 5 is open; hold to close it."


def test_only_a_page_by_day_says_day(phone: Paired, desk: StandInDesk) -> None:
    """A page is marked for the day face only while the daemon allows it: its very first frame is black else."""
    assert "data-day" not in phone.look("/").text
    desk.say_day(1)
    assert 'data-day="1"' in phone.look("/").text
    desk.clock_ns += 1_000_000_000
    assert "data-day" not in phone.look("/").text


def test_each_phone_gets_its_own_token(phone: Paired, app: Flask, desk: StandInDesk) -> None:
    """The panel is painted once for all, but its forms carry the token of the phone that looks."""
    desk.pairing().code = "12345678"
    client = app.test_client()
    client.post("/pair", data={"code": "12345678"}, headers={"Origin": "http://localhost"})
    other = Paired(client)
    mine, theirs = (p.look("/status.json?part=now").get_json()["html"] for p in (phone, other))
    assert phone.token in mine
    assert other.token in theirs
    assert phone.token not in theirs
    assert "\x00" not in mine


def test_the_panel_is_painted_once_for_all(phone: Paired, desk: StandInDesk) -> None:
    """Twenty phones that look at one snapshot cost one painting."""
    desk.show(place="nothing chosen", can=("load",))
    painted: list[str] = []
    kept = desk.recipes().kept
    desk.recipes().kept = lambda kind: painted.append(kind) or kept(kind)  # type: ignore[method-assign]
    words = [phone.look("/status.json?part=now").get_json()["html"] for _ in range(20)]
    assert len(set(words)) == 1
    assert sorted(painted) == ["recipe", "strip"]


# ---- the practice part


def test_a_practice_page_hears_and_sees(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """Its stream brings new cues with their notes, and the lamp when it changes; old sounds are not played again."""
    practice_desk.sound("tick")
    events = _events(phone_with_practice.look("/live?part=practice"))
    first = next(events)["data"]
    assert "heard" not in first
    assert first["view"]["lit"] is False
    practice_desk.sound("number", 2)
    room = practice_desk.practice()
    assert isinstance(room, FakePractice)
    room.lit = True
    told = next(events)["data"]
    assert told["view"]["lit"] is True
    assert [cue["words"] for cue in told["heard"]] == ["step 2"]
    assert told["heard"][0]["notes"] == [[620, 45], [0, 165], [620, 45], [0, 165]]
    assert told["heard_to"] == 2


def test_polling_brings_the_cues_since_the_last_time(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """Without a stream nothing is lost between two looks."""
    practice_desk.sound("tick")
    first = phone_with_practice.look("/status.json?part=practice").get_json()
    assert first["heard_to"] == 1
    assert "heard" not in first
    practice_desk.sound("done")
    practice_desk.sound("no")
    later = phone_with_practice.look(f"/status.json?part=practice&run={first['run']}&heard=1").get_json()
    assert [cue["number"] for cue in later["heard"]] == [2, 3]
    other = phone_with_practice.look("/status.json?part=practice&run=earlier&heard=1").get_json()
    assert "heard" not in other
    assert other["heard_to"] == 3


def test_without_practice_lines_nothing_of_it_is_told(phone: Paired, desk: StandInDesk) -> None:
    """With real lines a page that asks for the practice part sees no simulated lamp."""
    desk.show(plan=PLAN)
    assert "view" not in phone.look("/status.json?part=practice").get_json()
