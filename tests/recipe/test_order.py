"""A sheet that begins with the filter that is in: whole filters change place, light, numbers and hands never."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.foot_bench import FootBench, flash_plan, one_step, sheet_plan, standing

from controller.errors import Unreadable
from controller.foot.events import Chosen
from controller.foot.places import ChangeFilter, HandsAsked, Ready
from controller.foot.state import Work
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.files import read_recipe, write
from controller.recipe.plan import Ask, Hands, Plan, StepKind
from controller.recipe.recipe import RECIPE, RECIPE_2, Recipe
from controller.recipe.set_up import SetUp
from controller.recipe.steps import RUNNING, STOP_DOWN, advice_words

LEAST = {
    "title": "Pier",
    "light": [{"filter": "soft", "seconds": 10.0}, {"filter": "hard", "seconds": 8.0}],
    "local": [],
}


def read(form: str = RECIPE, **more: Any) -> Recipe:
    made = read_recipe(json.dumps({"format": form, **LEAST, **more}), "pier.json")
    assert isinstance(made, Recipe)
    return made


def test_a_recipe_may_keep_its_order() -> None:
    """It is a key of the second form, written only where it is used, and refused in the first."""
    kept = read(RECIPE_2, keep_order=True)
    assert json.loads(write(kept))["format"] == RECIPE_2
    assert read_recipe(write(kept), "pier.json") == kept
    plan = compile_recipe(kept, source="a", version=1)
    assert plan.beginning_with("hard") == plan
    assert json.loads(write(read(RECIPE_2, keep_order=False)))["format"] == RECIPE
    with pytest.raises(Unreadable, match="keep_order"):
        read(keep_order=True)
    with pytest.raises(Unreadable, match="keep_order"):
        read(RECIPE_2, keep_order="yes")


def test_hard_is_in_and_comes_first() -> None:
    """The order of the indexes, in words: hard's steps, then soft's; back again it is the recipe's own."""
    plan = sheet_plan(one_step(1), one_step(2, filter_="soft"), one_step(3, filter_="hard"), one_step(4, filter_="00"))
    assert plan.beginning_with("hard").order == (2, 0, 1, 3)
    assert plan.beginning_with("00").order == (3, 0, 1, 2)
    for plain in ("soft", "", "5"):
        assert plan.beginning_with(plain) == plan
    assert plan.beginning_with("hard").beginning_with("") == plan


def test_a_flash_stays_first_and_the_negative_comes_back_after_it() -> None:
    """A flash through the hard filter leaves that in: the hard base follows it, with what the hands do before it."""
    flash = one_step(1, 1500, "hard", act=StepKind.FLASH, hands=Hands.NEGATIVE_OUT)
    plan = sheet_plan(flash, one_step(2, hands=Hands.NEGATIVE_BACK), one_step(3, 8000, "hard"))
    other = plan.beginning_with("hard")
    assert other.order == (0, 2, 1)
    assert [step.hands for step in other.steps] == [Hands.NEGATIVE_OUT, None, Hands.NEGATIVE_BACK]
    assert other.beginning_with("soft") == other
    assert other.beginning_with("") == plan
    assert flash_plan().beginning_with("hard") == flash_plan()


@pytest.mark.parametrize(
    "change",
    [
        {"steps": (one_step(1), one_step(2, filter_="hard", asks=(Ask(words="mask in", kind="tool"),)))},
        {"steps": (one_step(1, carrier="A"), one_step(2, filter_="hard", carrier="B"))},
        {"end_asks": (Ask(words="mask out", kind="tool"),)},
        {"keep_order": True},
        {"kind": "strip"},
    ],
)
def test_where_the_hands_are_asked_nothing_changes_place(change: dict[str, Any]) -> None:
    """What is to be done between two lights has its place between these two."""
    plan = sheet_plan(one_step(1), one_step(2, filter_="hard")).model_copy(update=change)
    assert plan.beginning_with("hard") == plan


_NAMES = st.sampled_from(["soft", "hard", "00", "2"])


@given(st.lists(_NAMES, min_size=1, max_size=9), _NAMES, st.booleans())
def test_every_step_comes_once(filters: list[str], filter_in: str, flash: bool) -> None:
    """Each step once, with its number; each filter's steps in the recipe's own order; read and written alike."""
    first = [one_step(1, 500, filters[0], act=StepKind.FLASH, hands=Hands.NEGATIVE_OUT)] if flash else []
    own = [
        one_step(n, filter_=name, hands=Hands.NEGATIVE_BACK if flash and n == 2 else None)
        for n, name in enumerate(filters, len(first) + 1)
    ]
    plan = sheet_plan(*first, *own)
    other = plan.beginning_with(filter_in)
    assert sorted(other.order) == list(range(len(plan.steps)))
    assert [step.number for step in other.steps] == [step.number for step in plan.steps]
    assert other.total_ms == plan.total_ms
    for name in set(filters):
        indexes = [index for index in other.order if other.steps[index].filter == name]
        assert indexes == sorted(indexes)
    asked = [step.hands for step in other.steps if step.hands]
    assert asked == [step.hands for step in plan.steps if step.hands]
    if flash:
        assert other.steps[other.order[1]].hands == Hands.NEGATIVE_BACK
    assert other.beginning_with("") == plan
    assert Plan.model_validate_json(other.model_dump_json()) == other


