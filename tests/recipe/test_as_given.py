"""What a sheet was given, written into its recipe: the recipe then gives that very light, or there is none."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.recipe.as_given import Got, as_given, with_burn
from controller.recipe.compile_recipe import compile_recipe, more_burn
from controller.recipe.files import read_recipe, write
from controller.recipe.plan import Plan, StepKind
from controller.recipe.recipe import Recipe

CRANE: dict[str, Any] = {
    "title": "Crane",
    "light": [{"filter": "soft", "seconds": 10}, {"filter": "hard", "seconds": 8}],
    "local": [
        {"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1"},
        {"area": "C", "act": "dodge", "filter": "hard", "stops": "1/3"},
        {"area": "E", "act": "edge burn", "filter": "hard", "stops": "1/2", "edges": ["top", "left"]},
    ],
}


def recipe(**more: Any) -> Recipe:
    return Recipe.model_validate(CRANE | more)


def plan_of(made: Recipe) -> Plan:
    return compile_recipe(made, source="crane", version=1)


def got(made: Recipe, **given_ms: int) -> list[Got]:
    """Return a sheet's steps as they were planned; those named step_N got another light, in ms."""
    steps = plan_of(made).steps
    ms = {step.number: given_ms.get(f"step_{step.number}", step.planned_ms) for step in steps}
    return [Got(step=step, least_ms=ms[step.number], most_ms=ms[step.number]) for step in steps]


def burn(made: Recipe, given_ms: int | None = None, **asked: Any) -> Got:
    """Return one more burn of a sheet."""
    plan = plan_of(made)
    wanted = {"filter": "hard", "stops": None, "seconds": None, "area": ""} | asked
    step = more_burn(plan, len(plan.steps) + 1, **wanted)
    ms = step.planned_ms if given_ms is None else given_ms
    return Got(step=step, least_ms=ms, most_ms=ms, added=True)


def lights(made: Recipe) -> list[tuple[str, str, int]]:
    return [(step.filter, step.area, step.planned_ms) for step in plan_of(made).steps]


# ---- one burn that was added


def test_a_burn_goes_in_with_its_area_filter_and_stops() -> None:
    """It stands after the other work in the stops it was asked in, and its file can be read again."""
    made = with_burn(recipe(), burn(recipe(), stops="1/3", area="A"))
    assert made.local[:-1] == recipe().local
    added = made.local[-1]
    assert (added.area, added.what, added.act, added.filter, added.stops) == ("A", "sky", "burn", "hard", "1/3")
    assert read_recipe(write(made), "again") == made
    # 8 s · (2^(1/3) − 1) = 2.08 s (derived)
    assert lights(made)[-1] == ("hard", "A", 2100)


def test_a_burn_without_an_area_takes_the_next_letter() -> None:
    """An area has a letter of the printing map, so one that has none gets the first that is free."""
    assert with_burn(recipe(), burn(recipe(), seconds=4.0)).local[-1].area == "B"


def test_a_burn_that_was_stopped_goes_in_as_it_was_given() -> None:
    """A burn of 2.1 s that got 1.3 s is 1.3 s in the recipe, whatever its stops were."""
    added = with_burn(recipe(), burn(recipe(), 1312, stops="1/3")).local[-1]
    assert (added.stops, added.seconds) == (None, Decimal("1.3"))


def test_stops_need_their_base() -> None:
    """A burn in stops through a filter that the recipe has lost is refused and says which it has; seconds go in."""
    other = recipe(light=[{"filter": "soft", "seconds": 10}], local=[])
    with pytest.raises(Impossible, match=r"no base through hard any more .*soft"):
        with_burn(other, burn(recipe(), stops="1/3"))
    assert with_burn(other, burn(recipe(), seconds=4.0)).local[-1].seconds == 4


