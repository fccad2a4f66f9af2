"""The practice darkroom: rings that survive, light that is reckoned right, faults that do what they say."""

from __future__ import annotations

import math
import os
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tether_bench import MS, ROOT, until

from hardware.errors import LineBusy, LineError
from hardware.opening import open_lines
from hardware.practice.contact import PracticeContact, chatter
from hardware.practice.faults import Fault
from hardware.practice.lamp import PracticeLamp
from hardware.practice.log import CardMoved, DodgerMoved, FaultSwitched, FilterPlaced, NegativeMoved, read
from hardware.practice.memory import memory_room
from hardware.practice.meter import Edge, LampModel, light_ns, lights, shining
from hardware.practice.ring import Ring
from hardware.practice.room import PracticeRoom
from hardware.sounds import Note

S = 1000 * MS


def pulses(*spans_ms: tuple[float, float], lamp: str = "lamp") -> list[Edge]:
    """Edges of lights from and to, in ms."""
    return [Edge(round(at * MS), lit, lamp) for on, off in spans_ms for at, lit in ((on, True), (off, False))]


# ---- the meter


def test_an_isolated_light_loses_the_difference_of_warm_up_and_afterglow() -> None:
    """A light of D loses (tau_up - tau_down)(1 - exp(-D/tau_up)) of full light (derived: first-order lamp)."""
    model = LampModel(tau_up_ms=56.5, tau_down_ms=20.0)
    for d in (30.0, 500.0, 10_000.0):
        got = light_ns(pulses((100, 100 + d)), 0, 60 * S, model) / MS
        assert got == pytest.approx(d - (56.5 - 20.0) * (1 - math.exp(-d / 56.5)), abs=1e-4)


def test_a_tungsten_lamp_reaches_nine_tenths_in_its_measured_time() -> None:
    """Tau 0.0565 s is 90 % of full light after 0.13 s (100 W tungsten, second-hand; tau derived from it)."""
    model = LampModel(tau_up_ms=56.5)
    edges = pulses((0, 10_000))
    brightness = light_ns(edges, 130 * MS, 131 * MS, model) / MS
    assert brightness == pytest.approx(0.9, abs=0.005)


def test_eight_short_pulses_match_one_long_light() -> None:
    """The lag that a paper test finds, (n each - long)/(n - 1), is the lag that makes both lights equal (derived)."""
    lag_ms = 1000 * (8 * 1.105 - 8.0) / 7
    assert lag_ms == pytest.approx(120)
    model = LampModel(lag_ms=lag_ms)
    long = light_ns(pulses((0, 8000)), 0, 60 * S, model)
    train = light_ns(pulses(*((n * 3000, n * 3000 + 1105) for n in range(8))), 0, 60 * S, model)
    assert train == pytest.approx(long, abs=10)


def test_the_meter_agrees_with_a_lamp_that_is_stepped_through() -> None:
    """The closed form equals the differential equation stepped at 20 µs, over restrikes in warm-up and afterglow."""
    model = LampModel(tau_up_ms=60, tau_down_ms=35)
    edges = pulses((10, 55), (70, 100), (101, 300), (420, 430))
    bright, light, step = 0.0, 0.0, 0.02
    for n in range(round(1000 / step)):
        t = (n + 0.5) * step
        lit = any(on <= t < off for on, off in ((10, 55), (70, 100), (101, 300), (420, 430)))
        before = bright
        bright += ((1 - bright) / 60 if lit else -bright / 35) * step
        light += (before + bright) / 2 * step
    assert light_ns(edges, 0, 1 * S, model) / MS == pytest.approx(light, rel=1e-3)


def test_a_relay_moves_late_and_not_at_all_for_less() -> None:
    """Operate 10 ms and release 5 ms (small relay's data sheet, seen) cut 5 ms off a light, and all of a 9 ms one."""
    model = LampModel(operate_ms=10, release_ms=5)
    assert light_ns(pulses((0, 500)), 0, 1 * S, model) == 495 * MS
    assert light_ns(pulses((0, 9)), 0, 1 * S, model) == 0
    assert light_ns(pulses((0, 100), (104, 200)), 0, 1 * S, model) == (200 - 10 + 5) * MS  # never released


