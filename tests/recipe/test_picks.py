"""Picks: what a band of a strip means, and the recipe it leads to."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.written_files import Tree, recipe_from, recipe_of, strip_from, strip_of, strip_trees

from controller.errors import Impossible
from controller.recipe.compile_recipe import compile_recipe, compile_strip
from controller.recipe.files import read_recipe, read_tree, write
from controller.recipe.pick import Pick, apply_pick, look_for, pick_meaning, pick_offered, read_pick
from controller.recipe.plan import Plan
from controller.recipe.recipe import Burn, Recipe
from controller.recipe.strip import Strip

SETUP: Tree = {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
THIRDS = {"kind": "stops", "centre": 12, "step": "1/3", "bands": 7}
BURNS = {"kind": "burn", "base": 10.1, "step": "1/3", "bands": 5}


def _plan(strip: Strip) -> Plan:
    return compile_strip(strip, source="here", version=1)


def _pick(strip: Strip, band: int, *, between: bool = False) -> Pick:
    return read_pick(_plan(strip), band, between=between)


def test_a_band_of_a_timed_strip_is_a_base() -> None:
    """A picked band of a seconds or stops strip is the base of that total through its filter."""
    assert _pick(strip_of("proof.strip.json"), 4).seconds == 12.0
    pick = _pick(strip_of("hard.strip.json"), 4)
    assert (pick.kind, pick.filter, pick.seconds, pick.stops) == ("base", "hard", 8.0, "")


def test_an_uncovered_strip_is_picked_by_the_same_numbers() -> None:
    """Band numbers mean the same band whichever way the card went."""
    covered, uncovered = (strip_from(times=THIRDS, card=card) for card in ("cover", "uncover"))
    assert [_pick(covered, band).seconds for band in range(1, 8)] == [6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0]
    assert [_pick(uncovered, band) for band in range(1, 8)] == [_pick(covered, band) for band in range(1, 8)]


def test_between_two_bands_is_the_geometric_mean() -> None:
    """Between two bands lies the geometric mean of their times, to 0.1 s."""
    pick = _pick(strip_from(times=THIRDS), 3, between=True)
    assert (pick.band, pick.between, pick.seconds) == (3, True, 10.7)


def test_a_band_of_a_burn_strip_is_its_stops() -> None:
    """A picked band of a burn strip is its stops, and what they come to on the strip's base."""
    strip = strip_of("sky.strip.json")
    picks = [_pick(strip, band) for band in range(1, 6)]
    assert [pick.stops for pick in picks] == ["0", "1/3", "2/3", "1", "4/3"]
    assert [pick.seconds for pick in picks] == [0.0, 2.6, 5.9, 10.1, 15.4]
    assert _pick(strip, 2, between=True).stops == "1/2"


def test_light_over_the_whole_strip_counts() -> None:
    """What lies over the whole strip through its own filter belongs to the base that is picked."""
    strip = strip_from(under=[{"filter": "2", "seconds": 6}], after=[{"filter": "soft", "seconds": 9}])
    assert _pick(strip, 2).seconds == 12.0


@pytest.mark.parametrize(("band", "between"), [(0, False), (8, False), (7, True), (-1, False)])
def test_a_band_that_is_not_there_cannot_be_picked(band: int, between: bool) -> None:
    """A band past either end is refused."""
    with pytest.raises(Impossible, match="no band"):
        _pick(strip_of("proof.strip.json"), band, between=between)


def test_a_print_has_no_bands() -> None:
    """A recipe's sheet cannot be picked from."""
    plan = compile_recipe(recipe_of("proof.recipe.json"), source="here", version=1)
    with pytest.raises(Impossible, match="is not a strip"):
        read_pick(plan, 1)


@pytest.mark.parametrize(
    ("setup", "said"),
    [
        ({}, "neither aperture nor head height"),
        ({"head_height_mm": 620}, "no aperture"),
        ({"lens": {"focal_mm": 50}, "head_height_mm": 620}, "no aperture"),
        ({"lens": {"aperture": 8}}, "no head height"),
        (SETUP, None),
    ],
)
def test_a_time_without_aperture_and_height_is_no_base(setup: Tree, said: str | None) -> None:
    """A pick is offered as a base only where the strip says aperture and height; applying it else is refused."""
    strip = strip_from(**setup)
    refused = pick_offered(strip)
    if said is None:
        assert refused is None
        assert apply_pick(None, strip, _pick(strip, 1)).light[0].seconds == 3
        return
    assert refused is not None
    assert said in refused
    with pytest.raises(Impossible, match=said):
        apply_pick(None, strip, _pick(strip, 1))
    assert pick_offered(strip_from(times=BURNS, **setup)) is None


