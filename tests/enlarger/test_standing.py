"""What stands at the enlarger: what a recipe says otherwise, what is taken over, what another choice makes of it."""

from __future__ import annotations

import json
from typing import Any

import pytest
from pydantic import ValidationError
from tools.foot_bench import one_step, sheet_plan
from tools.stand_in_desk import CRANE

from controller.enlarger.enlargers import ENLARGER, Enlarger, read_tree
from controller.enlarger.standing import (
    InCarrier,
    changed,
    differs,
    negatives_of,
    papers_of,
    setting_of,
    setups_of,
    taken_from,
    with_enlarger,
    with_negative,
    with_setup,
)
from controller.recipe.at_enlarger import LONGEST_LABEL, AtEnlarger
from controller.recipe.files import read_recipe
from controller.recipe.plan import Plan

RECIPE = read_recipe(CRANE, "crane")
AS_WRITTEN = AtEnlarger(
    negative_title="harbour crane",
    negative_format="4x5",
    paper_title="paper one",
    support="RC",
    head_height_mm=620,
    magnification=2,
    aperture=8,
    focal_mm=150,
    soft="00",
    hard="5",
)


def attic(**more: Any) -> Enlarger:
    return read_tree({"format": ENLARGER, "name": "attic", "light_source": "diffuser", **more}, "attic")


def wanted(bench: AtEnlarger, **more: Any) -> dict[str, str]:
    written = read_recipe(json.dumps({**json.loads(CRANE), **more}), "crane")
    return {each.what: each.wanted for each in differs(bench, written)}


# ---- the copy in a sheet


def test_what_is_not_known_is_not_written() -> None:
    """A plan without anything at the enlarger is written as it always was; with something, only what is known is."""
    plan = sheet_plan(one_step())
    assert "bench" not in plan.model_dump_json()
    assert plan.standing(AtEnlarger()) == plan
    stamped = plan.standing(AtEnlarger(paper_title="paper one", aperture=8))
    assert json.loads(stamped.model_dump_json())["bench"] == {"paper_title": "paper one", "aperture": 8.0}
    assert Plan.model_validate_json(stamped.model_dump_json()) == stamped
    assert stamped.standing(AtEnlarger()) == plan


def test_a_check_light_is_of_no_negative() -> None:
    """A check of the lamp belongs to no sheet, and says nothing of what stands."""
    check = sheet_plan(one_step()).model_copy(update={"kind": "check"})
    assert check.standing(AS_WRITTEN).bench is None


def test_words_of_any_kind_become_one_line_that_can_be_printed() -> None:
    """Line ends, signs that turn what follows, and words without end do not reach a record."""
    bench = AtEnlarger(negative_title=" pier\n\u202eat dusk ", box="x" * 999)
    assert bench.negative_title == "pierat dusk"
    assert len(bench.box) == LONGEST_LABEL
    assert AtEnlarger.model_validate_json(bench.model_dump_json()) == bench


@pytest.mark.parametrize("field", ["head_height_mm", "magnification", "aperture", "focal_mm"])
@pytest.mark.parametrize("value", [-1, 1e9, float("nan"), float("inf")])
def test_a_figure_out_of_its_limits_is_none(field: str, value: float) -> None:
    """No endless or impossible figure stands at the enlarger."""
    with pytest.raises(ValidationError):
        changed(AtEnlarger(), {field: value})


# ---- a recipe


def test_a_recipe_that_says_what_stands_differs_in_nothing() -> None:
    """Names are compared whatever their capitals, figures as closely as they are read off."""
    assert wanted(AS_WRITTEN) == {}
    assert wanted(changed(AS_WRITTEN, {"paper_title": "Paper One", "head_height_mm": 620.4})) == {}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"negative_title": "pier"}, {"negative": "harbour crane"}),
        ({"paper_title": "paper two"}, {"paper": "paper one, RC"}),
        ({"support": "FB"}, {"paper": "paper one, RC"}),
        ({"head_height_mm": 500}, {"head height": "620"}),
        ({"aperture": 11}, {"aperture": "8"}),
        ({"focal_mm": 80}, {"focal length": "150"}),
        ({"aperture": None}, {"aperture": "8"}),
    ],
)
def test_each_thing_that_is_another_is_told(change: dict[str, Any], told: dict[str, str]) -> None:
    """Of what differs, and of what is not known at the enlarger, the recipe's own is told."""
    assert wanted(changed(AS_WRITTEN, change)) == told


