"""The compiler: order, names and times of every step, and why some sheets cannot be made."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.written_files import Tree, recipe_from, recipe_of, recipe_trees, strip_from, strip_of, strip_trees

from controller.errors import Impossible
from controller.exposure.burns import burn_ms
from controller.exposure.lag import given_full_ns, lit_ms, planned_full_ns
from controller.recipe.compile_recipe import compile_any, compile_recipe, compile_strip, more_burn
from controller.recipe.files import read_recipe, read_tree
from controller.recipe.plan import Hands, Plan, StepKind
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.words import has

BASE_ACTS = {StepKind.BASE, StepKind.PART, StepKind.OPEN, StepKind.RUNNING}


def _plan(model: Recipe | Strip, longest_ms: int = 600_000) -> Plan:
    return compile_any(model, source="here", version=1, longest_ms=longest_ms)


def _light(plan: Plan) -> list[tuple[str, str, int]]:
    return [(step.name, step.filter, step.planned_ms) for step in plan.steps]


def _plan_or_refusal(tree: Tree) -> tuple[Recipe | Strip, Plan | None, str]:
    model = read_recipe(json.dumps(tree), "made up")
    try:
        return model, _plan(model), ""
    except Impossible as refused:
        return model, None, str(refused)


def test_the_crane_comes_out_step_by_step() -> None:
    """The split-grade example has soft base and burn, then the hard base's dodged part, open part and burn."""
    plan = _plan(recipe_of("crane.recipe.json"))
    assert _light(plan) == [
        ("soft base", "soft", 10_100),
        ("A sky, burn", "soft", 10_100),
        ("hard base, C in", "hard", 1_700),
        ("hard base, open", "hard", 6_300),
        ("B wet stones, burn", "hard", 4_700),
    ]
    assert [step.number for step in plan.steps] == [1, 2, 3, 4, 5]
    assert [step.act for step in plan.steps] == [
        StepKind.BASE,
        StepKind.BURN,
        StepKind.PART,
        StepKind.OPEN,
        StepKind.BURN,
    ]
    assert [step.base_ms for step in plan.steps] == [10_100, 10_100, 8_000, 8_000, 8_000]
    assert [step.stops for step in plan.steps] == [None, "+1", "−1/3", None, "+2/3"]
    assert plan.total_ms == 32_900


def test_one_base_is_called_base() -> None:
    """A sheet with one base calls it "base", and its parts after it."""
    assert _light(_plan(recipe_of("proof.recipe.json"))) == [("base", "2", 12_000)]
    dodged = recipe_from(local=[{"area": "C", "act": "dodge", "filter": "2", "stops": "1/2"}])
    assert [step.name for step in _plan(dodged).steps] == ["base, C in", "base, open"]


def test_typed_times_keep_their_milliseconds() -> None:
    """Seconds as typed are lit as typed; only what is computed is rounded to 0.1 s."""
    recipe = recipe_from(
        light=[{"filter": "2", "seconds": 10.125}],
        local=[
            {"area": "A", "act": "burn", "filter": "2", "seconds": 2.375},
            {"area": "B", "act": "burn", "filter": "2", "stops": "1/3"},
            {"area": "C", "act": "dodge", "filter": "2", "seconds": 3.25},
        ],
    )
    assert [step.planned_ms for step in _plan(recipe).steps] == [3_250, 6_875, 2_375, 2_600]


def test_both_means_each_base_in_turn() -> None:
    """Local work through both filters comes once at each base."""
    recipe = recipe_from(
        light=[{"filter": "soft", "seconds": 10}, {"filter": "hard", "seconds": 8}],
        local=[
            {"area": "A", "act": "burn", "filter": "both", "stops": 1},
            {"area": "D", "act": "dodge", "filter": "both", "stops": 1},
        ],
    )
    assert _light(_plan(recipe)) == [
        ("soft base, D in", "soft", 5_000),
        ("soft base, open", "soft", 5_000),
        ("A, burn", "soft", 10_000),
        ("hard base, D in", "hard", 4_000),
        ("hard base, open", "hard", 4_000),
        ("A, burn", "hard", 8_000),
    ]


