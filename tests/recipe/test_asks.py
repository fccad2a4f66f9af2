"""What is asked between the lights of a sheet: hands, carriers, tools; and that it changes no light."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tools.written_files import Tree, recipe_2_trees, recipe_from, recipe_of

from controller.errors import Impossible
from controller.recipe.as_given import Got, as_given, with_burn
from controller.recipe.asks import hands_moved, tools_named, with_lights
from controller.recipe.compile_recipe import compile_recipe, more_burn
from controller.recipe.files import read_tree, write
from controller.recipe.plan import Ask, Hands, Plan
from controller.recipe.recipe import HandsEntry, Recipe, Tool

MASK = {"letter": "M", "kind": "mask", "name": "sky mask"}
BURN = {"area": "S", "act": "burn", "filter": "2", "stops": "1"}
TWO = [
    {"filter": "soft", "seconds": 12.0, "carrier": "A"},
    {"filter": "hard", "seconds": 5.0, "carrier": "A"},
    {"filter": "soft", "seconds": 9.0, "carrier": "B"},
]


def recipe(**more: Any) -> Recipe:
    return recipe_from(format="treadle/recipe/2", **more)


def plan_of(made: Recipe) -> Plan:
    return compile_recipe(made, source="here", version=1)


def asked(plan: Plan) -> list[tuple[str, ...]]:
    """Return the words that are asked before each step, and at the end."""
    return [
        *(tuple(ask.words for ask in step.asks) for step in plan.steps),
        tuple(ask.words for ask in plan.end_asks),
    ]


def test_two_negatives_on_one_sheet() -> None:
    """Carriers, masks and words of the example come where a printer needs them, and the mask that is in goes out."""
    plan = plan_of(recipe_of("two-negatives.recipe.json"))
    assert [(step.name, step.planned_ms, step.carrier, step.tools, step.words) for step in plan.steps] == [
        ("soft base A", 12_000, "A", ("M",), ""),
        # 12 s · (2^(1/2) − 1) = 4.97 s, 12 s · (2^(1/4) − 1) = 2.27 s (derived)
        ("C rocks, burn", 5_000, "A", ("M", "C"), "hole over the rocks, turn it slowly"),
        ("bottom edge, burn", 2_300, "A", ("M",), "card tilted"),
        # 5.5 s · (1 − 2^(−1/3)) = 1.13 s (derived)
        ("hard base A, D in", 1_100, "A", ("M", "D"), ""),
        ("hard base A, open", 4_400, "A", ("M",), ""),
        ("soft base B", 9_500, "B", ("N",), ""),
    ]
    assert asked(plan) == [
        ("sky mask in", "carrier A in, check registration"),
        *[()] * 4,
        ("change to the clouds", "sky mask out, shore mask in"),
        ("pencil mark on the rebate", "mask N, shore mask: out"),
    ]
    assert plan.steps[5].asks == (
        Ask(words="change to the clouds", carrier="B", kind="carrier"),
        Ask(words="sky mask out, shore mask in", kind="tool", brings=("N",), takes=("M",)),
    )
    assert [ask.kind for ask in plan.end_asks] == ["hands", "tool"]


def test_a_mask_of_an_area_is_asked_in_for_its_light_and_out_after_it() -> None:
    """A tool that stays and has an area's letter is laid down for that area's light alone; a card is in the hand."""
    local = [BURN, {"area": "T", "act": "burn", "filter": "2", "seconds": 3}]
    plan = plan_of(recipe(tools=[MASK | {"letter": "S"}], local=local))
    assert asked(plan) == [(), ("mask S, sky mask: in",), ("mask S, sky mask: out",), ()]
    assert [step.in_place for step in plan.steps] == [(), ("S",), ()]
    last = plan_of(recipe(tools=[MASK | {"letter": "S"}], local=[BURN]))
    assert asked(last) == [(), ("mask S, sky mask: in",), ("mask S, sky mask: out",)]
    held = plan_of(recipe(tools=[MASK | {"letter": "S", "kind": "card"}], local=[BURN]))
    assert asked(held) == [(), (), ()]
    assert [(step.tools, step.in_place) for step in held.steps] == [((), ()), (("S",), ())]


def test_a_mask_that_is_in_for_its_area_and_is_named_then_stays() -> None:
    """Between two lights of its area it is in already: the words are asked, nothing moves, and it goes out last."""
    local = [BURN, BURN | {"stops": "1/3"}, {"area": "T", "act": "burn", "filter": "2", "seconds": 3}]
    plan = plan_of(
        recipe(tools=[MASK | {"letter": "S"}], local=local, hands=[{"before": 3, "words": "sky mask, a little up"}])
    )
    assert asked(plan) == [(), ("mask S, sky mask: in",), ("sky mask, a little up",), (), ("mask S, sky mask: out",)]
    assert plan.steps[2].asks == (Ask(words="sky mask, a little up", kind="hands"),)
    assert [step.in_place for step in plan.steps] == [(), ("S",), ("S",), ("S",)]


def test_a_running_dodge_is_of_the_hand() -> None:
    """What moves in a light cannot be laid down before it: nothing is asked."""
    dodge = {"area": "S", "act": "dodge", "filter": "2", "stops": "1/3", "how": "running", "words": "small circles"}
    plan = plan_of(recipe(tools=[MASK | {"letter": "S"}], local=[dodge]))
    assert asked(plan) == [(), ()]
    assert plan.steps[0].words == "small circles"


@pytest.mark.parametrize(
    ("lights", "hands", "carriers"),
    [
        # the second names B, so the first goes through the other
        ([{}, {"carrier": "B"}], [], ["A", "B"]),
        ([{}, {}], [{"before": 2, "words": "clouds in", "carrier": "A"}], ["B", "A"]),
        ([{}, {}], [{"before": 1, "words": "clouds in", "carrier": "A"}], ["A", "A"]),
        ([{}, {}], [], ["", ""]),
    ],
)
def test_a_light_that_names_no_carrier_goes_through_the_one_that_is_in(
    lights: list[Tree], hands: list[Tree], carriers: list[str]
) -> None:
    """Before any is named that is the other one, so that a second sheet does not begin with the first one's last."""
    named = [{"filter": name, "seconds": 9, **each} for name, each in zip(("soft", "hard"), lights, strict=True)]
    plan = plan_of(recipe(light=named, hands=hands))
    assert [step.carrier for step in plan.steps] == carriers
    assert [bool([ask for ask in step.asks if ask.carrier]) for step in plan.steps] == [
        carrier not in ("", before) for before, carrier in zip(["", *carriers], carriers, strict=False)
    ]


