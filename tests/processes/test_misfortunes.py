"""A daemon that hangs, a keeper that is killed in a light, a card that is full: real processes, real darkness."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, Bench, bench, tread_until_lit, until
from tools.daemon_process import Daemon
from tools.feet import MS

from controller.errors import StoreTrouble
from controller.foot import acts
from controller.store.entries import FootRow, Intent, LightCame
from controller.store.said_of_sheets import Remark
from hardware.clock import NS_PER_MS
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom

pytestmark = pytest.mark.usefixtures("by_real_time")

SHEET = (
    '{"format": "treadle/recipe/1", "title": "Hung", "light": [{"filter": "soft", "seconds": 0.8}],'
    ' "local": [{"area": "A", "act": "burn", "filter": "soft", "seconds": 0.5}]}'
)


@pytest.fixture
def room(tmp_path: Path) -> Iterator[PracticeDarkroom]:
    (tmp_path / "run").mkdir()
    with PracticeDarkroom(tmp_path / "run") as opened:
        yield opened


@pytest.fixture
def daemon(tmp_path: Path, room: PracticeDarkroom) -> Iterator[Daemon]:
    opened = Daemon(tmp_path)
    yield opened
    os.kill(opened.process.pid, signal.SIGCONT)
    opened.close()


@pytest.fixture
def darkroom(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path) as opened:
        yield opened


def dark(room: PracticeDarkroom, seconds: float = 3) -> int:
    """Wait until the lamp line is dark, and return since when."""
    until(lambda: None if room.driven() else True, seconds)
    return room.edges()[-1].at_ns


# ---- a daemon that hangs


def test_a_hung_daemon_loses_focus_light_when_its_lease_ends(daemon: Daemon, room: PracticeDarkroom) -> None:
    """A daemon that is stopped in focus light lets it go dark when the lease ends, by the keeper's own hand."""
    tread_until_lit(room, SHORT.hold_ms + 30, SHORT.hold_ms + 30)
    time.sleep(0.3)
    os.kill(daemon.process.pid, signal.SIGSTOP)
    stopped = time.monotonic_ns()
    took_ms = (dark(room) - stopped) / MS
    assert SHORT.lease_ms * 0.6 <= took_ms <= SHORT.lease_ms + 50
    os.kill(daemon.process.pid, signal.SIGCONT)
    status = until(lambda: s if (s := daemon.ask()) and s.place != "focus light" else None, 3)
    assert status.place in ("nothing chosen", "change filter")
    assert status.filter_in == ""


def test_a_hung_daemon_s_step_ends_on_time_and_is_on_record(daemon: Daemon, room: PracticeDarkroom) -> None:
    """A daemon that is stopped in a step's light: it ends by its plan, and the fact waits in the pipe."""
    assert daemon.ask(save=SHEET) is not None
    tread_until_lit(room, 32)  # the filter is in; then the light
    os.kill(daemon.process.pid, signal.SIGSTOP)
    off = dark(room)
    on = room.edges()[-2].at_ns
    # the line notes its own edges, some microseconds after the keeper's moments: within 1 ms, as everywhere
    assert 799 <= (off - on) / MS <= 830
    os.kill(daemon.process.pid, signal.SIGCONT)
    status = until(lambda: s if (s := daemon.ask()) and s.steps[0].state == "given" else None, 3)
    assert status.steps[0].given_most_ms == 800


# ---- a keeper that is killed


def keeper(darkroom: Bench) -> int:
    tether = darkroom.darkroom._pipe.tether
    assert tether is not None
    return tether.greeting.pid


