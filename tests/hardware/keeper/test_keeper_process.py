"""The keeper as a real process on practice lines: what it does when a pipe, a parent or a signal says that it is over.

Times are asserted loosely where only the machine's load decides them, and strictly where the order of things does.
"""

from __future__ import annotations

import fcntl
import os
import signal
import statistics
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import TypeVar

import pytest
from tools.patience import line_from
from tools.tether_bench import MS, hold_still, lit_parent, order, until

from hardware.clock import MonotonicClock, boot_id
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.slate import interrupted, read_slate
from hardware.tether.child import Child, KeeperConfig
from hardware.tether.tether import Tether
from hardware.wire import (
    Accepted,
    Dark,
    FootDown,
    FromKeeper,
    Greeting,
    Lease,
    Lit,
    Order,
    Reason,
    Refused,
    Sound,
    Sounded,
    Stop,
    Stopped,
    Trouble,
    What,
)
from hardware.wire_json import decode, encode

pytestmark = pytest.mark.usefixtures("by_real_time")

T = TypeVar("T")
F_SETPIPE_SZ = 1031


class Bench:
    """A keeper process whose pipe the test itself holds."""

    def __init__(self, config: KeeperConfig) -> None:
        self.child = Child(config)
        bell, ringer = os.pipe()
        try:
            words = self.child.wake(MonotonicClock(), 5000 * MS, bell)
        finally:
            os.close(bell)
            os.close(ringer)
        assert words is not None, self.child.last_words()
        self.greeting = words.greeting
        self.heard: list[object] = list(words.more)

    def say(self, message: Order | Lease | Stop | Sound) -> None:
        self.child.write(encode(message))

    def hear(self, kind: type[T], seconds: float = 5.0) -> T:
        """Return the next event of a kind, all others kept for later."""
        end = time.monotonic() + seconds
        while True:
            for event in self.heard:
                if isinstance(event, kind):
                    self.heard.remove(event)
                    return event
            assert time.monotonic() < end, f"no {kind.__name__} in {self.heard}"
            MonotonicClock().wait([self.child.fileno()], time.monotonic_ns() + 20 * MS)
            self.heard += (decode(line) for line in self.child.read()[0])

    def light(self, an_order: Order) -> Lit:
        self.say(an_order)
        return self.hear(Lit)


@pytest.fixture
def bench(config: KeeperConfig, room: PracticeDarkroom) -> Iterator[Bench]:
    bench = Bench(config)
    yield bench
    bench.child.close()


def last_dark_ns(room: PracticeDarkroom) -> int:
    last = room.edges()[-1]
    assert not last.lit, "the lamp is lit"
    return last.at_ns


def test_a_keeper_greets_with_what_it_is(bench: Bench) -> None:
    """The greeting names the process, the boot, the lines and what they can do, at rest."""
    greeting = bench.greeting
    assert isinstance(greeting, Greeting)
    assert (greeting.pid, greeting.boot) == (bench.child.pid, boot_id())
    assert (greeting.practice, greeting.lamps, greeting.features) == (True, ("lamp",), ("sounder",))
    assert greeting.at_rest


def test_a_light_is_as_long_as_ordered(bench: Bench, room: PracticeDarkroom) -> None:
    """The meter receives the light that was planned, to a few milliseconds on any machine that is not drowning."""
    bench.light(order(250))
    dark = bench.hear(Dark)
    assert dark.why == "complete"
    (light,) = room.lights()
    assert light.full_ns == pytest.approx(250 * MS, abs=10 * MS)
    assert dark.dark_ns - dark.on_ns == pytest.approx(light.full_ns, abs=2 * MS)


def test_the_end_of_the_pipe_is_dark(bench: Bench, room: PracticeDarkroom) -> None:
    """When the daemon's end of the pipe closes, the keeper darkens within 50 ms, says why, and ends."""
    bench.light(order())
    closed_ns = time.monotonic_ns()
    bench.child.end()
    assert bench.hear(Dark).why == "tether"
    assert last_dark_ns(room) - closed_ns < 50 * MS
    assert bench.child.reap(2.0)
    assert not room.owned()


