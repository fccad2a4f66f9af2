"""The practice darkroom's lines: rings that survive, lamp lines and contacts."""

from __future__ import annotations

import os
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tools.line_specs import practice_spec
from tools.patience import line_from
from tools.tether_bench import MS, ROOT

from hardware.errors import LineBusy, LineError
from hardware.open_lines import open_lines
from hardware.practice.contact import PracticeContact, chatter
from hardware.practice.faults import PracticeFault
from hardware.practice.outputs import PracticeLamp
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.practice.ring import Ring

S = 1000 * MS


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


def test_a_lamp_line_has_one_owner(room: PracticeDarkroom, runtime: Path) -> None:
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
    code = "import sys, time; from pathlib import Path; from hardware.practice.outputs import PracticeLamp\n"
    code += "lamp = PracticeLamp(Path(sys.argv[1])); lamp.set(True); print(flush=True); time.sleep(60)"
    owner = subprocess.Popen(
        [sys.executable, "-P", "-c", code, str(runtime)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
    )
    assert owner.stdout is not None
    with owner.stdout:
        line_from(owner)
        owner.send_signal(signal.SIGKILL)
        owner.wait()


def test_a_line_keeps_its_level_when_its_owner_dies(room: PracticeDarkroom, runtime: Path) -> None:
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


def test_a_line_that_drops_goes_dark_with_its_owner(room: PracticeDarkroom, runtime: Path) -> None:
    """With the fault switch, the line falls dark with its owner, and the next one takes note of that."""
    room.fault(PracticeFault.DROPS_WHEN_OWNER_DIES)
    _killed_while_lit(runtime)
    assert not room.lit()
    lamp = PracticeLamp(runtime)
    assert not lamp.lit
    assert [edge.lit for edge in room.edges()] == [True, False]
    lamp.close()


def test_a_failing_line_raises_and_changes_nothing(room: PracticeDarkroom, runtime: Path) -> None:
    """A line that fails says so and keeps its level; a slow one takes its time."""
    waits: list[float] = []
    lamp = PracticeLamp(runtime, wait=waits.append)
    lamp.set(True)
    room.fault(PracticeFault.LAMP_LINE_FAILS)
    with pytest.raises(LineError, match="does not answer"):
        lamp.set(False)
    assert room.lit()
    room.fault(PracticeFault.LAMP_LINE_FAILS, False)
    room.fault(PracticeFault.LAMP_LINE_SLOW)
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


def test_a_contact_tells_each_edge_once_with_its_sender_s_time(room: PracticeDarkroom, runtime: Path) -> None:
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


def test_a_contact_keeps_its_level_over_a_restart(room: PracticeDarkroom, runtime: Path) -> None:
    """A reader that comes later finds the level, is not told what was before, and no edge is lost to its absence."""
    room.contact(True)
    foot = PracticeContact(runtime)
    assert foot.closed()
    assert foot.edges() == []
    room.contact(False)
    assert [closed for _, closed in foot.edges()] == [False]
    foot.close()


def test_a_sleeping_reader_loses_no_edge(room: PracticeDarkroom, runtime: Path) -> None:
    """Hundreds of edges that nobody reads wait in order; the doorbell may be full, the ring is not."""
    foot = PracticeContact(runtime)
    moved = [room.contact(n % 2 == 0) for n in range(600)]
    assert foot.edges() == [(at, n % 2 == 0) for n, at in enumerate(moved)]
    foot.close()


def test_an_edge_cannot_be_dated_before_the_last_or_after_now(room: PracticeDarkroom) -> None:
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
    with PracticeDarkroom(deep) as room:
        foot = PracticeContact(deep)
        room.contact(True)
        assert foot.closed()
        assert len(foot.edges()) == 1
        foot.close()


def test_the_lid_is_shut_until_it_is_opened(room: PracticeDarkroom, runtime: Path) -> None:
    """A lid's contact is closed while the lid is shut, so that a broken wire counts as open."""
    lines = open_lines(practice_spec(runtime, lid=True))
    assert lines.lid is not None
    assert lines.lid.closed()
    room.lid(True)
    assert room.lid_open()
    assert not lines.lid.closed()
    assert [closed for _, closed in lines.lid.edges()] == [False]
    lines.close()


@pytest.mark.usefixtures("by_real_time")
def test_a_chattering_contact_is_closed_three_fifths_of_the_time(room: PracticeDarkroom, runtime: Path) -> None:
    """While the foot is down a wet contact opens for 2 of every 5 ms, and is still when the foot is up."""
    room.fault(PracticeFault.CONTACT_CHATTERS)
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


def test_stuck_and_broken_win_over_the_foot(room: PracticeDarkroom, runtime: Path) -> None:
    """A stuck contact is closed and a broken wire open, whatever the foot does; freed, it tells where it stands."""
    foot = PracticeContact(runtime)
    room.fault(PracticeFault.CONTACT_STUCK)
    assert foot.closed()
    assert [closed for _, closed in foot.edges()] == [True]
    room.press(1)
    assert foot.edges() == []
    room.fault(PracticeFault.CONTACT_STUCK, False)
    assert [closed for _, closed in foot.edges()] == [False]
    room.fault(PracticeFault.PEDAL_WIRE_BROKEN)
    room.contact(True)
    assert not foot.closed()
    assert foot.edges() == []
    room.fault(PracticeFault.PEDAL_WIRE_BROKEN, False)
    assert [closed for _, closed in foot.edges()] == [True]
    foot.close()
