"""The keeper's core in virtual time: dark in every doubt, and what slate and pipe then tell."""

from __future__ import annotations

import pytest
from tools.keeper_bench import MS, Bench, played

from hardware.wire import Cancelled, Dark, FootDown, FootUp, Lit, Reason, Refused, Sounded, Stop, Trouble, What
from hardware.wire_json import decode

# ---- doubt


def test_an_unreadable_message_is_dark(bench: Bench) -> None:
    """After a line that is no message there is no light and no order, and orders that do not know it are refused."""
    bench.order(10_000)
    bench.run(2500)
    bench.keeper.unreadable(bench.now_ns)
    assert not bench.lamp.lit
    assert bench.last(Dark).why == "fault"
    assert bench.last(Trouble).what == What.UNREADABLE
    bench.order(foot_seq=0)
    assert bench.last(Refused).reason == Reason.FOOT
    bench.order()
    bench.tell(Lit("a", 1))  # type: ignore[arg-type]
    assert bench.last(Cancelled).why == "fault"
    assert len(bench.all(Trouble)) == 2


def test_a_keeper_that_slept_through_a_start_gives_no_late_light(bench: Bench) -> None:
    """An order whose start is more than 100 ms past when the keeper gets to it is cancelled: late light is no light."""
    bench.order(1000)
    bench.sleep(2100.001)
    assert bench.last(Cancelled).why == "fault"
    assert not bench.lamp.edges


def test_a_keeper_that_slept_through_an_end_is_dark_at_once(bench: Bench) -> None:
    """A light that should have ended while the keeper slept is dark when it wakes, told with the true time."""
    order = bench.order(1000, cues=[(500, "tick")])
    bench.run(2000)
    bench.sleep(3000)
    assert bench.last(Dark) == Dark(order.id, order.start_ns, order.start_ns + 3000 * MS, "complete")
    assert played(bench) == [("done", 0)]


def test_a_press_that_the_keeper_slept_through_still_counts(bench: Bench) -> None:
    """A press and release within a sleep ends the light; why is what came first."""
    order = bench.order(10_000)
    bench.run(3000)
    now = bench.now_ns
    bench.foot.move(True, now + 100 * MS)
    bench.foot.move(False, now + 200 * MS)
    bench.sleep(3000)
    assert bench.last(Dark) == Dark(order.id, order.start_ns, bench.now_ns, "foot")
    assert bench.last(FootDown).lit == order.id
    other = Bench()
    order = other.order(1000)
    other.run(2500)
    other.foot.move(True, other.now_ns + 600 * MS)
    other.foot.move(False, other.now_ns + 700 * MS)
    other.sleep(3000)
    assert other.last(Dark).why == "complete"
    assert other.last(FootDown).lit == ""


@pytest.mark.parametrize("state", ["idle", "pending", "lit"])
def test_the_end_is_dark_and_lets_everything_go(state: str) -> None:
    """Whatever stands, the end is dark, said, on the slate, and every line is let go; twice is once."""
    bench = Bench(slate=True)
    if state != "idle":
        bench.order(10_000)
        bench.run({"pending": 100, "lit": 2500}[state])
    bench.keeper.end("tether", bench.now_ns)
    bench.keeper.end("keeper", bench.now_ns)
    assert not bench.lamp.lit
    assert bench.lamp.closed
    assert bench.slate is not None
    assert bench.slate.closed
    assert [dark.why for dark in bench.all(Dark)] == (["tether"] if state == "lit" else [])
    assert [gone.why for gone in bench.all(Cancelled)] == (["fault"] if state == "pending" else [])
    if state == "lit":
        page = bench.slate.pages[-1]
        assert (page.lit, page.why, page.dark_ns) == (False, "tether", bench.now_ns)


def test_a_lamp_line_that_does_not_answer_leaves_the_slate_lit() -> None:
    """Where a line cannot be driven dark the keeper says nothing of dark, and the slate goes on saying lit."""
    bench = Bench(slate=True)
    bench.order(10_000)
    bench.run(2500)
    bench.lamp.broken = True
    with pytest.raises(ExceptionGroup):
        bench.tell(Stop())
    with pytest.raises(ExceptionGroup):
        bench.keeper.end("fault", bench.now_ns)
    assert not bench.all(Dark)
    assert bench.slate is not None
    assert bench.slate.pages[-1].lit
    assert bench.slate.closed


# ---- the slate and the pipe


def test_the_slate_follows_the_order() -> None:
    """Accepted, lit and dark each stand on the slate at their moment; it says lit before the line does."""
    bench = Bench(slate=True)
    assert bench.slate is not None
    order = bench.order(1000)
    page = bench.slate.pages[-1]
    assert (page.id, page.kind, page.sheet, page.lit, page.lit_ms) == (order.id, "step", "sheet", False, 1000)
    bench.lamp.broken = True
    with pytest.raises(OSError, match="does not answer"):
        bench.run(2000)
    page = bench.slate.pages[-1]
    assert (page.lit, page.on_ns, page.last_pass_ns) == (True, order.start_ns, order.start_ns)
    bench.lamp.broken = False
    bench.run(1000)
    page = bench.slate.pages[-1]
    assert (page.lit, page.dark_ns, page.why) == (False, order.start_ns + 1000 * MS, "complete")


def test_the_sign_of_life_is_fresh() -> None:
    """While lit the last pass is at most 50 ms old, while dark at most 250 ms."""
    bench = Bench(slate=True)
    bench.order(1000)
    assert bench.slate is not None
    for _ in range(5000):
        bench.run(1)
        page = bench.slate.pages[-1]
        assert bench.now_ns - page.last_pass_ns <= (50 if bench.lamp.lit else 250) * MS


def test_a_full_pipe_is_dark_and_nothing_is_forgotten() -> None:
    """With the pipe full the light goes dark, the last event and the count of the lost stand on the slate."""
    bench = Bench(slate=True)
    order = bench.order(60_000, cues=[(500, "tick")])
    bench.run(2400)
    bench.full = True
    bench.run(200)
    assert bench.lamp.edges[-1] == (order.start_ns + 500 * MS, False)
    assert bench.slate is not None
    page = bench.slate.pages[-1]
    assert (page.lit, page.why, page.dark_ns) == (False, "tether", order.start_ns + 500 * MS)
    assert page.dropped == 3
    assert isinstance(decode(page.last_event.encode()), (Dark, Sounded))
    bench.order(1000)
    bench.run(5000)
    assert len(bench.lamp.edges) == 2


def test_once_there_is_room_again_the_daemon_hears_of_the_loss() -> None:
    """After a full pipe the first word is that something was dropped, by itself or before the next event."""
    for waits_ms in (300, 0):
        bench = Bench(slate=True)
        bench.full = True
        bench.tap(100, 100)
        bench.full = False
        before = len(bench.said)
        bench.run(waits_ms)
        bench.tap(100, 100)
        assert [type(message) for message in bench.said[before:]] == [Trouble, FootDown, FootUp]
        assert bench.last(Trouble).what == What.DROPPED
        bench.run(1000)
        assert len(bench.all(Trouble)) == 1


def test_no_order_is_taken_that_nobody_hears_of(bench: Bench) -> None:
    """Where the acceptance cannot be said there is no order, and so no light."""
    bench.full = True
    bench.order(1000)
    bench.full = False
    bench.run(5000)
    assert not bench.lamp.edges
    bench.order(1000)
    bench.full = True
    bench.run(2500)  # comes on, cannot be said, goes dark again
    assert bench.lamp.edges == [] or bench.lamp.edges[0][0] == bench.lamp.edges[1][0]