def test_a_recipe_that_says_nothing_agrees_with_everything() -> None:
    """Where it names no paper, no height and no aperture, there is nothing to tell."""
    bare = read_recipe(
        '{"format": "treadle/recipe/1", "title": "x", "light": [{"filter": "2", "seconds": 9}], "local": []}', "x"
    )
    assert differs(AtEnlarger(), bare) == ()
    assert taken_from(AS_WRITTEN, bare, (), "") == AS_WRITTEN


def test_what_is_taken_over_differs_in_nothing() -> None:
    """One tap takes negative, paper, set-up and filters; the box stays with its paper and goes with another."""
    before = AtEnlarger(
        paper_title="paper two", box="12", support="FB", enlarger="e", head_height_mm=1, magnification=9
    )
    after = taken_from(before, RECIPE, [InCarrier(negative="set1:7", title="Harbour crane")], "paper1")
    assert differs(after, RECIPE) == ()
    assert after == changed(AS_WRITTEN, {"negative": "set1:7", "paper": "paper1", "enlarger": "e"})
    same = taken_from(changed(AS_WRITTEN, {"box": "12"}), RECIPE, (), "paper1")
    assert (same.box, same.negative) == ("12", "")


def test_a_new_recipe_begins_with_what_stands() -> None:
    """Negative, paper, set-up and filters are those at the enlarger, in the words of a recipe's form."""
    setting = setting_of(AS_WRITTEN)
    for part in ("negative", "magnification", "lens", "head_height_mm", "filters"):
        assert getattr(setting, part) == getattr(RECIPE, part), part
    assert setting.paper is not None
    assert RECIPE.paper is not None
    assert (setting.paper.name, setting.paper.support) == (RECIPE.paper.name, RECIPE.paper.support)
    assert setting_of(AtEnlarger()).model_dump(exclude_none=True) == {}


# ---- the set-up, and another enlarger


def test_another_height_has_the_column_s_magnification_or_none() -> None:
    """A height that is changed alone takes its magnification from the column; unknown, the old one counts no more."""
    known = attic(focal_mm=150, column_offset_mm=55)
    assert with_setup(AS_WRITTEN, known, head_height_mm=882.5).magnification == pytest.approx(4.0, abs=1e-4)
    assert with_setup(AS_WRITTEN, None, head_height_mm=882.5).magnification is None
    assert with_setup(AS_WRITTEN, known, head_height_mm=882.5, focal_mm=80.0).magnification is None
    assert with_setup(AS_WRITTEN, None, aperture=11.0).magnification == 2
    assert with_setup(AS_WRITTEN, known, head_height_mm=300.0, magnification=3.0).magnification == 3
    by_heart = changed(AS_WRITTEN, {"head_height_mm": None, "focal_mm": None})
    assert with_setup(by_heart, None, head_height_mm=620.0, focal_mm=150.0) == AS_WRITTEN
    forgotten = changed(AS_WRITTEN, {"magnification": None})
    assert with_setup(forgotten, known, aperture=11.0).magnification == pytest.approx(2.0)


def test_an_enlarger_that_gets_its_name_stands_as_it_stood() -> None:
    """The first enlarger that is kept is the one that was worked until now: its set-up stays."""
    after = with_enlarger(AS_WRITTEN, "e1", attic(focal_mm=150), ())
    assert after == changed(AS_WRITTEN, {"enlarger": "e1", "enlarger_title": "attic"})