def test_a_burn_that_gave_nothing_or_an_unknown_light_is_refused() -> None:
    """No light, and one that may have been 1 to 2 s, go into no recipe."""
    with pytest.raises(Impossible, match="was not exposed"):
        with_burn(recipe(), burn(recipe(), 0, stops="1/3"))
    doubtful = burn(recipe(), seconds=4.0).model_copy(update={"least_ms": 1000, "most_ms": 2000})
    with pytest.raises(Impossible, match=r"1\.0 to 2\.0 s"):
        with_burn(recipe(), doubtful)


def test_a_full_recipe_takes_no_burn() -> None:
    """The sixty-first line of local work is refused in a sentence."""
    line = {"area": "A", "act": "burn", "filter": "soft", "seconds": 2}
    full = recipe(local=[line] * 60)
    with pytest.raises(Impossible, match="60"):
        with_burn(full, burn(recipe(), seconds=4.0))


# ---- all of a sheet


def test_a_base_that_was_stopped_is_the_new_base() -> None:
    """Soft 10.0 s stopped at 8.04 is 8.0 s; the burn over it keeps its 10.0 s of light, now in seconds; hard stays."""
    made = as_given(recipe(), got(recipe(), step_1=8040))
    assert made.light[0].seconds == 8
    assert made.light[1] == recipe().light[1]
    assert (made.local[0].stops, made.local[0].seconds) == (None, 10)
    assert made.local[1:] == recipe().local[1:]
    assert lights(made) == [("soft", "", 8000), *lights(recipe())[1:]]


def test_a_dodged_part_and_one_edge_that_were_stopped() -> None:
    """Each keeps what it was given: the part's light is held back from the area, the edges part where they differ."""
    plain = lights(recipe())
    assert [each[1] for each in plain] == ["", "A", "C", "", "E", "E"]
    made = as_given(recipe(), got(recipe(), step_3=1000, step_6=2000))
    # hard: 1.7 s of the dodge became 1.0, so that the base is 7.3 s in all, and 6.3 s of it stay open
    assert made.light[1].seconds == Decimal("7.3")
    assert lights(made) == [*plain[:2], ("hard", "C", 1000), plain[3], plain[4], ("hard", "E", 2000)]


def test_what_was_left_out_is_left_out() -> None:
    """A burn that was left out is in the recipe no more, and burns that were added are."""
    made = as_given(recipe(), [*got(recipe(), step_2=0), burn(recipe(), stops="1/3", area="B")])
    assert [(work.area, work.stops) for work in made.local] == [("C", "1/3"), ("E", "1/2"), ("B", "1/3")]


def test_a_flash_and_dry_down_come_to_what_was_given() -> None:
    """A base is written so that, 8 % taken off it, it is what was given; a flash keeps its seconds."""
    with_both = recipe(dry_down_percent=8, flash={"seconds": 2, "way": "no negative"})
    steps = plan_of(with_both).steps
    assert (steps[0].act, steps[1].planned_ms) == (StepKind.FLASH, 9200)
    made = as_given(with_both, got(with_both, step_1=1500, step_2=8100))
    assert made.flash is not None
    assert made.flash.seconds == Decimal("1.5")
    assert plan_of(made).steps[1].planned_ms == 8100
    none = as_given(with_both, got(with_both, step_1=0))
    assert none.flash is None


def test_a_flash_that_was_given_beforehand_stays() -> None:
    """No step of the sheet gives it, so that none of the sheet's can say otherwise of it."""
    flashed = recipe(flash={"seconds": 2, "way": "no negative", "beforehand": True})
    made = as_given(flashed, got(flashed, step_1=8100))
    assert made.flash == flashed.flash
    assert made.light[0].seconds == Decimal("8.1")


def test_work_through_both_filters_parts_where_it_must() -> None:
    """A burn through both whose hard half was stopped becomes one line a filter; its order stays."""
    both = recipe(local=[{"area": "A", "act": "burn", "filter": "both", "stops": "1"}])
    made = as_given(both, got(both, step_4=3000))
    assert [(work.filter, work.seconds) for work in made.local] == [("soft", 10), ("hard", 3)]


