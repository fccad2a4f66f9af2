"""The strip that confirms a carried recipe, and what its pick corrects."""

from __future__ import annotations

from decimal import Decimal

import pytest
from tools.check_picks import take_pick
from tools.crane_paper import crane, seconds_of, to_paper_two

from controller.carry.carry import carry
from controller.carry.changes import FilterStops, ToPaper, ToSize
from controller.carry.check_strips import check_strips, corrected
from controller.errors import Impossible
from controller.recipe.compile_recipe import compile_strip
from controller.recipe.files import read_recipe, write
from controller.recipe.recipe import Paper


def test_one_strip_confirms_a_size() -> None:
    """After a change of size one fine strip through the first filter is proposed, at the new height and aperture."""
    found = carry(crane(), (ToSize(magnification=Decimal("2.75")),))
    (strip,) = check_strips(found)
    assert strip.filter == "soft"
    assert strip.under == ()
    assert strip.times.kind == "stops"
    assert strip.times.centre == found.recipe.light[0].seconds
    assert strip.times.step == "1/6"
    assert strip.head_height_mm == found.recipe.head_height_mm
    assert strip.magnification == Decimal("2.75")
    assert compile_strip(strip, source="", version=1).strip is not None
    assert read_recipe(write(strip), "strip.json") == strip


def test_two_strips_confirm_a_paper() -> None:
    """After a change of paper there is one strip a filter, the second over the new first base."""
    recipe = crane(local=[])
    found = carry(recipe, (to_paper_two(recipe),))
    soft, hard = check_strips(found)
    assert (soft.filter, hard.filter) == ("soft", "hard")
    assert soft.under == ()
    assert hard.under == (found.recipe.light[0].bare,)


def test_short_bases_get_coarser_strips() -> None:
    """Where sixths of a stop come out alike at a tenth of a second, the strip is coarser."""
    recipe = crane(light=[{"filter": "soft", "seconds": Decimal("0.6")}], local=[])
    (strip,) = check_strips(carry(recipe, ()))
    assert strip.times.kind == "stops"
    assert strip.times.step != "1/6"


def test_a_pick_corrects_the_bases_alone() -> None:
    """A pick sets its filter's base, the others follow by its ratio, stops stay and the factors say so."""
    found = carry(crane(), (ToSize(magnification=Decimal("2.75")),))
    assert seconds_of(found.recipe) == [15.8, 12.5]
    picked = take_pick(found, "soft", Decimal("14.1"))
    assert seconds_of(picked.recipe) == [14.1, pytest.approx(12.5 * 14.1 / 15.8, abs=0.051)]
    assert [work.stops for work in picked.recipe.local] == ["1", "1/3", "2/3"]
    assert picked.factors[0].factor == pytest.approx(found.factors[0].factor * 14.1 / 15.8)
    assert picked.lines[0].new_ms == 14100
    with pytest.raises(Impossible, match="through 2"):
        take_pick(found, "2", Decimal(14))


def test_a_pick_after_a_paper_corrects_its_own_filter() -> None:
    """Where soft and hard were corrected apart, a pick of one leaves the other."""
    recipe = crane(local=[])
    found = carry(recipe, (to_paper_two(recipe),))
    before = seconds_of(found.recipe)
    picked = take_pick(found, "hard", Decimal("6.3"))
    assert seconds_of(picked.recipe) == [before[0], 6.3]
    assert picked.apart


def test_a_pick_is_kept_as_it_was_read() -> None:
    """The picked base is written as it is, finer than a tenth where a pick between two bands is."""
    found = carry(crane(), (ToSize(magnification=Decimal("2.75")),))
    assert take_pick(found, "soft", Decimal("20.05")).recipe.light[0].seconds == Decimal("20.05")


def test_work_in_seconds_follows_its_base() -> None:
    """Work in seconds follows the filter a pick corrects: through both filters only where one strip stands for both."""
    local = [
        {"area": "E", "act": "burn", "filter": "both", "seconds": Decimal("2.0")},
        {"area": "F", "act": "burn", "filter": "soft", "seconds": Decimal("3.0")},
        {"area": "G", "act": "burn", "filter": "hard", "seconds": Decimal("4.0")},
    ]
    recipe = crane(local=local)
    doubled = recipe.light[0].seconds * 2
    together = corrected(recipe, "soft", doubled, apart=False)
    assert [float(work.seconds or 0) for work in together.local] == [4.0, 6.0, 8.0]
    assert seconds_of(together) == [20.2, 16.0]
    alone = corrected(recipe, "soft", doubled, apart=True)
    assert [float(work.seconds or 0) for work in alone.local] == [2.0, 6.0, 4.0]
    assert seconds_of(alone) == [20.2, 8.0]


def test_filters_corrected_apart_stay_so() -> None:
    """Where a pick happens to bring both filters to one factor, each still has a check strip of its own."""
    recipe = crane(local=[])
    stops = (FilterStops(filter="soft", stops=1.0), FilterStops(filter="hard", stops=0.0))
    found = carry(recipe, (ToPaper(paper=Paper(name="two"), stops=stops),))
    assert found.apart
    picked = take_pick(found, "hard", Decimal("16.0"))
    assert [each.factor for each in picked.factors] == [2.0, 2.0]
    assert picked.apart


def test_of_two_negatives_the_first_base_through_a_filter_is_tested() -> None:
    """Its strip has no light of the other negative under it, and its pick moves the other base by the same ratio."""
    light = [
        {"filter": "soft", "seconds": 10, "carrier": "A"},
        {"filter": "hard", "seconds": 6, "carrier": "B"},
        {"filter": "soft", "seconds": 8, "carrier": "B"},
    ]
    recipe = crane(light=light, local=[], format="treadle/recipe/2")
    found = carry(recipe, (to_paper_two(crane()),))
    soft, hard = check_strips(found)
    assert (soft.filter, soft.under, hard.filter, hard.under) == ("soft", (), "hard", ())
    made = corrected(recipe, "soft", Decimal(12), apart=True)
    # 8 s · 12/10 = 9.6 s (derived)
    assert [(float(each.seconds), each.carrier) for each in made.light] == [(12.0, "A"), (6.0, "B"), (9.6, "B")]