def test_several_parts_have_a_dodger_each_in_file_order() -> None:
    """Each dodge in parts is a part of the base of its own, in the order of the file."""
    local = [{"area": area, "act": "dodge", "filter": "2", "stops": "1/3"} for area in "CA"]
    assert _light(_plan(recipe_from(local=local))) == [
        ("base, C in", "2", 2_100),
        ("base, A in", "2", 2_100),
        ("base, open", "2", 5_800),
    ]


def test_a_burn_without_a_base_comes_last() -> None:
    """A burn in seconds through a filter without a base comes last, as a light of its own."""
    recipe = recipe_from(
        light=[{"filter": "soft", "seconds": 10}, {"filter": "hard", "seconds": 8}],
        local=[
            {"area": "A", "act": "burn", "filter": "2", "seconds": 4.5},
            {"area": "B", "act": "burn", "filter": "hard", "seconds": 3},
        ],
    )
    plan = _plan(recipe)
    assert _light(plan)[-2:] == [("B, burn", "hard", 3_000), ("A, burn", "2", 4_500)]
    assert [step.base_ms for step in plan.steps[-2:]] == [8_000, 4_500]


def test_edges_are_a_step_each() -> None:
    """An edge burn is one step an edge, named after it, in the order of the file."""
    work = {"area": "E", "act": "edge burn", "filter": "2", "stops": "1/2", "edges": ["top", "left"]}
    steps = _plan(recipe_from(local=[work])).steps[1:]
    assert [(step.name, step.edge, step.planned_ms) for step in steps] == [
        ("top edge, burn", "top", 4_100),
        ("left edge, burn", "left", 4_100),
    ]


@pytest.mark.parametrize(
    ("way", "hands"),
    [
        ("no negative", [Hands.NEGATIVE_OUT, Hands.NEGATIVE_BACK, None]),
        ("opal under the lens", [Hands.OPAL_IN, Hands.OPAL_OUT, None]),
    ],
)
def test_the_flash_comes_first_with_its_hands(way: str, hands: list[Hands | None]) -> None:
    """The flash comes first, through the first base's filter, and what it moved is put back before the base."""
    recipe = recipe_from(
        light=[{"filter": "soft", "seconds": 10}, {"filter": "hard", "seconds": 9}],
        flash={"seconds": 1.4, "way": way},
    )
    plan = _plan(recipe)
    assert [step.hands for step in plan.steps] == hands
    assert _light(plan)[0] == ("flash", "soft", 1_400)
    assert (plan.steps[0].act, plan.steps[0].base_ms) == (StepKind.FLASH, 1_400)


def test_dry_down_takes_from_bases_and_what_is_reckoned_on_them() -> None:
    """Dry-down shortens every base first; stops are reckoned from it; flash and typed burns stay, and this is said."""
    recipe = recipe_from(
        light=[{"filter": "2", "seconds": 10.25}],
        dry_down_percent=8,
        flash={"seconds": 1.4, "way": "no negative"},
        local=[
            {"area": "A", "act": "burn", "filter": "2", "stops": 1},
            {"area": "B", "act": "burn", "filter": "2", "seconds": 2.5},
        ],
    )
    plan = _plan(recipe)
    assert [step.planned_ms for step in plan.steps] == [1_400, 9_400, 9_400, 2_500]
    assert "recipe.advice-typed-burns" in plan.advice


def test_a_running_dodge_is_one_light_with_marks() -> None:
    """Running dodges are one light for the whole base, dodger in at 2.0 s and out when its seconds are over."""
    recipe = recipe_from(
        local=[
            {"area": "C", "act": "dodge", "filter": "2", "stops": "1/3", "how": "running"},
            {"area": "D", "act": "dodge", "filter": "2", "seconds": 1.5, "how": "running"},
        ]
    )
    (step,) = _plan(recipe).steps
    assert (step.name, step.act, step.planned_ms, step.base_ms) == ("base", StepKind.RUNNING, 10_000, 10_000)
    assert [(mark.at_ms, mark.cue, mark.area) for mark in step.marks] == [
        (2_000, "dodger in", "C"),
        (4_100, "dodger out", "C"),
        (6_100, "dodger in", "D"),
        (7_600, "dodger out", "D"),
    ]