def test_a_light_is_told_with_its_line_edges() -> None:
    """Each light carries its own edges and light; the afterglow goes to the light it follows."""
    model = LampModel(tau_down_ms=30)
    first, second = lights(pulses((0, 1000), (2000, 2500)), 9 * S, model)
    assert (first.on_ns, first.dark_ns, second.on_ns, second.dark_ns) == (0, 1 * S, 2 * S, 2500 * MS)
    assert first.full_ns == pytest.approx(1030 * MS, abs=10)
    assert second.full_ns == pytest.approx(530 * MS, abs=10)
    assert lights([Edge(5, True)], 1 * S)[0].dark_ns is None


_edges = st.lists(st.integers(1, 400), min_size=1, max_size=12).map(
    lambda steps: [Edge(sum(steps[: n + 1]) * MS, n % 2 == 0) for n in range(len(steps))]
)
_models = st.builds(
    LampModel,
    lag_ms=st.integers(0, 50),
    tau_up_ms=st.integers(0, 120),
    tau_down_ms=st.integers(0, 120),
    operate_ms=st.integers(0, 12),
    release_ms=st.integers(0, 12),
)


@given(_edges, _models, st.integers(0, 3000), st.integers(0, 3000))
@settings(max_examples=150, deadline=None)
def test_light_adds_up(edges: list[Edge], model: LampModel, one: int, other: int) -> None:
    """Light over two spans that touch is the light over both, and a lamp never gives more than full light."""
    a, b, c = 0, *sorted((one * MS, other * MS))
    whole = light_ns(edges, a, c, model)
    assert light_ns(edges, a, b, model) + light_ns(edges, b, c, model) == pytest.approx(whole, abs=4)
    assert 0 <= whole <= c - a


@given(_edges)
@settings(max_examples=100, deadline=None)
def test_an_ideal_lamp_is_lit_while_its_line_is(edges: list[Edge]) -> None:
    """With nothing between line and light, the light is exactly the time the line was lit."""
    end = 6 * S
    lit = sum(
        (after.at_ns if after else end) - edge.at_ns
        for edge, after in zip(edges, [*edges[1:], None], strict=True)
        if edge.lit
    )
    assert light_ns(edges, 0, end) == lit


def test_the_meter_refuses_what_no_lamp_does() -> None:
    """A negative or endless delay, and a span that runs backwards, are refused by name."""
    with pytest.raises(ValueError, match="tau_up_ms is -1"):
        LampModel(tau_up_ms=-1)
    with pytest.raises(ValueError, match="lag_ms is inf"):
        LampModel(lag_ms=math.inf)
    with pytest.raises(ValueError, match="back to 1"):
        light_ns([], 2, 1)


def test_a_dead_bulb_gives_nothing_and_a_welded_relay_stays() -> None:
    """A dead bulb gives no light while it is dead; a welded relay keeps light until it is freed."""
    edges = pulses((100, 200), (300, 400))
    dead = [FaultSwitched(150 * MS, Fault.BULB_DEAD, True), FaultSwitched(350 * MS, Fault.BULB_DEAD, False)]
    assert light_ns(shining(edges, dead), 0, 1 * S) == (50 + 50) * MS
    weld = [FaultSwitched(150 * MS, Fault.RELAY_WELDED, True), FaultSwitched(900 * MS, Fault.RELAY_WELDED, False)]
    assert light_ns(shining(edges, weld), 0, 1 * S) == 800 * MS
    assert light_ns(shining(edges, [FaultSwitched(250 * MS, Fault.RELAY_WELDED, True)]), 0, 1 * S) == 800 * MS


# ---- rings


