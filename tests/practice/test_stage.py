"""How the baseboard stands: as the plan asks where no hand has moved, and as hands have moved it where one has."""

from __future__ import annotations

from typing import Any

import pytest
from tools.picture_darkroom import example, worked

from controller.exposure.strip_times import CardWay
from controller.foot.status import LitNow, NextStep, Status
from controller.picture.doses import Way, carrier_of
from controller.picture.evidence import lights_of
from controller.picture.hands import Slips, planned_hands
from controller.practice.board import board_of
from controller.practice.stage import Stage, next_place, stage_of
from controller.recipe.plan import Plan, Step, StripPlan
from hardware.clock import NS_PER_MS
from hardware.practice.log import CardMoved, DodgerMoved, Entry, NegativeMoved, PaperMoved

S = 1_000_000_000


def _status(plan: Plan, step: Step, place: str = "light", on_ns: int = 0, **more: Any) -> Status:
    values: dict[str, Any] = {
        "number": 1,
        "at_ns": on_ns,
        "place": place,
        "open": True,
        "plan": plan,
        "next": NextStep(
            number=step.number,
            of=len(plan.steps),
            name=step.name,
            verb="",
            filter=step.filter,
            planned_ms=step.planned_ms,
            remaining_ms=step.planned_ms,
        ),
        "lit": LitNow(kind="step", on_ns=on_ns, lit_ms=0) if place == "light" else None,
    }
    return Status(**{**values, **more})


def _logged_way(entries: tuple[Entry, ...], at_ns: int) -> Way:
    """Return what stands in the light by a log alone."""
    board = board_of(entry for entry in entries if entry.at_ns <= at_ns)
    return Stage(
        carrier=carrier_of(board.negative, opal=board.opal),
        bands=1 if board.card else 0,
        card=board.card,
        tools=tuple({"act": act, "area": area, "inside": True} for act, area in board.tools),  # type: ignore[arg-type]
    ).way()


@pytest.mark.parametrize(
    "name",
    [
        *("crane.recipe.json", "everything.recipe.json", "two-negatives.recipe.json"),
        *("thirds.strip.json", "hard.strip.json", "sky.strip.json"),
    ],
)
def test_what_is_seen_is_what_the_paper_gets(name: str) -> None:
    """At every moment of every light, what stands in it is what perfect hands put there for the developed sheet."""
    sheet = worked(example(name)).records[0]
    entries, seen = planned_hands(sheet, Slips()), 0
    for step, on, off in lights_of(sheet):
        for share in (0.02, 0.35, 0.65, 0.98):
            at = on + int((off - on) * share)
            assert stage_of((), _status(sheet.plan, step, on_ns=on), on, at).way() == _logged_way(entries, at), (
                step.name
            )
            seen += 1
    assert seen >= 4


def test_a_carrier_and_its_masks_are_seen_once_they_are_answered() -> None:
    """Before the second negative's asks are answered the first one lies there under its mask; then the second does."""
    plan = worked(example("two-negatives.recipe.json")).records[0].plan
    second = next(step for step in plan.steps if step.carrier == "B")
    before = stage_of((), _status(plan, second, "hands asked"), 0, 0).way()
    assert (before.carrier, before.dodged) == ("negative", {"M"})
    after = stage_of((), _status(plan, second, "ready"), 0, 0).way()
    assert (after.carrier, after.dodged) == ("negative B", {"N"})
    by_hand = stage_of((NegativeMoved(1, inside=True, which="A"),), _status(plan, second, "ready"), 0, 3)
    assert by_hand.carrier == "negative", "the wrong one was put in by hand"


def _strip(way: CardWay = "cover", bands: int = 3) -> StripPlan:
    ms = tuple(1000 * (n + 1) for n in range(bands))
    return StripPlan(filter="2", kind="seconds", card=way, pace="press", totals_ms=ms, pulses_ms=ms)


def test_what_a_hand_has_moved_counts_instead() -> None:
    """Once the card or a tool was moved in this sheet, or lies where it was put before, it lies as it was put."""
    plan = worked(example("crane.recipe.json")).records[0].plan
    dodge = next(step for step in plan.steps if step.act == "dodged part")
    held = [tool.area for tool in stage_of((), _status(plan, dodge), 0, 0).tools if tool.inside]
    assert held == ["C"]
    log = (DodgerMoved(1, "C", "dodge", inside=True), DodgerMoved(2, "C", "dodge", inside=False))
    assert not [tool for tool in stage_of(log, _status(plan, dodge), 0, 3).tools if tool.inside]
    strip = worked(example("thirds.strip.json")).records[0].plan
    third = _status(strip, strip.steps[2])
    assert stage_of((), third, 0, 0).card == ("uncover", 3)
    assert stage_of((CardMoved(-5, "cover", 2),), third, 0, 0).card == ("cover", 2)
    assert stage_of((CardMoved(1, "cover", 2), CardMoved(2, "cover", -1)), third, 0, 3).card is None
    assert stage_of((CardMoved(-9, "cover", 2), CardMoved(-5, "cover", -1)), third, 0, 3).card == ("uncover", 3)
    empty = stage_of((NegativeMoved(1, inside=False),), third, 0, 3)
    assert empty.carrier == "empty"


def test_paper_lies_from_the_first_lead_in_to_the_close() -> None:
    """There is paper on the easel while a sheet is open or about to begin, and where a hand laid it; else none."""
    plan = worked(example("thirds.strip.json")).records[0].plan
    step = plan.steps[0]
    assert stage_of((), _status(plan, step, "lead-in", open=False), None, 0).paper
    assert not stage_of((), _status(plan, step, "change filter", open=False), None, 0).paper
    assert stage_of((), _status(plan, step, "change filter"), 0, 0).paper
    nothing = Status(number=1, at_ns=0, place="nothing chosen")
    assert not stage_of((), nothing, None, 0).paper
    assert stage_of((PaperMoved(0, out=True),), nothing, None, 0).paper


@pytest.mark.parametrize(
    ("way", "places"), [("cover", [2, 1, -1, 2]), ("uncover", [1, 2, 3, -1]), ("window", [1, 2, 3, -1])]
)
def test_a_card_is_moved_on_by_bands(way: CardWay, places: list[int]) -> None:
    """From off the paper the card goes through its strip's places in their order, and off again."""
    stage, gone = Stage(bands=3), []
    for _ in places:
        to = next_place(stage, _strip(way))
        gone.append(to[1])
        stage = Stage(bands=3, card=None if to[1] < 0 else to)
    assert gone == places


def test_a_running_light_takes_its_dodgers_in_and_out() -> None:
    """In a light that runs on, a dodger is seen from its cue to the next, and not before."""
    sheet = worked(example("everything.recipe.json")).records[0]
    running = [step for step in sheet.plan.steps if step.marks]
    assert running
    for step in running:
        status = _status(sheet.plan, step)
        mark = next(mark for mark in step.marks if mark.cue == "dodger in")
        for ms, inside in ((mark.at_ms - 1, False), (mark.at_ms, True)):
            held = {tool.area for tool in stage_of((), status, 0, ms * NS_PER_MS).tools if tool.inside}
            assert (mark.area in held) is inside or ms < 0