def test_running_and_parts_share_a_base() -> None:
    """Where one dodge runs and another is a part, the running one goes into the open part."""
    recipe = recipe_from(
        local=[
            {"area": "C", "act": "dodge", "filter": "2", "stops": "1/3", "how": "running"},
            {"area": "D", "act": "dodge", "filter": "2", "seconds": 3},
        ]
    )
    part, rest = _plan(recipe).steps
    assert (part.name, part.planned_ms) == ("base, D in", 3_000)
    assert (rest.name, rest.act, rest.planned_ms, len(rest.marks)) == ("base, open", StepKind.RUNNING, 7_000, 2)


@pytest.mark.parametrize(
    ("local", "said"),
    [
        (
            [
                {"area": "C", "act": "dodge", "filter": "2", "seconds": 5},
                {"area": "D", "act": "dodge", "filter": "2", "seconds": 4.6},
            ],
            r"5\.0 \+ 4\.6 = 9\.6 s",
        ),
        ([{"area": "C", "act": "dodge", "filter": "2", "seconds": 8.5, "how": "running"}], r"2\.0 \+ 8\.5 = 10\.5 s"),
        ([{"area": "C", "act": "dodge", "filter": "2", "seconds": 12}], r"12\.0 = 12\.0 s"),
        ([{"area": "C", "act": "burn", "filter": "2", "stops": "1/1000"}], r"C, burn comes to less than 0\.1 s"),
        (
            [{"area": "C", "act": "burn", "filter": "2", "stops": 5}],
            r"C, burn would take 310\.0 s and the longest exposure allowed is 300\.0 s",
        ),
        ([{"area": "C", "act": "burn", "filter": "2", "stops": 1}] * 60, r"61 steps .* at most 60"),
    ],
)
def test_what_cannot_be_lit_is_refused_with_the_sum(local: list[Tree], said: str) -> None:
    """A sheet that cannot be made is refused with the value, the sum and what would do."""
    with pytest.raises(Impossible, match=said) as refused:
        _plan(recipe_from(local=local), longest_ms=300_000)
    assert re.search(r"\bso\b", str(refused.value))


def test_short_lights_are_answered_with_stopping_down() -> None:
    """A base under 8 s and a part or pulse under 2 s are played, and answered with "stop down one stop"."""
    assert _plan(recipe_from(light=[{"filter": "2", "seconds": 7.9}])).advice == ("recipe.advice-stop-down",)
    assert _plan(recipe_from(light=[{"filter": "2", "seconds": 8}])).advice == ()
    crane = _plan(recipe_of("crane.recipe.json"))
    assert crane.steps[2].advice == ("recipe.advice-stop-down", "recipe.advice-running")
    assert crane.advice == crane.steps[2].advice
    assert _plan(strip_of("proof.strip.json")).advice == ()
    pulses = _plan(strip_of("thirds.strip.json")).steps
    assert [bool(step.advice) for step in pulses] == [step.planned_ms < 2_000 for step in pulses]


# ---- strips


def test_a_covered_strip_goes_from_the_least_band_up() -> None:
    """A covered strip has a light a band; the first total is a light of its own, the rest are differences."""
    plan = _plan(strip_of("hard.strip.json"))
    assert _light(plan) == [
        ("soft base", "soft", 10_100),
        ("band 1 of 7", "hard", 4_000),
        ("band 2 of 7", "hard", 1_000),
        ("band 3 of 7", "hard", 1_300),
        ("band 4 of 7", "hard", 1_700),
        ("band 5 of 7", "hard", 2_100),
        ("band 6 of 7", "hard", 2_600),
        ("band 7 of 7", "hard", 3_300),
    ]
    assert [step.base_ms for step in plan.steps] == [10_100, 4_000, *[None] * 6]
    assert [step.card for step in plan.steps[:4]] == [
        "recipe.card-none",
        "recipe.card-none",
        "recipe.card-cover-next",
        "recipe.card-cover-next",
    ]
    assert plan.strip is not None
    assert plan.strip.totals_ms == (4_000, 5_000, 6_300, 8_000, 10_100, 12_700, 16_000)