def test_a_ring_keeps_the_last_edges_in_order(runtime: Path) -> None:
    """A ring that is full forgets the oldest edges only, and a reader hears each edge once."""
    ring = Ring(runtime / "a.ring", capacity=8)
    for n in range(20):
        ring.append(n, n % 2 == 0)
    assert ring.since(0) == ([(n, n % 2 == 0) for n in range(12, 20)], 20)
    assert ring.since(18) == ([(18, True), (19, False)], 20)
    assert ring.level() is False
    ring.close()
    again = Ring(runtime / "a.ring")
    assert (again.count(), again.capacity, again.last()) == (20, 8, (19, False))
    again.close()


def test_the_default_ring_holds_a_long_session(runtime: Path) -> None:
    """A lamp's ring holds at least 65,536 edges."""
    lamp = PracticeLamp(runtime)
    lamp.close()
    ring = Ring(runtime / "lamp-lamp.ring")
    assert ring.capacity >= 65_536
    ring.close()


def test_half_an_edge_is_no_edge(runtime: Path) -> None:
    """A writer killed between the bytes of an edge leaves the ring as it was, and one killed after them leaves it."""
    path = runtime / "a.ring"
    ring = Ring(path, capacity=8)
    ring.append(1, True)
    ring.append(2, False)
    ring.close()
    raw = bytearray(path.read_bytes())
    raw[64:72] = struct.pack("<Q", 1)  # the count was not written
    path.write_bytes(raw)
    ring = Ring(path)
    assert (ring.count(), ring.level()) == (2, False)
    ring.close()
    raw[128 + 24 + 9] ^= 0x40  # a byte of the second edge was not written
    path.write_bytes(raw)
    ring = Ring(path)
    assert (ring.count(), ring.level()) == (1, True)
    ring.append(3, False)
    assert ring.since(0)[0] == [(1, True), (3, False)]
    ring.close()


def test_another_boot_begins_anew(runtime: Path) -> None:
    """Edges of an earlier boot, whose times mean nothing now, are not told: the lamp went out with the power."""
    path = runtime / "a.ring"
    ring = Ring(path)
    ring.append(1, True)
    ring.close()
    raw = bytearray(path.read_bytes())
    raw[24:60] = b"0" * 36
    path.write_bytes(raw)
    ring = Ring(path)
    assert (ring.count(), ring.level()) == (0, False)
    ring.close()


def test_a_file_that_is_no_ring_is_refused(runtime: Path) -> None:
    """A file of something else is named, left as it is, and the remedy said."""
    for content in (b"notes", b"notes" * 100):
        (runtime / "a.ring").write_bytes(content)
        with pytest.raises(LineError, match=r"a\.ring.*remove the file"):
            Ring(runtime / "a.ring")
        assert (runtime / "a.ring").read_bytes() == content


# ---- the lamp line


def test_a_lamp_line_has_one_owner(room: PracticeRoom, runtime: Path) -> None:
    """A second claim is refused with the owner's number; letting go frees it, dark."""
    lamp = PracticeLamp(runtime)
    lamp.set(True)
    assert room.owned()
    with pytest.raises(LineBusy, match=f"process {os.getpid()}") as busy:
        PracticeLamp(runtime)
    assert busy.value.pid == os.getpid()
    lamp.close()
    lamp.close()
    assert not room.owned()
    assert not room.lit()
    PracticeLamp(runtime).close()


