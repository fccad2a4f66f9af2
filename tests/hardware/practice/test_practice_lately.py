"""The last lights are told as the whole story tells them, by reading what is new; and the log has a largest size."""

from __future__ import annotations

import json
import random
import threading
import time
from pathlib import Path
from typing import Any

import pytest

import hardware.practice.lately as lately_
import hardware.practice.log as log_
from hardware.practice.faults import PracticeFault
from hardware.practice.lately import Log
from hardware.practice.log import DodgerMoved, FaultSwitched, FilterPlaced, append, read
from hardware.practice.meter import light_ns, lights, shining
from hardware.practice.outputs import lamp_path
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.practice.ring import Ring

MS = 1_000_000


@pytest.mark.parametrize("seed", range(12))
def test_what_shone_lately_is_what_the_whole_story_tells(runtime: Path, seed: int) -> None:
    """Looked at after any event, of two lamps with dead bulbs and welded relays, lights and light are the meter's."""
    dice = random.Random(seed)
    with PracticeDarkroom(runtime, lamps=("soft", "hard")) as room:
        rings = {name: Ring(lamp_path(runtime, name)) for name in ("soft", "hard")}
        at, lit = 1_000, {"soft": False, "hard": False}
        for _ in range(150):
            at += dice.randrange(1, 50) * MS
            if dice.random() < 0.2:
                # one in four is logged later than an edge that came after it
                told = at - dice.choice([0, 0, 0, 60 * MS])
                fault = dice.choice([PracticeFault.BULB_DEAD, PracticeFault.RELAY_WELDED, PracticeFault.CONTACT_STUCK])
                append(runtime / "room.log", FaultSwitched(max(0, told), fault, dice.random() < 0.5))
            else:
                name = dice.choice(["soft", "hard"])
                lit[name] = not lit[name]
                rings[name].append(at, lit[name])
            if at > 300 * MS and dice.random() < 0.5:
                now = at + 7 * MS
                faults = [entry for entry in read(runtime / "room.log") if isinstance(entry, FaultSwitched)]
                story = list(shining(room.edges(), faults))
                # one switch may bring both lamps' light at the same moment: those have no order
                found, whole = room.lately.lights(13, now), lights(story, now)[-13:]
                assert {each for each in found if each.on_ns > whole[0].on_ns} == {
                    each for each in whole if each.on_ns > whole[0].on_ns
                }
                assert [each.on_ns for each in found] == [each.on_ns for each in whole]
                start = now - dice.randrange(1, 2000) * MS
                assert room.lately.light_ns(start, now) == light_ns(story, start, now)
        for ring in rings.values():
            ring.close()


def test_a_look_reads_only_what_is_new(runtime: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After the first look neither an edge nor a line of the log is read again, however many there are."""
    read_lines, asked = 0, []
    loads, since = json.loads, Ring.since

    def counted(text: Any, **more: Any) -> Any:
        nonlocal read_lines
        read_lines += 1
        return loads(text, **more)

    def noted(ring: Ring, number: int) -> tuple[list[tuple[int, bool]], int]:
        found = since(ring, number)
        asked.append(len(found[0]))
        return found

    with PracticeDarkroom(runtime) as room:
        ring = Ring(lamp_path(runtime, "lamp"))
        for number in range(200):
            ring.append(number * MS, number % 2 == 0)
            room.log_filter("soft", at_ns=number * MS)
        room.lately.lights(12, 500 * MS)
        monkeypatch.setattr(log_.json, "loads", counted)
        monkeypatch.setattr(Ring, "since", noted)
        room.lately.lights(12, 500 * MS)
        room.lately.light_ns(0, 500 * MS)
        assert room.filter() == "soft"
        assert (read_lines, sum(asked)) == (0, 0)
        ring.append(300 * MS, True)
        room.log_filter("hard", at_ns=301 * MS)
        assert room.lately.lights(12, 500 * MS)[-1].on_ns == 300 * MS
        assert room.filter() == "hard"
        assert (read_lines, sum(asked)) == (1, 1)
        ring.close()


def test_edges_in_memory_have_a_limit(runtime: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many lights there were, only the last edges stay in memory, and the last lights are right."""
    monkeypatch.setattr(lately_, "KEPT", 50)
    with PracticeDarkroom(runtime) as room:
        ring = Ring(lamp_path(runtime, "lamp"))
        for number in range(400):
            ring.append(number * MS, number % 2 == 0)
            found = room.lately.lights(12, number * MS)
            assert len(room.lately._shown) <= 100
        assert [light.on_ns // MS for light in found] == list(range(376, 400, 2))
        ring.close()


def test_a_log_has_a_largest_size(runtime: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log that grows too large keeps its newest half, and of all else the last that was said; lookers follow."""
    monkeypatch.setattr(log_, "LARGEST", 20_000)
    with PracticeDarkroom(runtime) as room:
        room.log_negative(False, at_ns=1)
        room.fault(PracticeFault.BULB_DEAD)
        room.log_dodger("A", True, at_ns=2)
        room.log_dodger("B", True, at_ns=3)
        room.log_dodger("B", False, at_ns=4)
        other = Log(runtime / "room.log")
        begun = time.monotonic_ns()
        for number in range(2_000):
            room.log_filter(f"filter {number}", at_ns=begun + number)
            assert (runtime / "room.log").stat().st_size <= 20_100
            if number % 7 == 0:
                assert other.entries() == room.log()
        entries = room.log()
    filters = [entry.name for entry in entries if isinstance(entry, FilterPlaced)]
    assert filters[-100:] == [f"filter {number}" for number in range(1_900, 2_000)]
    tools = {entry.area: entry.inside for entry in entries if isinstance(entry, DodgerMoved)}
    assert tools == {"A": True, "B": False}
    assert [entry.on for entry in entries if isinstance(entry, FaultSwitched)] == [True]


def test_nothing_is_lost_when_a_log_is_shortened(runtime: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Several who add at once while the log is shortened again and again lose no last word of theirs."""
    monkeypatch.setattr(log_, "LARGEST", 4_000)
    path = runtime / "room.log"

    def add(area: str) -> None:
        for number in range(300):
            append(path, DodgerMoved(number, area, "dodge", number % 2 == 0))

    threads = [threading.Thread(target=add, args=(area,)) for area in "ABCD"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    last = {entry.area: entry.at_ns for entry in read(path) if isinstance(entry, DodgerMoved)}
    assert last == dict.fromkeys("ABCD", 299)