@pytest.mark.parametrize(
    ("given_ms", "said"),
    [
        ({}, "what its recipe says"),
        ({"step_1": 0}, "Nothing was exposed through soft"),
        ({"step_3": 0, "step_4": 0}, "Nothing was exposed through hard"),
    ],
)
def test_what_makes_no_recipe_is_refused(given_ms: dict[str, int], said: str) -> None:
    """A sheet as planned, and one without a base, say why they make none."""
    with pytest.raises(Impossible, match=said):
        as_given(recipe(), got(recipe(), **given_ms))


def test_a_running_dodge_that_was_stopped_is_refused() -> None:
    """When a dodger went in and out in a light that was stopped, nobody knows; one that came whole stays."""
    running = recipe(local=[{"area": "C", "act": "dodge", "filter": "hard", "stops": "1/3", "how": "running"}])
    with pytest.raises(Impossible, match="stopped on the way"):
        as_given(running, got(running, step_2=5000))
    assert as_given(running, got(running, step_1=5000)).local == running.local


def test_a_light_in_doubt_makes_no_recipe() -> None:
    """A base of which only least and most are known is refused with both."""
    lit = got(recipe())
    lit[0] = lit[0].model_copy(update={"least_ms": 4000})
    with pytest.raises(Impossible, match=r"4\.0 to 10\.0 s"):
        as_given(recipe(), lit)


@st.composite
def worked(draw: st.DrawFn) -> tuple[Recipe, list[Got]]:
    """Any recipe of two bases, and a sheet of it whose lights were stopped, left out and added to anyhow."""
    amount = st.sampled_from(["1/6", "1/3", "1/2", "1", "4/3"])
    local = []
    for area in draw(st.lists(st.sampled_from("ABC"), max_size=4)):
        act = draw(st.sampled_from(["burn", "dodge", "edge burn"]))
        line = {"area": area, "act": act, "filter": draw(st.sampled_from(["soft", "hard", "both"]))}
        line |= (
            {"stops": draw(amount)} if act == "dodge" or draw(st.booleans()) else {"seconds": draw(st.integers(2, 9))}
        )
        line |= {"edges": ["top", "right"]} if act == "edge burn" else {}
        local.append(line)
    tenths = st.integers(150, 400).map(lambda each: Decimal(each) / 10)
    light = [{"filter": name, "seconds": draw(tenths)} for name in ("soft", "hard")]
    made = recipe(light=light, local=local, dry_down_percent=draw(st.sampled_from([0, 8])))
    try:
        planned = got(made)
    except Impossible:  # dodges that do not fit into their base
        return made, []
    lit = [
        each.model_copy(update={"least_ms": ms, "most_ms": ms})
        for each in planned
        for ms in (draw(st.sampled_from([each.step.planned_ms, each.step.planned_ms * 2 // 3, 0])),)
    ]
    if draw(st.booleans()):
        lit.append(burn(made, stops=draw(amount), area=draw(st.sampled_from(["", "A"]))))
    return made, lit


@settings(max_examples=150, deadline=None)
@given(worked())
def test_the_recipe_gives_what_the_sheet_was_given(sheet: tuple[Recipe, list[Got]]) -> None:
    """Whatever happened on a sheet, its recipe gives that light through each filter to each area, or there is none."""
    made, lit = sheet
    try:
        after = as_given(made, lit)
    except Impossible:
        return
    would: dict[tuple[str, str, str | None], int] = {}
    was = dict(would)
    for step in plan_of(after).steps:
        key = (step.filter, step.area, step.edge)
        would[key] = would.get(key, 0) + step.planned_ms
    letter = after.local[-1].area if after.local else ""
    for each in lit:
        if each.ms:
            key = (each.step.filter, each.step.area or (letter if each.added else ""), each.step.edge)
            was[key] = was.get(key, 0) + each.ms
    assert would == was
    assert read_recipe(write(after), "again") == after