def worked(bench: FootBench) -> list[tuple[int, str]]:
    """Give every step of a sheet and close it; return the steps in their order."""
    order = []
    for _ in range(20):
        work = bench.state.loaded
        if work.finished:
            break
        if isinstance(bench.place, Ready):
            order.append((work.step.number, work.step.filter))
            bench.give()
        else:
            bench.press()
            bench.run(3000)
    bench.hold()
    bench.run(12_000)
    assert not bench.state.sheet_open
    return order


def habit(bench: FootBench) -> None:
    state = bench.state
    bench.world.runner.state = replace(state, habits=replace(state.habits, begin_with_filter_in=True))


def test_sheet_after_sheet_begins_with_what_is_in() -> None:
    """soft, hard | hard, soft | soft, hard; each sheet is on file with its order, and with the same light."""
    bench = FootBench()
    habit(bench)
    assert [worked(bench) for _ in range(3)] == [
        [(1, "soft"), (2, "hard")],
        [(2, "hard"), (1, "soft")],
        [(1, "soft"), (2, "hard")],
    ]
    assert [sheet.plan.first_filter for sheet in bench.sheets()] == ["", "hard", ""]
    given_ms = [[step.given_most_ms for step in sheet.steps] for sheet in bench.sheets()]
    assert given_ms == [[10_000, 8000]] * 3


def test_it_is_off_unless_it_is_wanted() -> None:
    """A replay keeps the recipe's order: every trace that was written plays as it did."""
    bench = FootBench()
    assert worked(bench) == worked(bench) == [(1, "soft"), (2, "hard")]


def test_a_new_version_follows_too_and_another_recipe_does_not() -> None:
    """Only what follows a sheet of the same recipe begins so; a check between two sheets ends it."""
    bench = FootBench()
    habit(bench)
    worked(bench)
    newer = bench.plan.model_copy(update={"version": 2})
    bench.ask(Chosen(newer, bench.now_ns, again=True))
    assert bench.state.loaded.step.number == 2
    standing(bench, Ready)
    bench.ask(Chosen(sheet_plan(source="other"), bench.now_ns))
    assert bench.state.loaded.step.number == 1
    standing(bench, ChangeFilter)
    bench.ask(Chosen(newer, bench.now_ns, again=True))
    assert bench.state.loaded.step.number == 1


def test_a_sheet_that_stood_open_goes_on_in_its_order() -> None:
    """A record alone tells it: the work made of its plan stands at the first step that is not settled, in its order."""
    plan = sheet_plan().beginning_with("hard")
    work = Work.fresh(plan)
    assert work.step.filter == "hard"
    given_ = work.with_given(1, work.given[1].__class__(done=True)).moved_on()
    assert given_.step.filter == "soft"
    left = work.with_given(1, work.given[1].__class__(left_out=True)).with_given(
        0, work.given[0].__class__(left_out=True)
    )
    assert left.left_out == 0, "the last in its order"


def test_the_hands_are_asked_where_they_belong() -> None:
    """After a flash through the hard filter: the negative out, the flash, the negative back, the hard base."""
    flash = one_step(1, 1500, "hard", act=StepKind.FLASH, hands=Hands.NEGATIVE_OUT)
    bench = FootBench(sheet_plan(flash, one_step(2, hands=Hands.NEGATIVE_BACK), one_step(3, 8000, "hard")))
    habit(bench)
    worked(bench)
    assert bench.state.filter_in == "hard"
    standing(bench, HandsAsked)
    assert worked(bench) == [(1, "hard"), (3, "hard"), (2, "soft")]
    standing(bench, HandsAsked)


@pytest.mark.parametrize(
    ("marked", "to"), [(8.0, "f/11"), (5.6, "f/8"), (11.0, "f/16"), (22.0, "f/32"), (6.3, "f/8.9"), (64.0, "f/90.5")]
)
def test_stop_down_one_stop_names_the_f_number(marked: float, to: str) -> None:
    """One stop is a factor of √2 in the f-number, as rings are marked (ISO 517); between two marks it is reckoned."""
    assert f"Stop down one stop, to {to}:" in advice_words(STOP_DOWN, SetUp(aperture=marked))
    assert advice_words(STOP_DOWN, SetUp()).startswith("Stop down one stop: ")
    assert advice_words(RUNNING, SetUp(aperture=marked)) == advice_words(RUNNING, None)
