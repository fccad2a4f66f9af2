"""Checks that a lamp's check which lit paper keeps white light away afterwards as a sheet does, and others do not."""

from __future__ import annotations

import pytest
from tools.foot_bench import MS, FootBench
from tools.history import Pages

from controller.daemon.recovery import check_cut, paper_lay_ns
from controller.foot import events as told
from controller.lamp.check_plans import paper_plan, paper_test, reference_plan, sensor_plan
from controller.recipe.plan import Plan
from controller.store.entries import Intent, LightCame, Started
from hardware.timing import Timing

HOLD_MS, ROOM_MS = Timing().after_close_ms, 300_000
PAPER = paper_plan(paper_test())


def _cut_short(plan: Plan) -> FootBench:
    """Press a check's first light on, and off again."""
    bench = FootBench(plan=plan, outlets=("room_light",))
    bench.light(500)
    bench.press()
    assert not bench.lit
    assert not bench.state.check_begun
    return bench


@pytest.mark.parametrize("plan", [PAPER, sensor_plan(), reference_plan()], ids=["paper", "sensor", "reference"])
def test_white_light_waits_for_paper_alone(plan: Plan) -> None:
    """After a paper test no hold for ten seconds, no room light for five minutes; a sensor needs neither."""
    bench = _cut_short(plan)
    ended_ns = bench.edges[-1].at_ns
    on_paper = plan is PAPER
    assert plan.on_paper is on_paper
    assert bench.state.hold_from_ns == (ended_ns + HOLD_MS * MS if on_paper else 0)
    assert bench.state.room_from_ns == (ended_ns + ROOM_MS * MS if on_paper else 0)
    bench.run(2_000)
    assert (bench.ask_focus() == "foot.paper-away-first") is on_paper


def test_a_paper_test_that_is_over_waits_too() -> None:
    """A paper test given to its end stands as one that was stopped does, by its last light."""
    bench = FootBench(plan=paper_plan(paper_test(long_ms=2_000, pulses=2, first_ms=0, step_ms=100, trains=2)))
    for _ in range(3):
        bench.press()
        bench.run(12_000)
    assert len(bench.edges) == 2 * 5
    assert bench.state.hold_from_ns == bench.edges[-1].at_ns + HOLD_MS * MS


def test_another_choice_does_not_lift_the_wait() -> None:
    """Choosing something else between the lights of a paper test puts it down, and its paper still lies there."""
    bench = FootBench(plan=PAPER)
    bench.light()
    bench.run(8_200)
    assert bench.state.check_begun
    assert not bench.lit
    assert bench.ask(told.Chosen(None, bench.now_ns)) is None
    assert bench.state.hold_from_ns >= bench.now_ns + (HOLD_MS - 100) * MS


def test_a_restart_does_not_forget_a_check() -> None:
    """After a check's light a new daemon waits as after a sheet, whichever check it was."""
    pages = Pages(boot="boot-1")
    intent = Intent(light="c1", light_kind="check", lit_ms=2_000, start_ns=5 * MS)
    came = LightCame(light="c1", on_ns=5 * MS, least_ns=1_000 * MS, most_ns=2_000 * MS, why="keeper")
    pages.write(intent, came)
    assert paper_lay_ns(pages.rows, "boot-1", 9 * MS, HOLD_MS) == (2_005 + HOLD_MS) * MS
    assert paper_lay_ns(pages.rows, "boot-1", 9 * MS, ROOM_MS) == (2_005 + ROOM_MS) * MS
    assert paper_lay_ns(pages.rows, "boot-2", 9 * MS, HOLD_MS) == (9 + HOLD_MS) * MS


@pytest.mark.parametrize(
    ("kind", "why", "cut"),
    [("check", "keeper", True), ("check", "tether", True), ("check", "foot", False), ("step", "keeper", False)],
)
def test_a_check_that_ended_with_its_daemon_is_known(kind: str, why: str, cut: bool) -> None:
    """The next daemon knows of a check light that ended as the last one did, and the one after it does not."""
    pages = Pages(boot="boot-1")
    intent = Intent.model_validate({"light": "c1", "light_kind": kind, "lit_ms": 2_000, "start_ns": 5 * MS})
    came = {"light": "c1", "on_ns": 5 * MS, "least_ns": MS, "most_ns": 2 * MS, "why": why}
    pages.write(intent, LightCame.model_validate(came))
    assert check_cut(pages.rows) is cut
    pages.write(Started(practice=True, timing=""))
    assert not check_cut(pages.rows)
