"""The keeper's core, one law at a time, in virtual time: its size, its greeting, lights by plan, refusals."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from tools.keeper_bench import BOOT, MS, Bench, Lamp

from hardware.keeper.keeper import Keeper
from hardware.timing import Timing
from hardware.wire import Accepted, Cancel, Dark, FootDown, FootUp, Greeting, Lid, Lit, Reason, Refused, Sounded

ROOT = Path(__file__).parents[3]


# ---- the house


def test_the_keeper_is_short_enough_to_read() -> None:
    """The keeper's core is at most 350 lines."""
    assert len((ROOT / "hardware/keeper/keeper.py").read_text().splitlines()) <= 350


def test_the_keeper_imports_nothing_heavy() -> None:
    """The keeper's process imports neither the models' library nor the page's server, nor any other room."""
    listing = "import hardware.keeper.process, sys; print('\\n'.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", listing], cwd=ROOT, check=True, capture_output=True, text=True, timeout=30
    )
    loaded = {module.partition(".")[0] for module in done.stdout.split()}
    assert "hardware" in loaded
    assert not loaded & {"pydantic", "flask", "waitress", "apscheduler", "controller", "webui", "numpy", "gpiozero"}
    assert not loaded & {"tempfile", "shutil"}  # the pin library's start alone wants them


# ---- greeting


def test_its_first_act_is_dark() -> None:
    """A lamp line that somebody left lit is dark before the keeper says a word."""
    bench = Bench()
    left = Lamp(bench.clock)
    left.lit = True
    lines = replace(bench.keeper._lines, lamps={"lamp": left})
    Keeper(lines, Timing(), None, lambda _: pytest.fail("spoke too soon"), BOOT, 1, now_ns=bench.now_ns)
    assert left.edges == [(bench.now_ns, False)]


def test_the_greeting_says_who_it_is() -> None:
    """The greeting carries protocol, lamps, features, limits and whether the foot is off."""
    bench = Bench(lamps=("soft", "hard"), lid=True, timing=Timing(longest_light_ms=30_000))
    bench.keeper.greet(bench.now_ns, scheduling="fifo", locked=True)
    greeting = bench.last(Greeting)
    assert greeting.lamps == ("soft", "hard")
    assert greeting.features == ("sounder", "lid")
    assert (greeting.scheduling, greeting.locked, greeting.practice, greeting.at_rest) == ("fifo", True, True, True)
    assert (greeting.boot, greeting.pid, greeting.at_ns) == (BOOT, 4711, bench.now_ns)
    assert Timing(**json.loads(greeting.timing)) == bench.timing
    assert bench.said[1:] == [Lid(False, bench.now_ns)]


def test_a_contact_closed_at_the_start_is_no_press() -> None:
    """A contact that is closed when the keeper starts brings no foot-down; its release is told."""
    bench = Bench(foot_closed=True)
    bench.keeper.greet(bench.now_ns)
    assert not bench.last(Greeting).at_rest
    bench.run(500)
    assert not bench.all(FootDown)
    bench.move(False)
    bench.run(100)
    assert bench.all(FootUp)
    bench.tap(100, 0)
    assert [down.seq for down in bench.all(FootDown)] == [1]


# ---- a light by plan


def test_a_light_is_as_long_as_ordered(bench: Bench) -> None:
    """A step comes on at its start, lasts its order to the nanosecond, and each is said after the line was set."""
    order = bench.order(10_100)
    start = order.start_ns
    bench.run(20_000)
    assert bench.lamp.edges == [(start, True), (start + 10_100 * MS, False)]
    told = [message for message in bench.said if not isinstance(message, Sounded)]
    assert told == [
        Accepted(order.id),
        Lit(order.id, start),
        Dark(order.id, start, start + 10_100 * MS, "complete"),
    ]


@pytest.mark.parametrize(("kind", "why"), [("step", "complete"), ("check", "complete"), ("focus", "limit")])
def test_why_a_light_ended_by_itself(bench: Bench, kind: str, why: str) -> None:
    """A step and a check light that reach their length are complete; focus light has reached its limit."""
    bench.order(1500, kind=kind)
    bench.run(5000)
    assert bench.last(Dark).why == why


def test_the_planned_length_counts_from_the_light_that_came_on(bench: Bench) -> None:
    """A light that waited for the contact, or that a slow machine lit late, still gets its whole length."""
    order = bench.order(1000)
    bench.run(1960)
    bench.tap(10, 5000)  # a glitch: at rest again 30 ms after the start
    assert bench.last(Lit).at_ns == order.start_ns + 30 * MS
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 1000 * MS
    late = bench.order(1000)
    bench.clock.set(late.start_ns + 7 * MS)
    bench.run(5000)
    assert bench.last(Lit).at_ns == late.start_ns + 7 * MS
    assert bench.last(Dark).dark_ns - bench.last(Dark).on_ns == 1000 * MS


# ---- refusals


