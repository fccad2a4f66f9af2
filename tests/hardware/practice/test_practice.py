"""The practice darkroom as a whole: one room for everybody, its log, and how its lines are opened."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tools.line_specs import practice_spec, tables
from tools.tether_bench import MS, ROOT, until

from hardware.errors import LineBusy, LineError
from hardware.open_lines import open_lines
from hardware.practice.faults import PracticeFault
from hardware.practice.log import CardMoved, DodgerMoved, FaultSwitched, FilterPlaced, NegativeMoved, read
from hardware.practice.memory import memory_room
from hardware.practice.meter import Edge
from hardware.practice.outputs import PracticeLamp
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.practice.ring import Ring
from hardware.sounds import Note

# ---- the room


def test_everybody_stands_in_one_room(room: PracticeDarkroom, runtime: Path) -> None:
    """What one holder of the room does, another sees: foot, lamp, faults and log."""
    with PracticeDarkroom(runtime) as page:
        room.contact(True)
        room.fault(PracticeFault.BULB_DEAD)
        room.log_filter("soft")
        assert page.pressed()
        assert page.faults() == {PracticeFault.BULB_DEAD}
        assert page.filter() == "soft"


def test_the_log_gives_back_what_was_logged(room: PracticeDarkroom, runtime: Path) -> None:
    """Filter, card, dodger, negative and fault come back as they went in, in order of time."""
    assert room.filter() is None
    room.log_card("cover", 3, at_ns=20)
    room.log_filter("hard", at_ns=10)
    room.log_dodger("C", True, at_ns=30)
    room.log_negative(False, at_ns=40)
    room.fault(PracticeFault.RELAY_WELDED)
    room.fault(PracticeFault.RELAY_WELDED)
    *entries, fault = room.log()
    assert entries == [
        FilterPlaced(10, "hard"),
        CardMoved(20, "cover", 3),
        DodgerMoved(30, "C", "dodge", True),
        NegativeMoved(40, False),
    ]
    assert isinstance(fault, FaultSwitched)
    with (runtime / "room.log").open("a") as log:
        log.write('{"kind": "filter", "at')  # somebody is still writing
    assert len(room.log()) == 5
    with (runtime / "room.log").open("a") as log:
        log.write("\n")
    with pytest.raises(LineError, match="line 6 is no entry"):
        read(runtime / "room.log")


def test_light_is_metered_behind_the_faults(room: PracticeDarkroom, runtime: Path) -> None:
    """The room's meter and its lamp tell of light, not of the line: a dead bulb dark, a welded relay lit."""
    lamp = PracticeLamp(runtime)
    start = time.monotonic_ns()
    room.fault(PracticeFault.BULB_DEAD)
    lamp.set(True)
    assert room.driven()
    assert not room.lit()
    assert room.light_ns(start, time.monotonic_ns()) == 0
    room.fault(PracticeFault.BULB_DEAD, False)
    room.fault(PracticeFault.RELAY_WELDED)
    lamp.set(False)
    assert not room.driven()
    assert room.lit()
    time.sleep(0.005)
    assert room.light_ns(start, time.monotonic_ns()) >= 5 * MS
    lamp.close()


# ---- opening, and lines in memory


def test_lines_are_what_the_specification_says(room: PracticeDarkroom, runtime: Path) -> None:
    """Two lamps, no sounder and a lid are opened as asked; a sounder that is away is missing."""
    spec = practice_spec(runtime, lamps=["soft", "hard"], lid=True, sounder=False)
    lines = open_lines(spec)
    assert (list(lines.lamps), lines.features, lines.sounder, lines.practice) == (
        ["soft", "hard"],
        ("lid",),
        None,
        True,
    )
    lines.close()
    room.fault(PracticeFault.NO_SOUNDER)
    lines = open_lines({"kind": "practice", "runtime": str(runtime)})
    assert lines.features == ()
    lines.close()