def test_local_work_goes_with_the_first_of_two_bases_or_the_carrier_asked_for() -> None:
    """A burn in stops counts from the base of its own negative, and is given with that one in."""
    burn = {"area": "C", "act": "burn", "filter": "soft", "stops": "1"}
    first = plan_of(recipe(light=TWO, local=[burn]))
    assert [(step.area, step.planned_ms, step.carrier) for step in first.steps] == [
        ("", 12_000, "A"),
        ("C", 12_000, "A"),
        ("", 5_000, "A"),
        ("", 9_000, "B"),
    ]
    hands = [{"before": 4, "words": "clouds still in", "carrier": "B"}]
    second = plan_of(recipe(light=TWO, local=[burn], hands=hands))
    assert [(step.area, step.planned_ms, step.carrier) for step in second.steps][-2:] == [
        ("", 9_000, "B"),
        ("C", 9_000, "B"),
    ]


def test_work_through_both_goes_once_through_each_filter() -> None:
    """Of two bases through one filter it takes one, so that no area gets its light twice."""
    plan = plan_of(recipe(light=TWO, local=[{"area": "C", "act": "burn", "filter": "both", "stops": "1"}]))
    assert [(step.filter, step.carrier) for step in plan.steps if step.area] == [("soft", "A"), ("hard", "A")]


def test_a_flash_without_negative_asks_for_the_right_one_back() -> None:
    """The negative that goes back in is the first carrier's: one question, not two."""
    plan = plan_of(recipe(light=TWO, flash={"seconds": 1, "way": "no negative"}))
    assert [(step.hands, len(step.asks), step.carrier) for step in plan.steps[:2]] == [
        (Hands.NEGATIVE_OUT, 0, ""),
        (Hands.NEGATIVE_BACK, 0, "A"),
    ]
    assert asked(plan_of(recipe(light=TWO, flash={"seconds": 1, "way": "opal under the lens"})))[1] == (
        "carrier A in, check registration",
    )


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ("Sky mask in", "M"),
        ("lay the SHORE MASK down", "N"),
        ("sky mask out, shore mask in", "MN"),
        ("mask M in", "M"),
        ("M mask in", "M"),
        ("N out", "N"),
        ("turn the card: M stays", ""),
        ("mask in", ""),  # which of the two?
        ("the blade up", "L"),
        ("L blades in", ""),  # "blades" is another word
        ("skymask", ""),
    ],
)
def test_a_tool_is_named_by_its_name_its_letter_or_its_kind(words: str, named: str) -> None:
    """The printer's own words say which tool goes in or out; what is not plain names none."""
    tools = [
        Tool(letter="M", kind="mask", name="sky mask"),
        Tool(letter="N", kind="mask", name="shore mask"),
        Tool(letter="L", kind="blade", name="left edge"),
        Tool(letter="C", kind="card", name="big card"),
    ]
    assert "".join(tool.letter for tool in tools_named(HandsEntry(before=1, words=words), tools)) == named


def test_a_carriers_letter_is_no_tools() -> None:
    """Where a carrier is named, “negative B” is that, and no mask that is called B."""
    entry = HandsEntry.model_validate({"before": 1, "words": "negative B", "carrier": "B"})
    assert tools_named(entry, [Tool(letter="B", kind="mask", name="sky")]) == ()


# ---- laws