def test_a_keeper_killed_in_a_light_leaves_the_truth_between_least_and_most(tmp_path: Path) -> None:
    """Killed at a random moment of a light: dark within a second, least and most bracket the truth, place is right."""
    dice = random.Random(3)
    timing = replace(SHORT, longest_light_ms=60_000)
    with bench(tmp_path, timing=timing) as darkroom:
        darkroom.load(30.0)
        for _ in range(3):
            darkroom.begin_light()
            time.sleep(0.05 + 0.4 * dice.random())
            killed = time.monotonic_ns()
            os.kill(keeper(darkroom), signal.SIGKILL)
            off = dark(darkroom.room)
            assert off - killed < NS_PER_MS * 1000
            status = darkroom.wait_for("held")
            came = until(lambda: darkroom.rows()[-1] and _last_light(darkroom), 3)
            on = darkroom.room.edges()[-2].at_ns
            assert came.why == "keeper"
            assert came.least_ns <= off - on <= came.most_ns
            assert came.most_ns - came.least_ns <= (off - killed) + 60 * MS
            assert status.doubt is None  # 30 s of light: a twentieth of a second is far less than 1/12 stop
        whole = sum(end - begin for begin, end in darkroom.lights())
        assert sum(line.given_most_ms for line in darkroom.desk.status().steps) >= whole / MS - 1


def _last_light(darkroom: Bench) -> LightCame | None:
    found = [row.entry for row in darkroom.rows() if isinstance(row.entry, LightCame)]
    return found[-1] if found else None


def test_a_step_in_doubt_is_carried_on_only_after_the_printer_s_word(darkroom: Bench) -> None:
    """A keeper that hung in a light: a press is refused until the printer has said what to assume."""
    darkroom.load(3.0, 0.3)
    darkroom.begin_light()
    time.sleep(0.3)
    os.kill(keeper(darkroom), signal.SIGSTOP)
    status = darkroom.wait_for("held")
    doubt = status.doubt
    assert doubt is not None
    assert 250 < doubt.least_ms < doubt.most_ms < 2500
    assert doubt.least_ms <= (darkroom.lights()[0][1] - darkroom.lights()[0][0]) / MS <= doubt.most_ms
    darkroom.rest(200)
    darkroom.press()
    time.sleep(0.3)
    assert darkroom.place() == "held"
    assert len(darkroom.lights()) == 1
    darkroom.do(acts.Assume(light=doubt.light, which="most"))
    status = darkroom.wait_for("held")
    assert status.doubt is None
    assert (
        0 <= doubt.most_ms - status.steps[0].given_most_ms <= 1
    )  # a bound is rounded up, what is assumed to the nearest
    darkroom.begin_light()
    darkroom.wait_lit(False)
    (first, second) = darkroom.lights()
    assert (first[1] - first[0]) + (second[1] - second[0]) <= 3005 * MS
    assert (second[1] - second[0]) / MS == pytest.approx(3000 - doubt.most_ms, abs=5)


def test_a_keeper_killed_in_a_lead_in_brings_no_light(darkroom: Bench) -> None:
    """Killed in a lead-in: nothing comes on, nothing restarts, and the next press counts."""
    darkroom.load(0.3)
    darkroom.get_ready()
    darkroom.rest()
    darkroom.press()
    os.kill(keeper(darkroom), signal.SIGKILL)
    darkroom.wait_for("ready")
    time.sleep(0.4)
    assert not darkroom.lights()
    darkroom.begin_light()
    darkroom.wait_lit(False)
    assert len(darkroom.lights()) == 1


def test_a_keeper_that_keeps_dying_is_a_fault_and_says_so(darkroom: Bench) -> None:
    """After three restarts in ten seconds the keeper is given up: fault, and a sentence that says what to do."""
    darkroom.load(0.3)
    for _ in range(4):
        pid = keeper(darkroom)
        os.kill(pid, signal.SIGKILL)
        until(lambda pid=pid: keeper(darkroom) != pid or darkroom.desk.status().keeper == "fault" or None, 5)
    status = until(lambda: s if (s := darkroom.desk.status()).keeper == "fault" else None, 8)
    assert status.place == "fault"
    assert any("its own switch" in sentence for sentence in status.troubles)
    assert not darkroom.room.driven()


def test_a_hung_keeper_is_replaced_dark(darkroom: Bench) -> None:
    """A keeper that hangs in a light is killed within a second or so, and the next one's first act is dark."""
    darkroom.load(20.0)
    darkroom.begin_light()
    hung = time.monotonic_ns()
    os.kill(keeper(darkroom), signal.SIGSTOP)
    assert (dark(darkroom.room, 5) - hung) / MS < 2000
    came = until(lambda: _last_light(darkroom), 3)
    on, off = darkroom.lights()[-1]
    assert came.least_ns <= off - on <= came.most_ns