def test_an_uncovered_strip_begins_with_its_last_band() -> None:
    """Uncovering gives the same pulses in opposite order, each named after the band it sets apart."""
    plan = _plan(strip_of("thirds.strip.json"))
    assert [step.planned_ms for step in plan.steps] == [5_000, 3_900, 3_100, 2_500, 1_900, 1_600, 6_000]
    assert [step.name for step in plan.steps] == [f"band {band} of 7" for band in (7, 6, 5, 4, 3, 2, 1)]
    assert [step.base_ms for step in plan.steps] == [*[None] * 6, 6_000]
    assert (plan.steps[0].card, plan.steps[1].card, plan.steps[-1].card) == (
        "recipe.card-uncover-first",
        "recipe.card-uncover-next",
        "recipe.card-away",
    )


def test_a_burn_strip_lights_what_each_band_gets_over_the_base() -> None:
    """A burn strip gives its first band the base only, and the pulses of the burn rule to the others."""
    plan = _plan(strip_of("sky.strip.json"))
    assert _light(plan) == [
        ("soft base", "soft", 10_100),
        ("band 2 of 5", "soft", 2_600),
        ("band 3 of 5", "soft", 3_300),
        ("band 4 of 5", "soft", 4_200),
        ("band 5 of 5", "soft", 5_300),
        ("hard base", "hard", 8_000),
    ]
    assert [step.base_ms for step in plan.steps] == [10_100, *[10_100] * 4, 8_000]
    assert [step.act for step in plan.steps] == [StepKind.UNDER, *[StepKind.BAND] * 4, StepKind.AFTER]
    assert plan.strip is not None
    assert plan.strip.totals_ms == (0, 2_600, 5_900, 10_100, 15_400)
    assert plan.strip.stops == ("0", "1/3", "2/3", "1", "4/3")
    assert plan.advice == ()


def test_a_window_gives_each_band_its_whole_time() -> None:
    """In a window each band is a whole light of its own."""
    plan = _plan(strip_from(times={"kind": "stops", "centre": 8, "step": "1/2", "bands": 4}, card="window"))
    assert [step.planned_ms for step in plan.steps] == [5_700, 8_000, 11_300, 16_000]
    assert [step.base_ms for step in plan.steps] == [5_700, 8_000, 11_300, 16_000]


def test_a_rhythm_gaps_every_band_but_the_first() -> None:
    """In a rhythm the first band waits for a press and the others for their gap."""
    strip = strip_from(pace={"kind": "rhythm", "gap_seconds": 4.0}, under=[{"filter": "2", "seconds": 9}])
    assert [step.gap_ms for step in _plan(strip).steps] == [None, None, 4_000, 4_000, 4_000, 4_000]


@pytest.mark.parametrize(("card", "moves"), [("cover", [6_000, 7_600, 9_600]), ("uncover", [2_500, 4_500, 6_100])])
def test_a_long_strip_is_one_light_with_moves(card: str, moves: list[int]) -> None:
    """A long strip is one light, with a move at each total, or at the differences from the other end."""
    strip = strip_from(times={"kind": "stops", "centre": 7.6, "step": "1/3", "bands": 4}, card=card, pace="long")
    plan = _plan(strip)
    (step,) = plan.steps
    assert (step.name, step.act, step.planned_ms, step.base_ms) == ("bands 1 to 4", StepKind.LONG, 12_100, 12_100)
    assert plan.strip is not None
    assert plan.strip.totals_ms == (6_000, 7_600, 9_600, 12_100)
    assert [mark.at_ms for mark in step.marks] == moves
    assert {mark.cue for mark in step.marks} == {"move card"}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pace": "long", "card": "window"}, "does not go with a window"),
        ({"times": {"kind": "stops", "centre": 1, "step": "1/12", "bands": 7}}, "come out alike"),
        ({"times": {"kind": "stops", "centre": 100, "step": 1, "bands": 9}}, r"band 8 of 9 would take 400\.0 s"),
        ({"times": {"kind": "seconds", "step": 20, "bands": 24}, "pace": "long"}, r"would take 480\.0 s"),
        (
            {
                "times": {"kind": "burn", "base": 10, "step": "1/3", "bands": 4},
                "under": [{"filter": "2", "seconds": 9}],
            },
            r"base is 10\.0 s but 9\.0 s lie under it",
        ),
        ({"times": {"kind": "burn", "base": 1, "step": 1, "bands": 7}}, "burnt by 6 stops and at most 5"),
    ],
)
def test_a_strip_that_cannot_be_made_is_refused(changes: Tree, said: str) -> None:
    """A strip that cannot be lit is refused with the value and what would do."""
    with pytest.raises(Impossible, match=said) as refused:
        _plan(strip_from(**changes), longest_ms=300_000)
    assert re.search(r"\bso\b", str(refused.value))