def test_another_enlarger_stands_as_it_stood_last() -> None:
    """A second one has its own set-up: as it was last, or only its own lens where it was never used."""
    here = changed(AS_WRITTEN, {"enlarger": "e1", "enlarger_title": "attic"})
    there = with_enlarger(here, "e2", attic(focal_mm=80), ())
    assert (there.head_height_mm, there.magnification, there.aperture, there.focal_mm) == (None, None, None, 80)
    assert (there.negative_title, there.paper_title) == ("harbour crane", "paper one")
    back = with_enlarger(there, "e1", attic(focal_mm=150), (there, here))
    assert back == here


SMALL = InCarrier(negative="set1:7", title="stones", format="24×36")
AS_SMALL = changed(AS_WRITTEN, {"negative_format": "24x36", "head_height_mm": 480, "magnification": 6, "focal_mm": 50})


def _set_up(bench: AtEnlarger) -> tuple[object, ...]:
    return bench.head_height_mm, bench.magnification, bench.focal_mm, bench.aperture


def test_another_format_has_a_set_up_of_its_own() -> None:
    """It is as it was for that format last, or not known; another negative of the same format changes nothing."""
    other = with_negative(AS_WRITTEN, SMALL, [AS_WRITTEN])
    assert (other.negative, other.negative_title, other.negative_format) == ("set1:7", "stones", "24×36")
    assert _set_up(other) == (None, None, None, 8)
    assert _set_up(with_negative(AS_WRITTEN, SMALL, [AS_WRITTEN, AS_SMALL])) == (480, 6, 50, 8)
    large = InCarrier(title="pier", format="4x5")
    assert _set_up(with_negative(AS_WRITTEN, large, [AS_SMALL])) == _set_up(AS_WRITTEN)
    assert _set_up(with_negative(AS_WRITTEN, InCarrier(title="pier"), [AS_SMALL])) == _set_up(AS_WRITTEN)
    elsewhere = changed(AS_SMALL, {"enlarger": "other"})
    assert _set_up(with_negative(AS_WRITTEN, SMALL, [elsewhere])) == (None, None, None, 8)


def test_an_empty_carrier_does_not_hide_what_lay_there() -> None:
    """A format that was taken out first still counts; not where the enlarger was set up since then."""
    empty = with_negative(AS_WRITTEN, None, [AS_WRITTEN])
    assert empty == changed(AS_WRITTEN, {"negative_title": "", "negative_format": ""})
    assert with_negative(empty, SMALL, [empty, AS_WRITTEN]).head_height_mm is None
    raised = changed(empty, {"head_height_mm": 700, "magnification": None})
    assert with_negative(raised, SMALL, [raised, empty, AS_WRITTEN]).head_height_mm == 700


def test_a_recipe_of_another_format_takes_no_set_up_along() -> None:
    """What it says itself counts before what stood for its format last; of the rest only that is known."""
    written = read_recipe(CRANE, "crane")
    silent = written.model_copy(update={"head_height_mm": None, "magnification": None, "lens": None})
    assert _set_up(taken_from(AS_SMALL, silent, (), "")) == (None, None, None, 8)
    assert _set_up(taken_from(AS_SMALL, silent, (), "", [AS_WRITTEN])) == _set_up(AS_WRITTEN)
    assert _set_up(taken_from(AS_SMALL, written, (), "")) == _set_up(AS_WRITTEN)


def test_what_was_used_is_listed_once_and_last_first() -> None:
    """Papers with their boxes, negatives and set-ups come in the order of the benches, each once."""
    one = AtEnlarger(negative_title="crane", paper_title="p", box="1", head_height_mm=600, enlarger="e1")
    two = AtEnlarger(negative_title="pier", paper_title="p", box="2", aperture=8, enlarger="e2")
    benches = (two, one, two, AtEnlarger())
    assert [each.title for each in negatives_of(benches)] == ["pier", "crane"]
    assert [(each.title, each.box) for each in papers_of(benches)] == [("p", "2"), ("p", "1")]
    assert [each.head_height_mm for each in setups_of(benches, "e1")] == [600]