def _killed_while_lit(runtime: Path) -> None:
    code = "import sys, time; from pathlib import Path; from hardware.practice.lamp import PracticeLamp\n"
    code += "lamp = PracticeLamp(Path(sys.argv[1])); lamp.set(True); print(flush=True); time.sleep(60)"
    owner = subprocess.Popen(
        [sys.executable, "-P", "-c", code, str(runtime)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
    )
    assert owner.stdout is not None
    with owner.stdout:
        owner.stdout.readline()
        owner.send_signal(signal.SIGKILL)
        owner.wait()


def test_a_line_keeps_its_level_when_its_owner_dies(room: PracticeRoom, runtime: Path) -> None:
    """As on a Pi, kill -9 leaves the lamp lit until the next owner darkens it."""
    _killed_while_lit(runtime)
    assert room.lit()
    assert not room.owned()
    lamp = PracticeLamp(runtime)
    assert lamp.lit
    lamp.set(False)
    assert not room.lit()
    assert [edge.lit for edge in room.edges()] == [True, False]
    lamp.close()


def test_a_line_that_drops_goes_dark_with_its_owner(room: PracticeRoom, runtime: Path) -> None:
    """With the fault switch, the line falls dark with its owner, and the next one takes note of that."""
    room.fault(Fault.DROPS_WHEN_OWNER_DIES)
    _killed_while_lit(runtime)
    assert not room.lit()
    lamp = PracticeLamp(runtime)
    assert not lamp.lit
    assert [edge.lit for edge in room.edges()] == [True, False]
    lamp.close()


def test_a_failing_line_raises_and_changes_nothing(room: PracticeRoom, runtime: Path) -> None:
    """A line that fails says so and keeps its level; a slow one takes its time."""
    waits: list[float] = []
    lamp = PracticeLamp(runtime, wait=waits.append)
    lamp.set(True)
    room.fault(Fault.LAMP_LINE_FAILS)
    with pytest.raises(LineError, match="does not answer"):
        lamp.set(False)
    assert room.lit()
    room.fault(Fault.LAMP_LINE_FAILS, False)
    room.fault(Fault.LAMP_LINE_SLOW)
    lamp.set(False)
    lamp.set(False)
    assert waits == [1.5]
    lamp.close()


def test_a_lamp_line_needs_a_name_that_makes_a_file(runtime: Path) -> None:
    """A name with a path in it, or none, is refused before anything is made."""
    for name in ("../x", "", "Lamp", "a" * 33):
        with pytest.raises(LineError, match="names no lamp line"):
            PracticeLamp(runtime, name)
    assert list(runtime.iterdir()) == []


# ---- contacts


def test_a_contact_tells_each_edge_once_with_its_sender_s_time(room: PracticeRoom, runtime: Path) -> None:
    """Edges come with the moment the contact moved, and the reader's descriptor wakes for them."""
    foot = PracticeContact(runtime)
    assert foot.edges() == []
    first = room.press(5, bounces=2)
    edges = foot.edges()
    assert edges[0] == (first, True)
    assert [closed for _, closed in edges] == [True, False] * 5
    assert [at for at, _ in edges] == sorted(at for at, _ in edges)
    assert foot.edges() == []
    assert not foot.closed()
    foot.close()
    foot.close()


def test_a_contact_keeps_its_level_over_a_restart(room: PracticeRoom, runtime: Path) -> None:
    """A reader that comes later finds the level, is not told what was before, and no edge is lost to its absence."""
    room.contact(True)
    foot = PracticeContact(runtime)
    assert foot.closed()
    assert foot.edges() == []
    room.contact(False)
    assert [closed for _, closed in foot.edges()] == [False]
    foot.close()


def test_a_sleeping_reader_loses_no_edge(room: PracticeRoom, runtime: Path) -> None:
    """Hundreds of edges that nobody reads wait in order; the doorbell may be full, the ring is not."""
    foot = PracticeContact(runtime)
    moved = [room.contact(n % 2 == 0) for n in range(600)]
    assert foot.edges() == [(at, n % 2 == 0) for n, at in enumerate(moved)]
    foot.close()


def test_an_edge_cannot_be_dated_before_the_last_or_after_now(room: PracticeRoom) -> None:
    """The room refuses an edge from the future or out of order; moving to where it is does nothing."""
    first = room.contact(True)
    assert room.contact(True) == first
    for wrong in (first - 1, time.monotonic_ns() + S):
        with pytest.raises(ValueError, match="must lie between"):
            room.contact(False, wrong)
    assert room.pressed()
    now = time.monotonic_ns()
    assert room.contact(False, now) == now


def test_a_deep_folder_is_no_hindrance(tmp_path: Path) -> None:
    """A runtime folder whose path is longer than a socket's name may be works all the same."""
    deep = tmp_path / ("d" * 100) / ("e" * 100)
    deep.mkdir(parents=True)
    with PracticeRoom(deep) as room:
        foot = PracticeContact(deep)
        room.contact(True)
        assert foot.closed()
        assert len(foot.edges()) == 1
        foot.close()


def test_the_lid_is_shut_until_it_is_opened(room: PracticeRoom, runtime: Path) -> None:
    """A lid's contact is closed while the lid is shut, so that a broken wire counts as open."""
    lines = open_lines({"kind": "practice", "runtime": str(runtime), "lid": True})
    assert lines.lid is not None
    assert lines.lid.closed()
    room.lid(True)
    assert room.lid_open()
    assert not lines.lid.closed()
    assert [closed for _, closed in lines.lid.edges()] == [False]
    lines.close()


def test_a_chattering_contact_is_closed_three_fifths_of_the_time(room: PracticeRoom, runtime: Path) -> None:
    """While the foot is down a wet contact opens for 2 of every 5 ms, and is still when the foot is up."""
    room.fault(Fault.CONTACT_CHATTERS)
    foot = PracticeContact(runtime)
    room.contact(True)
    time.sleep(0.06)
    room.contact(False)
    edges = foot.edges()
    assert len(edges) > 12
    assert [closed for _, closed in edges] == [n % 2 == 0 for n in range(len(edges))]
    closed_ns = sum(off - on for (on, _), (off, _) in zip(edges[::2], edges[1::2], strict=True))
    assert closed_ns / (edges[-1][0] - edges[0][0]) == pytest.approx(0.6, abs=0.1)
    assert not foot.closed()
    assert chatter(0, 20 * MS)[:3] == [(3 * MS, False), (5 * MS, True), (8 * MS, False)]
    foot.close()


def test_stuck_and_broken_win_over_the_foot(room: PracticeRoom, runtime: Path) -> None:
    """A stuck contact is closed and a broken wire open, whatever the foot does; freed, it tells where it stands."""
    foot = PracticeContact(runtime)
    room.fault(Fault.CONTACT_STUCK)
    assert foot.closed()
    assert [closed for _, closed in foot.edges()] == [True]
    room.press(1)
    assert foot.edges() == []
    room.fault(Fault.CONTACT_STUCK, False)
    assert [closed for _, closed in foot.edges()] == [False]
    room.fault(Fault.PEDAL_WIRE_BROKEN)
    room.contact(True)
    assert not foot.closed()
    assert foot.edges() == []
    room.fault(Fault.PEDAL_WIRE_BROKEN, False)
    assert [closed for _, closed in foot.edges()] == [True]
    foot.close()


# ---- the room


def test_everybody_stands_in_one_room(room: PracticeRoom, runtime: Path) -> None:
    """What one holder of the room does, another sees: foot, lamp, faults and log."""
    with PracticeRoom(runtime) as page:
        room.contact(True)
        room.fault(Fault.BULB_DEAD)
        room.log_filter("soft")
        assert page.pressed()
        assert page.faults() == {Fault.BULB_DEAD}
        assert page.filter() == "soft"


def test_the_log_gives_back_what_was_logged(room: PracticeRoom, runtime: Path) -> None:
    """Filter, card, dodger, negative and fault come back as they went in, in order of time."""
    assert room.filter() is None
    room.log_card("cover", 3, at_ns=20)
    room.log_filter("hard", at_ns=10)
    room.log_dodger("C", True, at_ns=30)
    room.log_negative(False, at_ns=40)
    room.fault(Fault.RELAY_WELDED)
    room.fault(Fault.RELAY_WELDED)
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


def test_light_is_metered_behind_the_faults(room: PracticeRoom, runtime: Path) -> None:
    """The room's meter and its lamp tell of light, not of the line: a dead bulb dark, a welded relay lit."""
    lamp = PracticeLamp(runtime)
    start = time.monotonic_ns()
    room.fault(Fault.BULB_DEAD)
    lamp.set(True)
    assert room.driven()
    assert not room.lit()
    assert room.light_ns(start, time.monotonic_ns()) == 0
    room.fault(Fault.BULB_DEAD, False)
    room.fault(Fault.RELAY_WELDED)
    lamp.set(False)
    assert not room.driven()
    assert room.lit()
    time.sleep(0.005)
    assert room.light_ns(start, time.monotonic_ns()) >= 5 * MS
    lamp.close()


# ---- opening, and lines in memory


def test_lines_are_what_the_specification_says(room: PracticeRoom, runtime: Path) -> None:
    """Two lamps, no sounder and a lid are opened as asked; a sounder that is away is missing."""
    spec = {"kind": "practice", "runtime": str(runtime), "lamps": ["soft", "hard"], "lid": True, "sounder": False}
    lines = open_lines(spec)
    assert (list(lines.lamps), lines.features, lines.sounder, lines.practice) == (
        ["soft", "hard"],
        ("lid",),
        None,
        True,
    )
    lines.close()
    room.fault(Fault.NO_SOUNDER)
    lines = open_lines({"kind": "practice", "runtime": str(runtime)})
    assert lines.features == ()
    lines.close()


@pytest.mark.parametrize(
    ("spec", "text"),
    [
        ({}, "no lines of kind None"),
        ({"kind": "prctice"}, "no lines of kind 'prctice'"),
        ({"kind": "practice"}, "runtime"),
        ({"kind": "practice", "runtime": "/nowhere"}, "make its folder writable|make the folder writable"),
        ({"kind": "practice", "runtime": "/nowhere", "lamp": 17}, "lamp: no such key"),
        ({"kind": "practice", "runtime": "/nowhere", "lid": 1}, "lid: 1 is neither"),
        ({"kind": "practice", "runtime": "/nowhere", "lamps": []}, "no list of names"),
        ({"kind": "practice", "runtime": "/nowhere", "lamps": ["lamp", "lamp"]}, "names one twice"),
        ({"kind": "practice", "runtime": "/nowhere", "outlets": ["fan"]}, "no such outlet; say some of safelight"),
        ({"kind": "practice", "runtime": "/nowhere", "keeps_level": 1}, "keeps_level: 1 is neither"),
        ({"kind": "gpio", "factory": "lgpio", "lamps": {"lamp": "17"}, "foot": {"pin": 27}}, "lamp: '17' is no number"),
    ],
)
def test_a_specification_that_is_not_understood_is_refused(spec: dict[str, object], text: str) -> None:
    """Nothing is opened in place of what was asked for; the sentence names the key."""
    with pytest.raises(LineError, match=text):
        open_lines(spec)


def test_a_busy_lamp_leaves_the_foot_to_its_owner(room: PracticeRoom, runtime: Path) -> None:
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
    code = "import sys; from pathlib import Path; from hardware.practice.room import PracticeRoom\n"
    code += "room = PracticeRoom(Path(sys.argv[1])); room.log_filter(sys.argv[2]); room.contact(True); room.close()"
    several = [
        subprocess.Popen(
            [sys.executable, "-P", "-c", code, str(runtime), str(n)], env={**os.environ, "PYTHONPATH": str(ROOT)}
        )
        for n in range(4)
    ]
    assert [one.wait() for one in several] == [0] * 4
    with PracticeRoom(runtime) as room:
        assert len(room.log()) == 4
        until(room.pressed)
        ring = Ring(runtime / "foot.ring")
        assert ring.count() == 1
        ring.close()
