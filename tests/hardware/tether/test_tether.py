"""The tether: it brings a dead or hung keeper back dark, never waits, and leaves nothing behind."""

from __future__ import annotations

import os
import signal
import statistics
import threading
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.tether_bench import MS, Ear, children, order, until

import hardware.tether.tether
from hardware.errors import KeeperAway
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.slate import Page
from hardware.tether.child import KeeperConfig
from hardware.tether.events import Event, KeeperBack, KeeperLost, last_event
from hardware.tether.tether import Tether
from hardware.tether.watch import LATE_NS, SILENT_NS, SURE_NS, Watch
from hardware.wire import Cancel, Cancelled, Dark, FootDown, Greeting, Lit, Order, Sound, Stop, Stopped, ToKeeper

pytestmark = pytest.mark.usefixtures("by_real_time")


def spare_of(tether: Tether) -> int:
    """The process that is neither this one nor the keeper: the spare."""
    until(lambda: len(children() - {tether.greeting.pid}) == 1)
    (spare,) = children() - {tether.greeting.pid}
    return spare


# ---- the plain life


def test_a_tether_tells_everything_in_order(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """The greeting comes first, then what the keeper says, as it says it."""
    assert tether.found == ()
    assert ear.wait(Greeting) == tether.greeting
    an_order = order(100)
    tether.send(an_order)
    dark = ear.wait(Dark)
    assert (dark.id, dark.why) == (an_order.id, "complete")
    names = [type(event).__name__ for event in ear.events]
    assert names[:4] == ["Greeting", "Accepted", "Lit", "Dark"]
    room.press(40)
    assert ear.wait(FootDown).seq == 1


def test_what_is_done_meanwhile_may_take_longer_than_a_keeper(
    config: KeeperConfig, ear: Ear, room: PracticeDarkroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A keeper that greets while its daemon still loads has greeted, however late that is read."""
    monkeypatch.setattr(hardware.tether.tether, "START_NS", 1 * MS)
    tether = Tether(config, ear)

    def load() -> None:
        until(room.owned)
        time.sleep(0.1)

    try:
        assert tether.start(meanwhile=load) == ear.wait(Greeting)
    finally:
        tether.close()


def test_closing_while_lit_is_dark_and_heard(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """Closing ends the pipe: the keeper darkens, and its last word still comes before the tether is gone."""
    with Tether(config, ear) as tether:
        tether.send(order())
        ear.wait(Lit)
    assert ear.wait(Dark).why == "tether"
    assert not room.lit()
    assert not room.owned()
    tether.close()


def test_a_tether_leaves_no_process_thread_or_descriptor(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """After close there is no child, not even a zombie, no thread and no open descriptor more than before."""
    files, threads = len(list(Path("/proc/self/fd").iterdir())), threading.active_count()
    for _ in range(2):
        with Tether(config, lambda event: None) as tether:
            spare_of(tether)
    assert children() == set()
    assert (len(list(Path("/proc/self/fd").iterdir())), threading.active_count()) == (files, threads)


def test_a_line_that_cannot_be_had_is_said_at_the_start(room: PracticeDarkroom, runtime: Path) -> None:
    """A tether whose keeper cannot have its lines raises what the keeper said, and leaves nothing running."""
    tether = Tether(
        KeeperConfig({"kind": "practice", "runtime": str(runtime), "wiring": {"foot": {"pin": 27}}}, runtime), print
    )
    with pytest.raises(KeeperAway, match=r"there is no \[lamp\]"):
        tether.start()
    assert children() == set()
    with pytest.raises(KeeperAway, match="no keeper yet"):
        _ = tether.greeting
    room.fault(PracticeFault.LAMP_LINE_FAILS)
    with pytest.raises(KeeperAway, match="lamp-lamp does not answer"):
        Tether(KeeperConfig({"kind": "practice", "runtime": str(runtime)}, runtime), print).start()


def test_a_second_tether_is_refused(tether: Tether, config: KeeperConfig) -> None:
    """Two daemons never share a lamp: the second is told who holds it."""
    with pytest.raises(KeeperAway, match=f"held by process {tether.greeting.pid}"):
        Tether(config, print).start()


# ---- loss and return


def test_a_killed_keeper_is_replaced_dark(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """SIGKILL of a lit keeper is darkness within a second, the spare takes over, least and most bracket the truth."""
    spare, pid = spare_of(tether), tether.greeting.pid
    an_order = order()
    tether.send(an_order)
    ear.wait(Lit)
    time.sleep(0.12)
    killed_ns = time.monotonic_ns()
    os.kill(pid, signal.SIGKILL)
    back = ear.wait(KeeperBack)
    assert [lost.why for lost in ear.of(KeeperLost)] == ["gone"]
    assert back.greeting.pid == tether.greeting.pid == spare
    (truth,) = room.lights()
    assert truth.dark_ns is not None
    assert truth.dark_ns - killed_ns < 1000 * MS
    light = back.interrupted
    assert light is not None
    assert light.id == an_order.id
    assert light.least_ns <= truth.full_ns <= light.most_ns
    assert light.least_ns >= 50 * MS
    assert back.slate_event is None
    # the new keeper serves, another spare waits
    tether.send(order(80))
    assert ear.wait(Dark).why == "complete"
    assert spare_of(tether) not in {pid, spare}


def test_a_keeper_that_ends_dark_leaves_no_question(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """Where the keeper said its dark before it went, nothing is open: no interrupted light."""
    tether.send(order())
    ear.wait(Lit)
    os.kill(tether.greeting.pid, signal.SIGTERM)
    back = ear.wait(KeeperBack)
    assert ear.wait(Dark).why == "keeper"
    assert back.interrupted is None
    kinds = [type(event) for event in ear.events]
    assert kinds.index(Dark) < kinds.index(KeeperLost) < kinds.index(KeeperBack)


def test_a_dark_that_was_not_said_is_told_by_the_slate() -> None:
    """A keeper killed between darkening and saying so leaves its light's exact end on the slate: that is told."""
    page = Page("boot", 7, id="light", kind="step", on_ns=1000, dark_ns=5000, why="complete", lit_ms=4)
    assert last_event(page) == Dark("light", 1000, 5000, "complete")
    assert last_event(Page("boot", 7, id="light", lit=True, on_ns=1000)) is None
    assert last_event(Page("boot", 7, id="light")) is None
    assert last_event(None) is None


def test_a_keeper_that_stands_still_is_killed(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """A stopped keeper shows no sign of life: within two seconds it is killed and the lamp is dark."""
    tether.send(order(60_000))
    ear.wait(Lit)
    pid, stood_ns = tether.greeting.pid, time.monotonic_ns()
    os.kill(pid, signal.SIGSTOP)
    back = ear.wait(KeeperBack)
    assert [lost.why for lost in ear.of(KeeperLost)] == ["silent"]
    (truth,) = room.lights()
    assert truth.dark_ns is not None
    assert 900 * MS < truth.dark_ns - stood_ns < 2000 * MS
    assert back.interrupted is not None
    assert back.interrupted.least_ns <= truth.full_ns <= back.interrupted.most_ns
    assert not Path(f"/proc/{pid}").exists()


def test_light_that_does_not_end_is_ended(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """A keeper that is not dark a quarter second after the order's end is killed, without waiting for a whole one."""

    def hear(event: Event) -> None:
        if isinstance(event, KeeperLost):
            room.fault(PracticeFault.LAMP_LINE_SLOW, False)
        ear(event)

    with Tether(config, hear) as tether:
        tether.send(order(200))
        lit = ear.wait(Lit)
        room.fault(PracticeFault.LAMP_LINE_SLOW)
        back = ear.wait(KeeperBack)
        assert [lost.why for lost in ear.of(KeeperLost)] == ["late"]
        assert not room.lit()
        assert 450 * MS <= room.edges()[-1].at_ns - lit.at_ns < 900 * MS
        assert back.interrupted is not None


def test_a_stop_that_is_not_heeded_is_enforced(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """A page's STOP that a hung keeper does not heed becomes a kill after a quarter of a second."""
    with Tether(config, ear) as tether:
        tether.send(order(60_000))
        ear.wait(Lit)
        os.kill(tether.greeting.pid, signal.SIGSTOP)
        asked_ns = time.monotonic_ns()
        assert tether.stop()
        ear.wait(KeeperBack)
        assert [lost.why for lost in ear.of(KeeperLost)] == ["late"]
        assert room.edges()[-1].at_ns - asked_ns < 700 * MS
        assert not room.lit()


def test_a_fourth_loss_is_a_fault_and_no_more(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """After three restarts in ten seconds nothing is started again, the line is driven dark all the same."""
    for n in range(1, 4):
        os.kill(tether.greeting.pid, signal.SIGKILL)
        ear.wait(KeeperBack, n)
    an_order = order()
    tether.send(an_order)
    ear.wait(Lit)
    os.kill(tether.greeting.pid, signal.SIGKILL)
    fault = ear.wait(KeeperLost, 5)
    assert (fault.why, fault.dark) == ("fault", True)
    assert not room.lit()
    (truth,) = room.lights()
    assert fault.interrupted is not None
    assert fault.interrupted.least_ns <= truth.full_ns <= fault.interrupted.most_ns
    time.sleep(0.3)
    assert children() == set()
    with pytest.raises(KeeperAway, match="wait until it is back"):
        tether.send(order())
    assert not tether.stop()
    assert len(ear.of(KeeperBack)) == 3


def test_a_line_that_cannot_be_darkened_is_said(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """Where no new keeper comes up dark within a second, that is told each time, and at last as a fault, not dark."""
    tether.send(order(60_000))
    ear.wait(Lit)
    room.fault(PracticeFault.LAMP_LINE_FAILS)
    os.kill(tether.greeting.pid, signal.SIGKILL)
    fault = ear.wait(KeeperLost, 5, seconds=10)
    assert [lost.why for lost in ear.of(KeeperLost)] == ["gone", "start", "start", "start", "fault"]
    assert not any(lost.dark for lost in ear.of(KeeperLost))
    assert fault.interrupted is None
    assert room.lit()


def test_a_dead_spare_is_replaced(tether: Tether, ear: Ear) -> None:
    """A spare that dies is missed within a few seconds; meanwhile a lost keeper is replaced by a fresh process."""
    first = spare_of(tether)
    os.kill(first, signal.SIGKILL)
    until(lambda: first not in children())
    os.kill(tether.greeting.pid, signal.SIGKILL)
    assert ear.wait(KeeperBack).greeting.pid != first
    assert spare_of(tether) != first


def test_what_is_no_message_costs_a_keeper_its_place(tether: Tether, ear: Ear, room: PracticeDarkroom) -> None:
    """A keeper that says what is no message cannot be trusted with light: it is replaced, dark."""
    tether.send(order())
    ear.wait(Lit)
    with open(f"/proc/{tether.greeting.pid}/fd/1", "wb", buffering=0) as mouth:  # noqa: PTH123
        mouth.write(b"hum\n")
    back = ear.wait(KeeperBack)
    assert [lost.why for lost in ear.of(KeeperLost)] == ["garbled"]
    assert back.interrupted is not None
    assert not room.lit()


def test_an_order_for_another_keeper_is_not_sent(tether: Tether, ear: Ear) -> None:
    """What was decided on one keeper's words never reaches the next, however quickly it has come."""
    with pytest.raises(KeeperAway, match="another keeper"):
        tether.send(order(50), to=tether.greeting.pid + 1)
    mine = order(50)
    tether.send(mine, to=tether.greeting.pid)
    assert ear.wait(Dark).id == mine.id


def fill(tether: Tether, message: ToKeeper) -> None:
    """Send until no message of this length goes into the pipe any more."""
    for _ in range(10_000):
        try:
            tether.send(message)
        except KeeperAway:
            return
    pytest.fail("the pipe was never full")


# ---- STOP, and callers that do not behave


def test_stop_is_past_every_queue(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """STOP from any thread darkens within 50 ms as a rule, though the one who hears events is stuck in one."""
    late_ns: list[int] = []
    for _ in range(3):
        stuck, lit = threading.Event(), threading.Event()

        def hear(event: Event, lit: threading.Event = lit, stuck: threading.Event = stuck) -> None:
            if isinstance(event, Lit):
                lit.set()
                stuck.wait(5)

        with Tether(config, hear) as tether:
            tether.send(order())
            assert lit.wait(5)
            asked_ns = time.monotonic_ns()
            assert tether.stop()
            until(lambda: not room.lit())
            late_ns.append(room.edges()[-1].at_ns - asked_ns)
            stuck.set()
    assert statistics.median(late_ns) < 50 * MS


def test_stop_counts_as_a_foot_down(tether: Tether, ear: Ear) -> None:
    """A stop takes a number, and takes a pending order back: what was decided before it does not hold after it."""
    pending = order(ahead_ms=2000)
    tether.send(pending)
    assert tether.stop()
    stopped = ear.wait(Stopped)
    assert (stopped.seq, stopped.why) == (1, "page")
    assert ear.wait(Cancelled).why == "page"


def test_stop_ends_a_keeper_whose_pipe_is_full(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """Where STOP cannot even be written, the keeper is killed at once and another begins dark."""
    with Tether(config, ear) as tether:
        tether.send(order(60_000))
        ear.wait(Lit)
        os.kill(tether.greeting.pid, signal.SIGSTOP)
        for message in (Sound("tick"), Cancel("")):
            fill(tether, message)
        asked_ns = time.monotonic_ns()
        assert not tether.stop()
        ear.wait(KeeperBack)
        assert [lost.why for lost in ear.of(KeeperLost)] == ["gone"]
        assert room.edges()[-1].at_ns - asked_ns < 700 * MS
        assert not room.lit()


def test_a_listener_that_raises_does_not_end_the_watch(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """An exception in the callback is logged; the tether goes on hearing and replacing."""
    ear = Ear()

    def hear(event: Event) -> None:
        ear(event)
        raise RuntimeError("the runner is unwell")

    with Tether(config, hear) as tether:
        os.kill(tether.greeting.pid, signal.SIGKILL)
        ear.wait(KeeperBack)
        tether.send(order(50))
        assert ear.wait(Dark).why == "complete"


# ---- the watch, pure


def page(pid: int, passed_ns: int) -> Page:
    return Page("boot", pid, last_pass_ns=passed_ns)


def test_the_watch_calls_late_what_is_not_dark_in_time() -> None:
    """Late is LATE_NS after the planned end, or after a stop that comes sooner; a dark ends the matter."""
    watch = Watch(7, 0)
    watch.ordered(Order("a", "step", "s", 1, 1, "lamp", 0, 0, 100))
    watch.heard(Lit("a", 1000 * MS))
    due = 1100 * MS + LATE_NS
    assert watch.due_ns() == due
    assert watch.ailing(due - 1, page(7, due)) is None
    assert watch.ailing(due, page(7, due)) == "late"
    watch.stopping(1010 * MS)
    assert watch.due_ns() == 1010 * MS + LATE_NS
    watch.heard(Dark("a", 1000 * MS, 1020 * MS, "page"))
    assert watch.due_ns() is None
    assert watch.ailing(due, page(7, due)) is None


def test_a_stop_on_its_way_when_the_light_came_on_counts() -> None:
    """A stop that was sent before the light was heard of still makes that light's end due."""
    watch = Watch(7, 0)
    watch.ordered(Order("a", "step", "s", 1, 1, "lamp", 0, 0, 60_000))
    watch.stopping(1001 * MS)
    watch.heard(Lit("a", 1000 * MS))
    assert watch.due_ns() == 1001 * MS + LATE_NS


def test_a_watcher_that_slept_does_not_blame_the_keeper() -> None:
    """Silence must be seen twice, SURE_NS apart; a page of another process is no sign of life."""
    watch = Watch(7, 0)
    assert watch.ailing(60_000 * MS, page(7, 1000 * MS)) is None
    assert watch.ailing(60_100 * MS, page(7, 60_090 * MS)) is None
    assert watch.ailing(70_000 * MS, page(8, 70_000 * MS)) is None
    assert watch.ailing(70_000 * MS + SURE_NS, page(8, 70_000 * MS)) == "silent"


@given(st.lists(st.integers(1, 250), min_size=1, max_size=60))
@settings(max_examples=100, deadline=None)
def test_a_keeper_that_passes_often_enough_is_left_alone(steps: list[int]) -> None:
    """However the looks fall, a keeper whose last pass is never SILENT_NS old is not called silent."""
    watch, now = Watch(7, 0), 0
    for step in steps:
        now += step * MS
        passed = max(0, now - min(step * MS, SILENT_NS))
        assert watch.ailing(now, page(7, passed)) is None


def test_a_stop_message_is_what_is_sent(tether: Tether, ear: Ear) -> None:
    """The daemon's own order for darkness, over the usual way, works as STOP does."""
    tether.send(order())
    ear.wait(Lit)
    tether.send(Stop("fault"))
    assert ear.wait(Dark).why == "fault"