def test_a_killed_daemon_leaves_no_light(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """SIGKILL of the parent is darkness within 50 ms as a rule, and the slate says exactly when."""
    late_ns: list[int] = []
    for _ in range(3):
        with lit_parent(config) as (parent, _):
            killed_ns = time.monotonic_ns()
            parent.kill()
            until(lambda: not room.lit())
            late_ns.append(last_dark_ns(room) - killed_ns)
            until(lambda: not room.owned())
        page = read_slate(config.slate)
        assert page is not None
        assert (page.lit, page.why) == (False, "tether")
        assert page.dark_ns == pytest.approx(last_dark_ns(room), abs=5 * MS)
    assert statistics.median(late_ns) < 50 * MS
    assert max(late_ns) < 500 * MS


def test_a_hung_daemon_does_not_stretch_a_timed_light(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """SIGSTOP of the parent changes nothing about a timed light; the event waits for it in the pipe."""
    with lit_parent(config, 300) as (parent, _):
        parent.send_signal(signal.SIGSTOP)
        until(lambda: not room.lit())
        (light,) = room.lights()
        assert light.full_ns == pytest.approx(300 * MS, abs=20 * MS)
        parent.send_signal(signal.SIGCONT)
        assert line_from(parent) == "Dark\n"


def test_sigterm_is_dark_and_the_end(bench: Bench, room: PracticeDarkroom) -> None:
    """A keeper that is asked to go darkens first, says so, and leaves with 0."""
    bench.light(order())
    os.kill(bench.child.pid, signal.SIGTERM)
    assert bench.hear(Dark).why == "keeper"
    assert bench.child.reap(2.0)
    assert not room.lit()
    page = read_slate(room.runtime / "slate")
    assert page is not None
    assert (page.lit, page.why) == (False, "keeper")


def test_a_terminal_s_signals_are_nothing_to_it(bench: Bench, room: PracticeDarkroom) -> None:
    """SIGINT and SIGHUP, which a whole terminal's processes get, neither darken nor end it."""
    bench.light(order(400))
    os.kill(bench.child.pid, signal.SIGINT)
    os.kill(bench.child.pid, signal.SIGHUP)
    assert bench.hear(Dark).why == "complete"
    assert os.getsid(bench.child.pid) == bench.child.pid


def test_open_light_ends_with_its_lease(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """Focus light goes dark by itself when nobody renews its lease, and stays while somebody does."""
    bench = Bench(replace(config, timing={"lease_ms": 150, "after_contact_ms": 1}))
    try:
        focus = order(60_000, kind="focus")
        lit = bench.light(focus)
        for _ in range(4):
            time.sleep(0.08)
            bench.say(Lease(focus.id))
        renewed_ns = time.monotonic_ns()
        assert room.lit()
        dark = bench.hear(Dark)
        assert dark.why == "lease"
        assert dark.dark_ns - lit.at_ns > 300 * MS
        assert 100 * MS < last_dark_ns(room) - renewed_ns < 250 * MS
    finally:
        bench.child.close()


def test_a_pipe_that_nobody_reads_is_dark(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """With its pipe full the keeper darkens, and the slate keeps the last event and the count of what was dropped."""
    bench = Bench(config)
    try:
        fcntl.fcntl(bench.child.fileno(), F_SETPIPE_SZ, 4096)
        bench.light(order())
        for _ in range(200):
            bench.say(Sound("tick"))
        until(lambda: not room.lit())
        until(lambda: (page := read_slate(config.slate)) is not None and page.dropped > 0)
        page = read_slate(config.slate)
        assert page is not None
        assert (page.lit, page.why) == (False, "tether")
        assert isinstance(decode(page.last_event.encode()), (Dark, Sounded))
        # read at last, it says that events are missing
        assert bench.hear(Trouble).what == What.DROPPED
    finally:
        bench.child.close()


def test_an_unreadable_message_is_dark(bench: Bench, room: PracticeDarkroom) -> None:
    """What is no message darkens, is told as trouble, and counts as a stop, so that no order in flight holds."""
    bench.light(order())
    bench.child.write(b"dark, please\n")
    assert bench.hear(Dark).why == "fault"
    assert bench.hear(Trouble).what == What.UNREADABLE
    assert bench.hear(Stopped).seq == 1
    assert not room.lit()
    bench.say(order(foot_seq=0))
    assert bench.hear(Refused).reason == Reason.FOOT


def test_an_order_that_is_too_long_is_refused(bench: Bench, room: PracticeDarkroom) -> None:
    """An order over the longest light brings no light at all: refused, not cut short; one at the limit stands."""
    bench.say(order(600_001))
    assert bench.hear(Refused).reason == Reason.LONG
    accepted = order(600_000)
    bench.say(accepted)
    assert bench.hear(Accepted).id == accepted.id
    assert len(room.edges()) == 0


def test_a_foot_down_ends_light_within_45_ms(bench: Bench, room: PracticeDarkroom) -> None:
    """From the first contact of the foot to the dark line 45 ms pass at most, bounces and all."""
    late_ns: list[int] = []
    for seq in range(3):
        bench.light(order(foot_seq=seq, ahead_ms=1300 if seq else 40))
        first_ns = room.press(60, bounces=3)
        down = bench.hear(FootDown)
        assert (down.first_ns, down.seq, bool(down.lit)) == (first_ns, seq + 1, True)
        assert bench.hear(Dark).why == "foot"
        late_ns.append(last_dark_ns(room) - first_ns)
        time.sleep(0.05)
    assert statistics.median(late_ns) < 45 * MS
    assert max(late_ns) < 80 * MS


def test_a_second_keeper_is_refused(bench: Bench, config: KeeperConfig, room: PracticeDarkroom) -> None:
    """A keeper that finds the line held says by whom, leaves with an error, and changes nothing."""
    bench.light(order(300))
    second = Child(config)
    bell, ringer = os.pipe()
    assert second.wake(MonotonicClock(), 5000 * MS, bell) is None
    os.close(bell)
    os.close(ringer)
    assert f"line busy: lamp-lamp is held by process {bench.child.pid}" in second.last_words()
    second.close()
    assert bench.hear(Dark).why == "complete"
    assert room.lights()[0].full_ns == pytest.approx(300 * MS, abs=20 * MS)


def test_a_spare_touches_nothing(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """A keeper that has not been woken holds no line, has written no slate, and ends with its pipe."""
    spare = Child(config)
    time.sleep(0.15)
    assert not room.owned()
    assert read_slate(config.slate) is None
    spare.end()
    assert spare.reap(2.0)
    assert spare.last_words() == ""
    spare.close()


def test_a_keeper_sees_little_of_the_daemon(
    config: KeeperConfig, monkeypatch: pytest.MonkeyPatch, room: PracticeDarkroom
) -> None:
    """The keeper's environment is a short list, its folder the runtime directory, its descriptors its own."""
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    monkeypatch.setenv("TREADLE_SECRET", "x")
    leak, other = os.pipe()
    os.set_inheritable(leak, True)
    bench = Bench(config)
    try:
        pid = bench.child.pid
        with open(f"/proc/{pid}/environ", "rb") as file:  # noqa: PTH123
            names = {entry.split(b"=")[0] for entry in file.read().split(b"\0") if entry}
        assert names == {b"PYTHONPATH", b"LG_WD"}
        assert config.runtime.samefile(f"/proc/{pid}/cwd")
        inode = os.fstat(leak).st_ino
        assert inode not in {
            os.stat(f"/proc/{pid}/fd/{fd}").st_ino  # noqa: PTH116
            for fd in os.listdir(f"/proc/{pid}/fd")  # noqa: PTH208
        }
    finally:
        bench.child.close()
        os.close(leak)
        os.close(other)


def test_keeper_and_daemon_killed_together_leave_a_trace(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """The next tether finds on the slate a light that least and most bracket, and its keeper begins dark."""
    with lit_parent(config) as (parent, keeper):
        time.sleep(0.1)
        hold_still(parent.pid)  # else it would bring the keeper back first
        os.kill(keeper, signal.SIGKILL)
        parent.kill()
        parent.wait()
    until(lambda: not room.owned())
    assert room.lit()
    heard: list[object] = []
    with Tether(config, heard.append) as tether:
        assert not room.lit()
        (found,) = tether.found
        light = interrupted(found, tether.greeting.at_ns, tether.greeting.boot)
    assert light is not None
    (truth,) = room.lights()
    assert light.least_ns <= truth.full_ns <= light.most_ns
    assert light.least_ns >= 50 * MS


def test_a_light_is_not_lost_where_a_second_daemon_dies_before_filing_it(
    config: KeeperConfig, room: PracticeDarkroom
) -> None:
    """A keeper that died before the light was filed leaves the first one's page, and when the line was dark."""
    with lit_parent(config) as (parent, keeper):
        time.sleep(0.1)
        hold_still(parent.pid)
        os.kill(keeper, signal.SIGKILL)
        parent.kill()
        parent.wait()
    until(lambda: not room.owned())
    for _ in range(2):  # daemons that never came to file anything
        with Tether(config, lambda _event: None):
            pass
    time.sleep(0.3)
    with Tether(config, lambda _event: None) as tether:
        light = next(
            light for page in tether.found if (light := interrupted(page, tether.greeting.at_ns, tether.greeting.boot))
        )
        (truth,) = room.lights()
        assert light.least_ns >= 50 * MS
        assert light.least_ns <= truth.full_ns <= light.most_ns
        assert light.most_ns - truth.full_ns < 250 * MS, "the most is not the moment of the first dark"
        tether.filed()
    with Tether(config, lambda _event: None) as tether:
        assert not any(page.id for page in tether.found)


def test_any_line_of_a_keeper_is_a_message(bench: Bench) -> None:
    """Every line that the keeper has said in a session decodes, and Sound is answered by Sounded."""
    bench.say(Sound("number", 3))
    sounded = bench.hear(Sounded)
    assert (sounded.cue, sounded.count) == ("number", 3)
    event: FromKeeper
    for event in (Stopped(1, 2, "page"), Accepted("x")):
        assert decode(encode(event)) == event