def test_a_first_pick_makes_a_recipe() -> None:
    """A pick without a recipe makes one, with the strip's negative, paper and setting."""
    extra = {"negative": {"name": "frost on a fence"}, "paper": {"name": "paper one"}, "filters": {"soft": "00"}}
    recipe = apply_pick(None, strip_from(**SETUP, **extra, magnification=2), _pick(strip_from(), 4))
    assert recipe.title == "frost on a fence"
    assert [(light.filter, light.seconds) for light in recipe.light] == [("2", Decimal(12))]
    assert (recipe.head_height_mm, recipe.magnification) == (Decimal(620), Decimal(2))
    assert recipe.local == ()
    assert read_recipe(write(recipe), "again") == recipe


def test_a_hard_strip_carries_its_soft_base_along() -> None:
    """A hard strip over a soft base makes a recipe with both, soft first, unless the recipe has its own soft base."""
    strip = strip_from(filter="hard", times=THIRDS, under=[{"filter": "soft", "seconds": 10.1}], **SETUP)
    made = apply_pick(None, strip, _pick(strip, 4))
    assert [(light.filter, light.seconds) for light in made.light] == [
        ("soft", Decimal("10.1")),
        ("hard", Decimal(12)),
    ]
    soft = recipe_from(light=[{"filter": "soft", "seconds": 9}])
    kept = apply_pick(soft, strip, _pick(strip, 4))
    assert [(light.filter, light.seconds) for light in kept.light] == [("soft", Decimal(9)), ("hard", Decimal(12))]


def test_a_soft_pick_goes_before_the_hard_base() -> None:
    """A soft base that is new to a recipe is proposed first."""
    strip = strip_from(filter="soft", times=THIRDS, **SETUP)
    recipe = apply_pick(recipe_from(light=[{"filter": "hard", "seconds": 8}]), strip, _pick(strip, 4))
    assert [light.filter for light in recipe.light] == ["soft", "hard"]


def test_other_bases_and_local_work_stay() -> None:
    """A pick changes the base through its filter and nothing else of the recipe."""
    crane = recipe_of("crane.recipe.json")
    strip = strip_from(filter="hard", times=THIRDS, **SETUP)
    recipe = apply_pick(crane, strip, _pick(strip, 3))
    assert [(light.filter, light.seconds) for light in recipe.light] == [
        ("soft", Decimal("10.1")),
        ("hard", Decimal("9.5")),
    ]
    assert recipe.model_dump(exclude={"light"}) == crane.model_dump(exclude={"light"})


def test_a_burn_pick_proposes_a_burn_with_the_next_letter() -> None:
    """A burn strip's pick becomes a burn in stops, with the next free letter or in place of the area's burn."""
    crane, strip = recipe_of("crane.recipe.json"), strip_of("sky.strip.json")
    added = apply_pick(crane, strip, _pick(strip, 3), what="cloud").local[-1]
    assert isinstance(added, Burn)
    assert (added.area, added.what, added.filter, added.stops) == ("D", "cloud", "soft", "2/3")
    again = apply_pick(crane, strip, _pick(strip, 3), area="A")
    assert [(work.area, work.what, work.stops) for work in again.local] == [
        ("A", "sky", "2/3"),
        ("C", "under the cab", "1/3"),
        ("B", "wet stones", "2/3"),
    ]
    assert apply_pick(crane, strip, _pick(strip, 1)) == crane


def test_a_first_burn_pick_brings_its_bases() -> None:
    """A burn pick without a recipe makes one of what lay over the strip, and needs aperture and height for it."""
    strip = strip_of("sky.strip.json")
    with pytest.raises(Impossible, match="neither aperture nor head height"):
        apply_pick(None, strip, _pick(strip, 4))
    whole = strip.model_copy(update={"lens": strip_from(**SETUP).lens, "head_height_mm": Decimal(620)})
    recipe = apply_pick(None, whole, _pick(strip, 4))
    assert [(light.filter, light.seconds) for light in recipe.light] == [
        ("soft", Decimal("10.1")),
        ("hard", Decimal(8)),
    ]
    assert [(work.area, work.filter, work.stops) for work in recipe.local] == [("A", "soft", "1")]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"lens": {"aperture": 5.6}, "head_height_mm": 620}, r"at f/5\.6 and the recipe is for f/8"),
        ({"lens": {"aperture": 8}, "head_height_mm": 700}, "head at 700 mm and the recipe has 620"),
        (SETUP | {"magnification": 3}, r"magnification of 3 and the recipe has 2"),
    ],
)
def test_a_pick_at_another_setting_is_refused(changes: Tree, said: str) -> None:
    """A time made at another aperture, height or magnification is not mixed into a recipe."""
    strip = strip_from(filter="hard", **changes)
    with pytest.raises(Impossible, match=said):
        apply_pick(recipe_of("crane.recipe.json"), strip, _pick(strip, 3))