def test_a_dead_bulb_s_light_is_struck_by_the_printer(darkroom: Bench) -> None:
    """With the bulb dead the record says what was ordered, until the printer says that no light came."""
    darkroom.load(0.2)
    darkroom.room.fault(PracticeFault.BULB_DEAD)
    darkroom.begin_light()
    darkroom.wait_for("finished")
    darkroom.room.fault(PracticeFault.BULB_DEAD, False)
    darkroom.do(acts.NoLight())
    status = darkroom.wait_for("ready")
    assert status.steps[0].given_most_ms == 0
    darkroom.begin_light()
    darkroom.wait_for("finished")
    assert darkroom.room.light_ns(0, time.monotonic_ns()) / MS == pytest.approx(200, abs=5)


# ---- a card that is full


def fill_the_card(darkroom: Bench) -> None:
    """Let the journal grow no further, and fill what room is left in it."""
    room = darkroom.darkroom

    def fill() -> None:
        connection = room._journal._connection
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 1}")
        for length in (1500, 200, 1):
            try:
                while True:
                    room._journal.append(Remark(sheet="", text="x" * length))
            except StoreTrouble:
                continue

    room._inbox.call(fill).result(10)


def make_room(darkroom: Bench) -> None:
    room = darkroom.darkroom
    room._inbox.call(lambda: room._journal._connection.execute("PRAGMA max_page_count = 1000000")).result(10)


def test_a_full_card_means_no_light_and_a_sentence(darkroom: Bench) -> None:
    """With the card full a press brings no light; the page says in a sentence what is wrong."""
    darkroom.load(0.3)
    darkroom.get_ready()
    fill_the_card(darkroom)
    darkroom.rest()
    darkroom.press()
    time.sleep(0.4)
    status = darkroom.wait_for("ready")
    assert not darkroom.lights()
    assert any(len(sentence.split()) > 4 for sentence in status.troubles), status.troubles
    make_room(darkroom)
    darkroom.begin_light()
    assert darkroom.wait_for("finished").troubles == ()


def test_facts_of_a_card_that_fills_up_in_a_light_are_kept_and_filed_later(darkroom: Bench) -> None:
    """A card that fills up in a light: it ends as planned, nothing more is lit, and the fact is filed later."""
    darkroom.load(0.6, 0.3)
    darkroom.begin_light()
    fill_the_card(darkroom)
    darkroom.wait_lit(False)
    status = until(lambda: s if (s := darkroom.desk.status()).place == "ready" else None, 3)
    assert status.steps[0].given_most_ms == 600
    assert _last_light(darkroom) is None
    darkroom.rest()
    darkroom.press()
    time.sleep(0.4)
    assert len(darkroom.lights()) == 1, "a light came although the one before it is not on record"
    make_room(darkroom)
    came = until(lambda: _last_light(darkroom), 8)
    assert came.most_ns == pytest.approx(600 * MS, abs=5 * MS)
    entries = [row.entry for row in darkroom.rows()]
    assert any(isinstance(entry, FootRow) for entry in entries)
    assert sum(isinstance(entry, Intent) for entry in entries) == 1


def test_a_nearly_full_card_arms_nothing_but_takes_facts(darkroom: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Under 16 MB free nothing is armed; a light that is on is filed all the same."""
    darkroom.load(0.5, 0.3)
    darkroom.begin_light()
    monkeypatch.setattr(darkroom.darkroom._journal, "_free", lambda: 15_900_000)
    darkroom.wait_lit(False)
    came = until(lambda: _last_light(darkroom), 3)
    assert came.why == "complete"
    darkroom.rest()
    darkroom.press()
    time.sleep(0.4)
    assert len(darkroom.lights()) == 1
    assert darkroom.desk.status().troubles


# ---- a machine that grants no real-time priority


def test_a_keeper_without_real_time_priority_says_so(tmp_path: Path) -> None:
    """Where real-time priority is not granted the snapshot and a sentence on the page say so, and light is given."""
    daemon = Daemon(tmp_path, humble=True)
    try:
        status = daemon.first
        assert status is not None
        assert not status.realtime
        assert any("real-time" in sentence for sentence in status.troubles)
    finally:
        daemon.close()
