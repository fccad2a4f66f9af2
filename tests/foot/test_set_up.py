"""The set-up is asked for before a sheet: when, what answers it, what it changes, and what a hold means there."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.foot_bench import FootBench, flash_plan, sheet_plan, standing

from controller.foot.acts import SetUpMade, StandAtEnlarger
from controller.foot.events import Chosen
from controller.foot.places import AskWhite, ChangeFilter, Focus, HandsAsked, LeadIn, Ready, Settling, SetUpAsked
from controller.foot.snapshot import Facts, describe
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan
from controller.recipe.set_up import SetUp
from controller.store.entries import StoodAtEnlarger

CRANE = SetUp(head_height_mm=620.0, aperture=8.0, focal_mm=150.0, format="4x5", image_mm=(240.0, 192.0))
PIER = SetUp(head_height_mm=480.0, aperture=11.0, focal_mm=80.0, format="6x6")


def wanting(wants: SetUp, plan: Plan | None = None) -> Plan:
    return (plan or sheet_plan()).model_copy(update={"wants": wants})


def choose(bench: FootBench, plan: Plan) -> None:
    assert bench.ask(Chosen(plan, bench.now_ns)) is None


@pytest.fixture
def bench() -> FootBench:
    made = FootBench(wanting(CRANE))
    standing(made, SetUpAsked)
    return made


def headline(bench: FootBench) -> str:
    return describe(bench.state, Facts(keeper="ready"), bench.now_ns).headline


def test_it_is_read_in_one_line(bench: FootBench) -> None:
    """The whole set-up in one line, as the design has it; what is not known is left out."""
    wanted = bench.state.loaded.plan.set_up
    assert wanted is not None
    assert wanted.words == "head 620 · f/8 · 150 mm · 4x5 carrier · easel 240 × 192"
    assert SetUp(aperture=5.6).words == "f/5.6"
    assert SetUp(magnification=2.5).words == "2.5 times as large"
    assert SetUp(head_height_mm=0.0).words == "head 0"


def test_a_press_says_that_it_is_set(bench: FootBench) -> None:
    """One press, no light, then settling; one row says what was set, for which sheet, and the enlarger stands so."""
    bench.press()
    standing(bench, Settling)
    bench.run(3000)
    standing(bench, Ready)
    (row,) = bench.journal.of(StoodAtEnlarger)
    assert (row.set_up, row.sheet) == (CRANE, bench.state.sheet)
    assert (row.bench.head_height_mm, row.bench.aperture, row.bench.focal_mm) == (620.0, 8.0, 150.0)
    assert bench.state.bench == row.bench
    assert bench.lights() == []
    bench.give()
    assert bench.sheets()[0].plan.set_up == CRANE
    assert bench.sheets()[0].set_up is not None


def test_it_comes_before_hands_and_filter() -> None:
    """Set-up, then what the hands do, then the filter, and only then the light."""
    bench = FootBench(wanting(CRANE, flash_plan()), filter_in="hard")
    places = []
    for _ in range(3):
        places.append(type(bench.place))
        bench.press()
        bench.run(3000)
    assert places == [SetUpAsked, HandsAsked, ChangeFilter]
    standing(bench, Ready)


def test_the_next_sheet_of_the_recipe_is_not_asked(bench: FootBench) -> None:
    """What the last sheet was set up as stands: only another set-up is asked for, and only what it says."""
    bench.press()
    bench.run(3000)
    for _ in range(2):
        bench.give()
        if isinstance(bench.place, ChangeFilter):
            bench.press()
            bench.run(3000)
    bench.hold()
    bench.run(11_000)
    assert not isinstance(bench.place, SetUpAsked)
    choose(bench, wanting(SetUp(aperture=8.0), sheet_plan(source="other")))
    assert not isinstance(bench.place, SetUpAsked)
    choose(bench, wanting(SetUp(aperture=11.0), sheet_plan(source="third")))
    standing(bench, SetUpAsked)
    choose(bench, wanting(CRANE))
    assert not isinstance(bench.place, SetUpAsked)


def test_with_a_sheet_open_nothing_is_asked(bench: FootBench) -> None:
    """A sheet that is open is set up; its later steps ask for hands and filter alone."""
    bench.press()
    bench.run(3000)
    bench.light(500)
    bench.world.runner.state = replace(bench.state, set_up=PIER)
    bench.press()
    bench.run(3000)
    assert bench.state.sheet_open
    assert not isinstance(bench.place, SetUpAsked)


def test_a_hold_takes_its_own_press_back_and_asks_for_white_light(bench: FootBench) -> None:
    """As at change filter: the "it is set" of its foot-down is undone, and the question stands."""
    bench.hold()
    standing(bench, AskWhite)
    assert bench.state.set_up is None
    assert bench.state.bench.bare
    assert bench.journal.of(StoodAtEnlarger)[-1].bench.bare


def test_a_double_takes_it_back(bench: FootBench) -> None:
    """A double within 0.35 s of the press undoes it, and it is asked for again."""
    bench.double()
    standing(bench, SetUpAsked)
    assert bench.state.set_up is None
    bench.run(1000)
    bench.press()
    bench.run(4000)
    bench.double()
    assert not isinstance(bench.place, SetUpAsked)


def test_focus_light_taken_from_there_is_the_end_of_it(bench: FootBench) -> None:
    """After focus light it is not asked again; the filter and "stop down" are, with the f-number."""
    bench.focus()
    standing(bench, Focus)
    bench.press()
    bench.run(2000)
    standing(bench, ChangeFilter)
    assert "Stop down to f/8" in headline(bench)
    assert bench.state.set_up == CRANE
    # each hold's own press said that it is set, and was taken back
    assert [row.set_up for row in bench.journal.of(StoodAtEnlarger)] == [CRANE, None, CRANE]


def test_a_white_light_that_was_not_lit_leaves_it_asked(bench: FootBench) -> None:
    """A warning that a press has cancelled set nothing up."""
    bench.hold()
    bench.hold()
    bench.run(500)
    bench.press()
    bench.run(1000)
    standing(bench, SetUpAsked)
    assert bench.state.set_up is None


def test_a_page_may_say_it(bench: FootBench) -> None:
    """The act answers it, and only it; what a page says of the enlarger that makes the set-up does too."""
    assert bench.do(SetUpMade()) is None
    standing(bench, Ready)
    assert bench.do(SetUpMade()) == "foot.nothing-to-do"
    choose(bench, wanting(SetUp(head_height_mm=480.0, aperture=11.0), sheet_plan(source="pier")))
    standing(bench, SetUpAsked)
    bench.do(StandAtEnlarger(bench=AtEnlarger(head_height_mm=480.0, aperture=8.0)))
    standing(bench, SetUpAsked)
    bench.do(StandAtEnlarger(bench=AtEnlarger(head_height_mm=480.0, aperture=11.0)))
    standing(bench, ChangeFilter)
    bench.do(StandAtEnlarger(bench=AtEnlarger(head_height_mm=480.0, aperture=11.0, negative_title="pier")))
    standing(bench, ChangeFilter)


def test_a_reminder_comes_and_it_never_lapses(bench: FootBench) -> None:
    """The cue of the hands soon after it is asked, then every 20 s."""
    bench.run(61_000)
    standing(bench, SetUpAsked)
    assert bench.cues().count("hands") == 4


def test_what_the_recipe_leaves_open_is_as_the_enlarger_stands() -> None:
    """A recipe that says the f-number alone is set up as it stands, and of another height nothing is carried over."""
    bench = FootBench(wanting(SetUp(aperture=8.0)))
    bench.do(StandAtEnlarger(bench=AtEnlarger(head_height_mm=480.0, magnification=4.0, aperture=8.0)))
    assert bench.state.loaded.plan.set_up == SetUp(head_height_mm=480.0, magnification=4.0, aperture=8.0)
    choose(bench, wanting(SetUp(head_height_mm=620.0), sheet_plan(source="crane")))
    assert bench.state.loaded.plan.set_up == SetUp(head_height_mm=620.0, aperture=8.0)


def test_a_lead_in_begins_only_when_it_is_set(bench: FootBench) -> None:
    """No press but the one after it leads to light."""
    bench.press()
    assert not isinstance(bench.place, LeadIn)
    bench.run(1000)
    bench.press()
    assert not isinstance(bench.place, LeadIn)
    bench.run(3000)
    bench.press()
    standing(bench, LeadIn)


_MM = st.one_of(st.none(), st.sampled_from([480.0, 480.3, 620.0, 700.5]))
_SET_UPS = st.builds(
    SetUp,
    head_height_mm=_MM,
    aperture=st.one_of(st.none(), st.sampled_from([5.6, 8.0, 11.0])),
    focal_mm=st.one_of(st.none(), st.sampled_from([80.0, 150.0])),
    format=st.sampled_from(["", "4x5", "24x36"]),
    image_mm=st.one_of(st.none(), st.sampled_from([(240.0, 192.0), (300.0, 240.0)])),
    magnification=st.one_of(st.none(), st.sampled_from([2.0, 2.01, 4.0])),
)


@given(_SET_UPS, _SET_UPS)
def test_what_is_made_is_asked_no_more(wanted: SetUp, stood: SetUp) -> None:
    """Once a set-up is made over whatever stood, nothing of it is left to be made; made twice it is the same."""
    made = wanted.over(stood)
    assert not wanted.to_be_made(made)
    assert wanted.over(made) == made
    assert not SetUp().to_be_made(stood)
    assert wanted.bare or wanted.to_be_made(None)


@given(_SET_UPS)
def test_a_plan_that_was_filed_is_read_again(wanted: SetUp) -> None:
    """A plan says the same of its set-up once it was written and read."""
    plan = wanting(wanted)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan


def test_a_plan_of_old_has_its_f_number() -> None:
    """A plan that was filed with its f-number alone is set up with that."""
    old = {**sheet_plan().model_dump(mode="json"), "aperture": "5.6"}
    assert Plan.model_validate(old).set_up == SetUp(aperture=5.6)
    assert Plan.model_validate({**old, "aperture": ""}).set_up is None