def test_a_burn_strip_without_its_base_is_told_so() -> None:
    """A burn strip with nothing under it through its filter is played, and says that band 1 stays white."""
    plan = _plan(strip_from(times={"kind": "burn", "base": 10, "step": "1/3", "bands": 4}))
    assert plan.advice == ("recipe.advice-burn-strip-no-base",)


# ---- one more burn


def test_one_more_burn_is_reckoned_on_the_sheet_s_base() -> None:
    """A burn in stops for an open sheet is a share of its base through that filter, after dry-down and dodges."""
    plan = _plan(recipe_of("crane.recipe.json"))
    step = more_burn(plan, 6, filter="hard", stops="1/4", seconds=None, area="B")
    assert (step.number, step.name, step.act) == (6, "B wet stones, burn", StepKind.BURN)
    assert (step.planned_ms, step.base_ms, step.stops) == (burn_ms(8_000, Fraction(1, 4)), 8_000, "+1/4")
    typed = more_burn(plan, 7, filter="2", stops=None, seconds=3.3, area="")
    assert (typed.name, typed.planned_ms, typed.base_ms, typed.stops) == ("burn", 3_300, 3_300, None)
    over = more_burn(_plan(strip_of("sky.strip.json")), 7, filter="hard", stops="1", seconds=None, area="Q")
    assert (over.name, over.planned_ms) == ("Q, burn", 8_000)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"stops": None, "seconds": None}, "exactly one"),
        ({"stops": "1", "seconds": 3.0}, "exactly one"),
        ({"stops": "1", "seconds": None, "filter": "2"}, "no base through 2"),
        ({"stops": "-1", "seconds": None}, "more than 0"),
        ({"stops": "six", "seconds": None}, "is not stops"),
        ({"stops": "1/1000", "seconds": None}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": 601.0}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": -1.0}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": float("nan")}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": float("inf")}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": 3.00001}, r"0\.1 to 600\.0 s"),
        ({"stops": None, "seconds": 3.0, "filter": "both"}, "is no filter"),
        ({"stops": None, "seconds": 3.0, "number": 61}, "at most 60"),
    ],
)
def test_one_more_burn_is_refused_where_it_cannot_be(asked: dict[str, Any], said: str) -> None:
    """One more burn that cannot be given is refused in a sentence."""
    asked = {"number": 6, "filter": "soft", "area": "A"} | asked
    with pytest.raises(Impossible, match=said):
        more_burn(_plan(recipe_of("crane.recipe.json")), asked.pop("number"), **asked)


# ---- laws


@settings(max_examples=200)
@given(recipe_trees())
def test_bases_are_whole_and_in_order_on_every_sheet(tree: Tree) -> None:
    """On every sheet each base's lights sum to the base; filters change once each; nothing exceeds the longest."""
    recipe, plan, refusal = _plan_or_refusal(tree)
    if plan is None:
        assert re.fullmatch(r".* so .*\.", refusal)
        return
    assert isinstance(recipe, Recipe)
    assert all(100 <= step.planned_ms <= 600_000 for step in plan.steps)
    lit: dict[str, int] = defaultdict(int)
    for step in plan.steps:
        if step.act in BASE_ACTS:
            lit[step.filter] += step.planned_ms
            assert step.base_ms is not None
    for step in plan.steps:
        if step.act in BASE_ACTS:
            assert lit[step.filter] == step.base_ms
    assert list(lit) == [light.filter for light in recipe.light]
    if not recipe.dry_down_percent:
        assert list(lit.values()) == [int(light.seconds * 1000) for light in recipe.light]
    order = [step.filter for step in plan.steps if step.act is not StepKind.FLASH]
    bases = [f for f in dict.fromkeys(order) if f in lit]
    assert [f for i, f in enumerate(order) if f in lit and (i == 0 or order[i - 1] != f)] == bases
    for step in plan.steps:
        assert all(mark.at_ms <= step.planned_ms for mark in step.marks)
        assert all(has(key) for key in (*step.advice, *([step.card] if step.card else [])))
    assert all(has(key) for key in plan.advice)


