"""The keeper's core in virtual time: what ends a light beside the foot, stops, leases and the lid."""

from __future__ import annotations

import pytest
from tools.keeper_bench import MS, Bench, focus_lit

from hardware.wire import Cancel, Cancelled, Dark, Lease, Lid, Lit, Reason, Refused, Sounded, Stop, Stopped

# ---- stops, cancels, leases


@pytest.mark.parametrize("why", ["page", "fault"])
def test_a_stop_is_dark_at_once(bench: Bench, why: str) -> None:
    """A stop ends the light at once, takes a number, and the dark is said before it."""
    order = bench.order(10_000)
    bench.run(2500)
    bench.tell(Stop(why))
    assert bench.lamp.edges[-1] == (bench.now_ns, False)
    told = [message for message in bench.said if not isinstance(message, Sounded)]
    assert told[2:] == [
        Dark(order.id, order.start_ns, bench.now_ns, why),
        Stopped(1, bench.now_ns, why),
    ]


def test_a_stop_takes_a_pending_order_away(bench: Bench) -> None:
    """A stop in a lead-in means that it brings no light, even at the moment the light is due."""
    bench.order(1000)
    bench.clock.set(bench.now_ns + 2000 * MS)
    bench.tell(Stop())
    bench.run(5000)
    assert bench.last(Cancelled).why == "page"
    assert not bench.lamp.edges


def test_a_cancel_takes_only_its_own_pending_order_away(bench: Bench) -> None:
    """A cancel never touches another order, nor light that is on."""
    order = bench.order(1000)
    bench.tell(Cancel("another"))
    bench.run(2500)
    bench.tell(Cancel(order.id))
    bench.run(2000)
    assert bench.last(Dark).why == "complete"
    second = bench.order(1000)
    bench.tell(Cancel(second.id))
    bench.run(5000)
    assert bench.last(Cancelled).why == "cancel"
    assert len(bench.lamp.edges) == 2


def test_focus_light_goes_dark_without_its_lease(bench: Bench) -> None:
    """Focus light that nobody renews is dark two seconds after it came on."""
    focus_lit(bench)
    bench.run(5000)
    on, off = bench.lamp.edges
    assert off[0] - on[0] == 2000 * MS
    assert bench.last(Dark).why == "lease"


def test_focus_light_stays_while_it_is_renewed_and_no_longer_than_its_limit(bench: Bench) -> None:
    """Each lease is good for two seconds from its own moment, and none goes past the limit."""
    focus_lit(bench, lit_ms=7000)
    order_id = bench.last(Lit).id
    for _ in range(3):
        bench.run(1900)
        bench.tell(Lease(order_id))
    bench.run(5000)
    assert bench.last(Dark).why == "limit"
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 7000 * MS


def test_a_lease_for_another_light_or_too_late_renews_nothing(bench: Bench) -> None:
    """Only its own light's lease counts, and only before it has run out."""
    focus_lit(bench)
    bench.run(1000)
    bench.tell(Lease("another"))
    bench.clock.set(bench.now_ns + 1000 * MS)  # both due at one moment: the lease has run out
    bench.tell(Lease(bench.last(Lit).id))
    assert bench.last(Dark).why == "lease"
    assert not bench.lamp.lit


def test_a_step_needs_no_lease(bench: Bench) -> None:
    """A timed step ends on time whatever the daemon does."""
    bench.order(600_000)
    bench.run(700_000)
    assert bench.last(Dark).why == "complete"


# ---- the lid


def test_an_open_lid_refuses_and_takes_orders_away() -> None:
    """With the box open nothing is taken, and opening it takes a pending order away."""
    bench = Bench(lid=True)
    bench.move_lid(shut=False)
    for kind in ("step", "focus", "check"):
        bench.order(kind=kind)
        assert bench.last(Refused).reason == Reason.LID
    bench.move_lid(shut=True)
    bench.run(100)
    bench.order()
    bench.run(1000)
    bench.move_lid(shut=False)
    bench.run(5000)
    assert bench.last(Cancelled).why == "lid"
    assert not bench.lamp.edges
    assert [lid.open for lid in bench.all(Lid)] == [True, False, True]


def test_opening_the_lid_ends_focus_light_at_once() -> None:
    """Focus light is dark as soon as the box is opened, however short; a lit step goes on."""
    bench = Bench(lid=True)
    focus_lit(bench)
    assert bench.lid is not None
    bench.lid.move(False)
    bench.lid.move(True)
    bench.keeper.poll(bench.now_ns)
    assert bench.last(Dark).why == "lid"
    assert bench.last(Lid).open
    bench.run(60)
    assert not bench.last(Lid).open
    bench.order(5000)
    bench.run(3000)
    bench.move_lid(shut=False)
    bench.run(10_000)
    assert bench.last(Dark).why == "complete"


def test_a_lid_that_bounces_shut_counts_when_it_has_been_shut_for_60_ms() -> None:
    """A lid is open from its first opening edge until it has been shut for 60 ms on end."""
    bench = Bench(lid=True)
    bench.move_lid(shut=False)
    bench.move_lid(shut=True)
    bench.run(50)
    bench.move_lid(shut=False)
    bench.move_lid(shut=True)
    bench.run(59)
    assert [lid.open for lid in bench.all(Lid)] == [True]
    bench.run(1)
    assert [lid.open for lid in bench.all(Lid)] == [True, False]


def test_steps_may_be_allowed_with_the_lid_open() -> None:
    """Where it was started so, steps are taken with the box open; focus light never."""
    bench = Bench(lid=True, steps_with_lid_open=True)
    bench.move_lid(shut=False)
    bench.order(kind="focus")
    assert bench.last(Refused).reason == Reason.LID
    bench.order(1000)
    bench.run(5000)
    assert bench.last(Dark).why == "complete"