def test_a_pick_that_has_no_room_is_refused() -> None:
    """A fifth base, a base longer than the longest light and a burn without a base are refused."""
    full = recipe_from(light=[{"filter": name, "seconds": 9} for name in ("soft", "hard", "0", "3")])
    strip = strip_from(**SETUP)
    with pytest.raises(Impossible, match="4 is the most"):
        apply_pick(full, strip, _pick(strip, 3))
    with pytest.raises(Impossible, match="longest exposure is 10"):
        apply_pick(None, strip, _pick(strip, 5), longest_ms=10_000)
    burns = strip_from(times=BURNS)
    with pytest.raises(Impossible, match="no base through 2"):
        apply_pick(recipe_of("crane.recipe.json"), burns, _pick(burns, 3))
    burning = recipe_from(local=[{"area": "A", "act": "burn", "filter": "2", "stops": 1}] * 60)
    with pytest.raises(Impossible, match="at most 60"):
        apply_pick(burning, burns, _pick(burns, 3))


def test_what_to_look_at_fits_the_strip() -> None:
    """Each kind of strip says what to look at, and all say what to do between two bands."""
    looks = {
        "soft": look_for(strip_from(filter="soft")),
        "00": look_for(strip_from(filter="00", filters={"soft": "00", "hard": "5"})),
        "hard": look_for(strip_from(filter="hard")),
        "2": look_for(strip_from(magnification=3)),
        "contact": look_for(strip_from(magnification=1)),
        "burn": look_for(strip_of("sky.strip.json")),
    }
    assert "ignore the blacks" in looks["soft"][0]
    assert looks["00"] == looks["soft"]
    assert "ignore the highlights" in looks["hard"][0]
    assert "film’s clear edge" in looks["contact"][0]
    assert set(look_for(strip_from())) == {*looks["contact"], *looks["2"]}  # nobody said which of the two it is
    assert len({lines[0] for lines in looks.values()}) == 5
    assert {lines[-1] for lines in looks.values()} == {looks["soft"][-1]}


def test_the_page_is_told_what_a_pick_means() -> None:
    """A pick's meaning is a sentence with filter and seconds, and why it is not offered where it is not."""
    strip = strip_of("hard.strip.json")
    meaning = pick_meaning(_plan(strip), strip, 4)
    assert meaning.meaning == "hard base 8.0 s"
    assert meaning.not_offered == pick_offered(strip)
    plain = strip_from(filter="2")
    assert pick_meaning(_plan(plain), plain, 1).meaning.endswith("s through filter 2")
    sky = strip_of("sky.strip.json")
    assert pick_meaning(_plan(sky), sky, 3).meaning == "burn through soft by 2/3 stops, 5.9 s on this strip’s base"
    assert pick_meaning(_plan(sky), sky, 1).meaning == "no burn through soft: the base alone will do"
    assert pick_meaning(_plan(sky), sky, 1).not_offered is None


@settings(max_examples=150)
@given(strip_trees(), st.data())
def test_a_pick_gives_back_the_band(tree: Tree, data: st.DataObject) -> None:
    """The recipe made from a picked band gives a whole sheet the light that the band had."""
    strip = read_tree(tree | SETUP, "made up")
    assert isinstance(strip, Strip)
    try:
        plan = _plan(strip)
    except Impossible:
        return
    assert plan.strip is not None
    band = data.draw(st.integers(1, strip.times.bands))
    pick = read_pick(plan, band)
    try:
        recipe = apply_pick(None, strip, pick)
    except Impossible:
        return
    assert isinstance(recipe, Recipe)
    assert read_recipe(write(recipe), "again") == recipe
    if pick.kind == "base":
        base = recipe.base(strip.filter)
        assert (base.seconds if base else 0) == Decimal(str(pick.seconds))
    else:
        burnt = [work.exact_stops for work in recipe.local]
        assert burnt == ([Fraction(pick.stops)] if Fraction(pick.stops) else [])


@settings(max_examples=100)
@given(strip_trees())
def test_picks_grow_along_the_strip(tree: Tree) -> None:
    """From band to band, the place between them included, picks grow and never cross."""
    strip = read_tree(tree, "made up")
    assert isinstance(strip, Strip)
    try:
        plan = _plan(strip)
    except Impossible:
        return
    bands = strip.times.bands
    along = [read_pick(plan, band // 2 + 1, between=band % 2 == 1).seconds for band in range(2 * bands - 1)]
    assert all(less <= more + 0.051 for less, more in pairwise(along))
    assert all(less < more for less, more in pairwise(along[::2]))