def refusal(bench: Bench) -> str:
    assert not bench.all(Accepted)
    (refused,) = bench.all(Refused)
    bench.run(20_000)
    assert not any(lamp.edges for lamp in bench.lamps.values())
    return refused.reason


@pytest.mark.parametrize(
    ("wish", "reason"),
    [
        ({"foot_seq": -1}, Reason.FOOT),
        ({"foot_seq": 1}, Reason.FOOT),
        ({"in_ms": -0.001}, Reason.PAST),
        ({"in_ms": 6000.001}, Reason.FAR),
        ({"lit_ms": 600_001}, Reason.LONG),
        ({"lit_ms": 300_001, "kind": "focus"}, Reason.LONG),
        ({"lit_ms": 0}, Reason.SHORT),
        ({"lit_ms": -5}, Reason.SHORT),
        ({"lamp": "heat"}, Reason.LAMP),
        ({"kind": "disco"}, Reason.KIND),
    ],
)
def test_an_order_that_breaks_a_limit_is_refused(bench: Bench, wish: dict[str, object], reason: str) -> None:
    """The keeper itself refuses an order outside its limits, with the reason, and no light comes."""
    bench.order(**wish)  # type: ignore[arg-type]
    assert refusal(bench) == reason


@pytest.mark.parametrize(
    "wish",
    [{"in_ms": 0}, {"in_ms": 6000}, {"lit_ms": 600_000}, {"lit_ms": 300_000, "kind": "focus"}, {"lit_ms": 1}],
)
def test_an_order_on_the_limit_is_taken(bench: Bench, wish: dict[str, object]) -> None:
    """An order that just keeps a limit is taken: a limit is not a wish."""
    bench.order(**wish)  # type: ignore[arg-type]
    assert bench.all(Accepted)
    assert not bench.all(Refused)


@pytest.mark.parametrize("spent", ["pending", "lit", "done", "refused", "cancelled"])
def test_an_id_brings_one_light_at_most(bench: Bench, spent: str) -> None:
    """An order whose id was heard before is refused, whatever became of that one."""
    bench.order(500, id_="twin", lamp="heat" if spent == "refused" else "")
    bench.run({"pending": 100, "lit": 2100}.get(spent, 100))
    if spent == "cancelled":
        bench.tell(Cancel("twin"))
    if spent in {"done", "refused"}:
        bench.run(5000)
    before = len(bench.lamp.edges)
    bench.order(500, id_="twin")
    assert bench.last(Refused).reason == Reason.SEEN
    bench.run(10_000)
    assert len(bench.lamp.edges) - before == {"pending": 2, "lit": 1}.get(spent, 0)


def test_ten_thousand_ids_are_remembered() -> None:
    """An id is known again after ten thousand others."""
    bench = Bench()
    bench.order(id_="first", lamp="heat")
    for _ in range(10_000):
        bench.order(lamp="heat")
    bench.order(id_="first")
    assert bench.last(Refused).reason == Reason.SEEN


@pytest.mark.parametrize("when_ms", [0, 1999, 2000, 2500])
def test_one_order_stands_at_a_time(when_ms: float) -> None:
    """While an order is pending or lit any other is refused, for whichever lamp line."""
    bench = Bench(lamps=("soft", "hard"))
    bench.order(1000)
    bench.run(when_ms)
    bench.order(lamp="hard")
    assert bench.last(Refused).reason == Reason.BUSY
    bench.run(10_000)
    assert len(bench.lamp.edges) == 2
    assert not bench.lamps["hard"].edges


def test_there_is_dark_between_two_lamp_lines() -> None:
    """Another lamp line comes on 50 ms after the last one went dark, not sooner; the same one may."""
    bench = Bench(lamps=("soft", "hard"))
    bench.order(1000)
    bench.run(3000)
    bench.order(in_ms=49.999, lamp="hard")
    assert bench.last(Refused).reason == Reason.BUSY
    bench.order(in_ms=50, lamp="hard")
    bench.run(2000)
    assert bench.lamps["hard"].edges[0][0] - bench.lamp.edges[-1][0] == 50 * MS


# ---- due moments


def test_only_a_lights_moment_is_exact(bench: Bench) -> None:
    """Lights, and what falls close before them, are met exactly; nothing else makes the machine spin."""
    assert bench.keeper.due_ns() is None
    bench.order(1000, cues=[(-500, "tick"), (-1, "tick")])
    assert bench.keeper.due_ns() == bench.now_ns + 1500 * MS
    assert not bench.keeper.exact_due()
    bench.run(1500)
    assert bench.keeper.due_ns() == bench.now_ns + 499 * MS
    assert bench.keeper.exact_due()
    bench.run(500)
    assert bench.lamp.lit
    assert bench.keeper.due_ns() == bench.now_ns + 1000 * MS
    assert bench.keeper.exact_due()


def test_the_timing_table_is_not_changed_by_running(bench: Bench) -> None:
    """The limits are those of the start, whatever is said."""
    before = asdict(bench.timing)
    bench.order(1000)
    bench.run(5000)
    assert asdict(bench.timing) == before