@settings(max_examples=200)
@given(recipe_2_trees())
def test_what_is_asked_leads_to_what_a_step_says_is_in(tree: Tree) -> None:
    """Followed one by one, the asks put in place what each step has in its light, and at the end nothing is left in."""
    try:
        plan = plan_of(_read(tree))
    except Impossible:
        assume(False)
        raise
    place: set[str] = set()
    carrier = ""
    for step in plan.steps:
        for ask in step.asks:
            assert place >= set(ask.takes)
            assert not place & set(ask.brings)
            place = place - set(ask.takes) | set(ask.brings)
            carrier = ask.carrier or carrier
        if step.hands is Hands.NEGATIVE_BACK:
            carrier = step.carrier
        assert place == set(step.in_place) <= set(step.tools)
        assert step.carrier == carrier or step.act == "flash"
    for ask in plan.end_asks:
        place = place - set(ask.takes) | set(ask.brings)
    assert place == set()


@settings(max_examples=150)
@given(recipe_2_trees(carriers=False))
def test_tools_and_hands_change_no_light(tree: Tree) -> None:
    """Every light of every area is what the first form gives, to the millisecond and in the same order."""
    old = {key: value for key, value in tree.items() if key not in ("tools", "hands")} | {"format": "treadle/recipe/1"}
    old["local"] = [{key: value for key, value in work.items() if key != "words"} for work in tree["local"]]
    first, second = (_plan_or_refusal(each) for each in (old, tree))
    if isinstance(first, str) or isinstance(second, str):
        assert first == second
        return
    told = {"asks", "carrier", "words", "tools", "in_place"}
    assert [step.model_dump(exclude=told) for step in first.steps] == [
        step.model_dump(exclude=told) for step in second.steps
    ]
    assert not any(step.asks or step.tools or step.words for step in first.steps)


@settings(max_examples=100)
@given(recipe_2_trees(), st.randoms())
def test_what_is_asked_stays_before_its_line_where_lines_move(tree: Tree, chance: Any) -> None:
    """Whatever order the lines are in afterwards, each ask is before the line that it was before."""
    made = _read(tree)
    order = list(range(len(made.local)))
    chance.shuffle(order)
    moved = hands_moved(made, range(len(made.light)), order)
    lines = [*made.light, *made.local]
    now = [*made.light, *(made.local[at] for at in order)]
    assert len(moved) == len(made.hands)
    for old, new in zip(made.hands, moved, strict=True):
        assert (old.before == "end") == (new.before == "end")
        if old.before != "end" and new.before != "end":
            assert now[new.before - 1] is lines[old.before - 1]


def test_what_was_asked_before_a_line_that_goes_is_asked_before_the_next() -> None:
    """A base that is taken out takes no ask with it; after the last line there is the end."""
    made = recipe(
        light=TWO[:2],
        hands=[{"before": 1, "words": "one"}, {"before": 2, "words": "two"}, {"before": 3, "words": "three"}],
        local=[{"area": "S", "act": "burn", "filter": "4", "seconds": 3}],
    )
    assert [each.before for each in with_lights(made, made.light[1:]).hands] == [1, 1, 2]
    assert [each.before for each in with_lights(made, made.light[:1]).hands] == [1, 2, 2]
    assert [each.before for each in hands_moved(made, [0, 1], [])] == [1, 2, "end"]
    assert [each.before for each in hands_moved(made, [0, 1], [0, 0])] == [1, 2, 3, 4]


# ---- with the rest of a recipe's life


def test_one_more_burn_counts_from_the_base_whose_negative_is_in() -> None:
    """On a sheet that ends with carrier B, a burn of one stop gives B's base once more, and goes in with B."""
    made = recipe(light=TWO)
    plan = plan_of(made)
    step = more_burn(plan, 4, filter="soft", stops="1", seconds=None, area="")
    assert (step.planned_ms, step.carrier) == (9_000, "B")
    kept = with_burn(made, Got(step=step, least_ms=9_000, most_ms=9_000, added=True))
    assert kept.hands[-1].carrier == "B"
    assert [(each.planned_ms, each.carrier) for each in plan_of(kept).steps][-1] == (9_000, "B")
    assert read_tree(json.loads(write(kept)), "again") == kept


def test_a_sheet_of_two_negatives_goes_into_its_recipe() -> None:
    """What each base was given goes to the base of its own carrier."""
    made = recipe(light=TWO)
    given_ms = (12_000, 5_000, 7_500)
    got = [Got(step=step, least_ms=ms, most_ms=ms) for step, ms in zip(plan_of(made).steps, given_ms, strict=True)]
    assert [(str(light.seconds), light.carrier) for light in as_given(made, got).light] == [
        ("12.0", "A"),
        ("5.0", "A"),
        ("7.5", "B"),
    ]


def _read(tree: Tree) -> Recipe:
    made = read_tree(tree, "made up")
    assert isinstance(made, Recipe)
    return made


def _plan_or_refusal(tree: Tree) -> Plan | str:
    try:
        return plan_of(_read(tree))
    except Impossible as refused:
        return str(refused)