@settings(max_examples=200)
@given(strip_trees())
def test_every_strip_gives_its_totals(tree: Tree) -> None:
    """The lights of every strip give each band its total, whichever the card and the pace."""
    strip, plan, refusal = _plan_or_refusal(tree)
    if plan is None:
        assert re.fullmatch(r".* so .*\.", refusal)
        return
    assert isinstance(strip, Strip)
    assert plan.strip is not None
    totals = plan.strip.totals_ms
    assert len(totals) == strip.times.bands
    own = [step for step in plan.steps if step.act in (StepKind.BAND, StepKind.LONG)]
    assert tuple(step.planned_ms for step in own) == plan.strip.pulses_ms
    assert all(step.planned_ms <= 600_000 for step in plan.steps)
    assert sum(plan.strip.pulses_ms) == (sum(totals) if strip.card == "window" else totals[-1])
    assert all(step.gap_ms is None or step.gap_ms >= 1_500 for step in plan.steps)
    assert all(has(step.card) for step in own)


@settings(max_examples=100)
@given(strip_trees(), st.integers(0, 300))
def test_lamp_lag_leaves_a_strip_s_light_alone(tree: Tree, lag_ms: int) -> None:
    """With lamp lag every band gets the full light that one uninterrupted light of its total would give."""
    _, plan, _ = _plan_or_refusal(tree)
    if plan is None or plan.strip is None or plan.strip.kind == "burn" or plan.strip.pace == "long":
        return
    got = [0] * len(plan.strip.totals_ms)
    for step in plan.steps:
        if step.act is StepKind.BAND:
            full = planned_full_ns(step.planned_ms, step.base_ms, lag_ms)
            full = given_full_ns(lit_ms(full, lag_ms) * 1_000_000, lag_ms)
            band = int(step.name.split()[1])
            last = band if plan.strip.card == "window" else len(got)
            for reached in range(band, last + 1):
                got[reached - 1] += full
    expected = [max(0, total - lag_ms) * 1_000_000 for total in plan.strip.totals_ms]
    if plan.strip.card == "window" or next(total for total in plan.strip.totals_ms if total) >= lag_ms:
        assert got == expected


@settings(max_examples=100)
@given(recipe_trees(), st.integers(1_000, 60_000))
def test_a_shorter_longest_light_only_refuses(tree: Tree, longest_ms: int) -> None:
    """With a shorter longest light a sheet is the same, or refused; it is never cut short."""
    model, plan, _ = _plan_or_refusal(tree)
    if plan is None:
        return
    if max(step.planned_ms for step in plan.steps) > longest_ms:
        with pytest.raises(Impossible, match="the longest exposure allowed is"):
            _plan(model, longest_ms)
    else:
        assert _plan(model, longest_ms) == plan


@given(st.sampled_from(["1/12", "1/6", "1/4"]), st.sampled_from(["1/3", "1/2", "1", "2"]))
def test_more_stops_never_give_less(less: str, more: str) -> None:
    """A burn of more stops is never a shorter step, and a dodge of more stops never a shorter part."""

    def step(act: str, stops: str) -> int:
        work = {"area": "A", "act": act, "filter": "2", "stops": stops}
        plan = _plan(recipe_from(local=[work]))
        return next(s.planned_ms for s in plan.steps if s.area == "A")

    assert step("burn", less) < step("burn", more)
    assert step("dodge", less) < step("dodge", more)


def test_source_and_version_are_passed_on() -> None:
    """A plan says where on the shelf it came from."""
    plan = compile_recipe(recipe_of("proof.recipe.json"), source="r1", version=3, longest_ms=600_000)
    assert (plan.source, plan.version, plan.kind, plan.title) == ("r1", 3, "recipe", "Contact proof, four 4x5")
    strip = compile_strip(strip_of("proof.strip.json"), source="s1", version=2, longest_ms=600_000)
    assert (strip.source, strip.version, strip.kind, strip.title) == ("s1", 2, "strip", "Proof strip")


def test_a_compiled_plan_is_only_read_twice_the_same() -> None:
    """The compiler is pure: the same recipe gives the same plan."""
    model = read_tree(json.loads(recipe_of("everything.recipe.json").model_dump_json(exclude_none=True)), "again")
    assert _plan(model) == _plan(recipe_of("everything.recipe.json"))