@pytest.mark.parametrize(
    ("spec", "text"),
    [
        ({}, "say kind"),
        ({"kind": "prctice"}, "say kind"),
        ({"kind": "practice"}, "say kind = practice with a runtime"),
        ({"kind": "practice", "runtime": "/nowhere"}, "make its folder writable|make the folder writable"),
        ({"kind": "practice", "runtime": "/nowhere", "lamp": 17}, "'lamp'.*say kind"),
        ({"kind": "practice", "runtime": "/nowhere", "keeps_level": 1}, "keeps_level is 1: say true"),
        ({"kind": "practice", "runtime": "/nowhere", "wiring": 17}, "wiring is 17: give"),
        ({"kind": "practice", "runtime": "/nowhere", "wiring": {"lid": 1}}, "“lid” is 1, not a table"),
        ({"kind": "practice", "runtime": "/nowhere", "wiring": {"foot": {"pin": 27}}}, r"no \[lamp\]"),
        ({"kind": "practice", "runtime": "/nowhere", "wiring": {"fan": {"pin": 27}}}, "no “fan”.*one of.*safelight"),
        ({"kind": "gpio", "wiring": tables()}, "kind = gpio with a factory"),
        ({"kind": "gpio", "factory": "lgpio", "wiring": {"lamp": {"pin": "17"}}}, "“lamp.pin” is 17"),
    ],
)
def test_a_specification_that_is_not_understood_is_refused(spec: dict[str, object], text: str) -> None:
    """Nothing is opened in place of what was asked for; the sentence names the key."""
    with pytest.raises(LineError, match=text):
        open_lines(spec)


def test_a_busy_lamp_leaves_the_foot_to_its_owner(room: PracticeDarkroom, runtime: Path) -> None:
    """Who is refused the lamp has not touched the contact: the owner still hears the doorbell."""
    spec = {"kind": "practice", "runtime": str(runtime)}
    lines = open_lines(spec)
    with pytest.raises(LineBusy):
        open_lines(spec)
    room.contact(True)
    fd = lines.foot.fileno()
    assert fd is not None
    assert os.read(fd, 16) == b"!"
    lines.close()


def test_memory_lines_follow_a_clock_that_jumps() -> None:
    """Queued edges come when the clock reaches them, and all that was driven or played is kept with its time."""
    now = 0
    room = memory_room(lambda: now, lid=True)
    room.foot.feed(10, True)
    room.foot.feed(30, False)
    assert room.lid is not None
    room.lid.feed(20, False)
    assert room.next_edge_ns() == 10
    now = 25
    assert room.foot.edges() == [(10, True)]
    assert room.foot.edges() == []
    assert room.foot.closed()
    assert not room.lid.closed()
    assert room.next_edge_ns() == 20
    for wrong in ((30, True), (40, False)):
        with pytest.raises(ValueError, match="edge"):
            room.foot.feed(*wrong)
    lines = room.lines
    lines.lamps["lamp"].set(True)
    lines.lamps["lamp"].set(True)
    now = 40
    assert lines.sounder is not None
    lines.sounder.play([Note(440, 20)])
    lines.close()
    assert room.edges() == (Edge(25, True), Edge(40, False))
    assert room.sounder is not None
    assert room.sounder.played == [(40, (Note(440, 20),))]
    with pytest.raises(LineError, match="closed"):
        lines.lamps["lamp"].set(True)


def test_a_room_can_be_furnished_by_many_at_once(runtime: Path) -> None:
    """Processes that enter an empty room at the same moment end up in the same one."""
    code = "import sys; from pathlib import Path; from hardware.practice.practice_darkroom import PracticeDarkroom\n"
    code += "room = PracticeDarkroom(Path(sys.argv[1])); room.log_filter(sys.argv[2]); room.contact(True); room.close()"
    several = [
        subprocess.Popen(
            [sys.executable, "-P", "-c", code, str(runtime), str(n)], env={**os.environ, "PYTHONPATH": str(ROOT)}
        )
        for n in range(4)
    ]
    assert [one.wait(60) for one in several] == [0] * 4
    with PracticeDarkroom(runtime) as room:
        assert len(room.log()) == 4
        until(room.pressed)
        ring = Ring(runtime / "foot.ring")
        assert ring.count() == 1
        ring.close()
