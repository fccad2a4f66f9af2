"""The usual strips: filled in to the last field from what was used last, and compiled without a word more."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from tools.stand_in_desk import CRANE, HARD_STRIP, PROOF_STRIP

from controller.errors import Impossible
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.recipe import FilterTime
from controller.recipe.strip import Strip
from webui.forms.usual_strips import USUAL, LastUsed, last_used_of, usual_strip, usual_strips

ONE_BASE = CRANE.replace(', {"filter": "hard", "seconds": 8.0}', "").replace('"filter": "hard"', '"filter": "soft"')
USED = {
    "nothing": LastUsed(),
    "crane": last_used_of(read_recipe(CRANE, "x")),
    "hard picked": last_used_of(read_recipe(CRANE, "x"), "hard"),
    "one base": last_used_of(read_recipe(ONE_BASE, "x")),
    "hard strip": last_used_of(read_recipe(HARD_STRIP, "x")),
    "proof": last_used_of(read_recipe(PROOF_STRIP, "x")),
    "numbers": LastUsed("By number", (), (("00", Decimal(9)),), "00"),
}


@pytest.mark.parametrize("used", USED)
@pytest.mark.parametrize("which", USUAL)
def test_a_usual_strip_can_be_made_as_it_is(which: str, used: str) -> None:
    """Whatever was used last, and where nothing was: each usual strip is a whole one, and none is advised against."""
    form = usual_strip(which, USED[used])
    strip = read_recipe(form.text(), "x")
    assert isinstance(strip, Strip)
    plan = compile_any(strip, source="x", version=1)
    assert plan.strip is not None
    assert strip.template == USUAL[which]
    assert which != "flash" or len(plan.strip.totals_ms) == 13
    assert "recipe.advice-burn-strip-no-base" not in plan.advice


# The four figures of a strip: its filter, its middle or base, its step, what lies under it. By the definition of each
# template: a first strip has the usual figures whatever is known; the others stand on the bases of what was used last.
@pytest.mark.parametrize(
    ("which", "used", "figures"),
    [
        ("first", "nothing", ("2", "12", "1/3", [])),
        ("first", "crane", ("soft", "12", "1/3", [])),
        ("first", "hard strip", ("soft", "12", "1/3", [])),
        ("first", "proof", ("2", "12", "1/3", [])),
        ("finer", "nothing", ("2", "12", "1/6", [])),
        ("finer", "crane", ("soft", "10.1", "1/6", [])),
        ("finer", "hard picked", ("hard", "8", "1/6", [("soft", "10.1")])),
        ("finer", "hard strip", ("hard", "8", "1/6", [("soft", "10.1")])),
        ("finer", "proof", ("2", "12", "1/6", [])),  # four times 3.0 s, the middle one of seven
        # where no hard time is known, the template begins at two thirds of the soft one
        ("over", "nothing", ("hard", "8", "1/3", [("soft", "12")])),
        ("over", "crane", ("hard", "8", "1/3", [("soft", "10.1")])),
        ("over", "one base", ("hard", "6.7", "1/3", [("soft", "10.1")])),
        ("over", "proof", ("hard", "8", "1/3", [("soft", "12")])),  # the seconds of a 2 are none of a soft filter
        ("over", "numbers", ("5", "6", "1/3", [("00", "9")])),
        # the print's lights lie under the burns in their order; what comes after that filter is given after them
        ("burn", "crane", ("soft", "10.1", "1/3", [("soft", "10.1")])),
        ("burn", "hard picked", ("hard", "8.0", "1/3", [("soft", "10.1"), ("hard", "8.0")])),
    ],
)
def test_a_usual_strip_stands_on_what_was_used_last(
    which: str, used: str, figures: tuple[str, str, str, list[tuple[str, str]]]
) -> None:
    """Filter and seconds that are known are not asked for again; where none are known they are the usual ones."""
    form = usual_strip(which, USED[used])
    under = [(line.filter_name, line.seconds) for line in form.under]
    assert (form.filter_name, form.base if which == "burn" else form.centre, form.fineness, under) == figures
    assert form.kind == ("burn" if which == "burn" else "stops")


def test_the_threshold_of_a_flash_is_found_without_the_negative() -> None:
    """Around a twentieth of the soft base, 0.5 s at f/8, the lens is stopped down; nothing known, it is 4 s (ours)."""
    form = usual_strip("flash", USED["crane"])
    assert (form.template, form.filter_name, form.fineness, form.negative_name) == ("flash", "soft", "1/6", "")
    assert float(form.lens_aperture) > 8.0
    assert float(form.centre) >= 3.5
    assert usual_strip("flash", USED["nothing"]).centre in ("4", "4.0")


def test_strips_lie_over_the_flash_that_was_used_last() -> None:
    """A recipe with a flash has it under each of its strips, but not under the one that finds it."""
    tree = json.loads(ONE_BASE) | {"flash": {"seconds": 0.3, "filter": "soft", "way": "no negative"}}
    last = last_used_of(read_recipe(json.dumps(tree), "x"))
    for which in USUAL:
        strip = read_recipe(usual_strip(which, last).text(), "x")
        assert isinstance(strip, Strip)
        assert (strip.flash is not None) == (which != "flash")
        if strip.flash is not None:
            assert next(step.act for step in compile_any(strip, source="x", version=1).steps) == "flash"


def test_a_button_says_what_its_strip_gives() -> None:
    """Under a usual strip's name stand its figures: 8.0 s in thirds over seven bands is 4.0 to 16.0 s (derived)."""
    small = {usual.which: usual.small for usual in usual_strips(USED["crane"])}
    assert small["over"] == "4.0 to 16.0 s, hard"
    assert small["first"] == "6.0 to 24.0 s, soft"
    assert small["burn"] == "up to +4/3 on 10.1 s, soft"


def test_the_title_is_of_the_negative() -> None:
    """A usual strip's title is the template's, with the negative as far as that is known."""
    assert usual_strip("first", USED["crane"]).title == "First strip, soft: harbour crane"
    assert usual_strip("first", USED["nothing"]).title == "First strip, filter 2"


def test_a_finer_strip_follows_the_one_that_was_picked_from() -> None:
    """Its bands are half as far apart as those, around what was picked without what lay over all of the strip."""
    coarse = read_recipe(HARD_STRIP.replace('"1/3"', '"1/2"'), "x")
    assert isinstance(coarse, Strip)
    form = usual_strip("finer", last_used_of(read_recipe(CRANE, "x"), "hard", coarse))
    assert (form.centre, form.fineness, form.bands) == ("8", "1/6", "7")
    under = coarse.model_copy(update={"under": (*coarse.under, FilterTime(filter="hard", seconds=Decimal(2)))})
    assert usual_strip("finer", last_used_of(read_recipe(CRANE, "x"), "hard", under)).centre == "6"


def test_what_cannot_be_made_is_not_offered() -> None:
    """With a longest light of 10 s no strip around 12 s can be made: none has a button, each is refused."""
    assert [one.which for one in usual_strips(USED["nothing"], 10_000)] == ["flash"]
    assert len(usual_strips(USED["nothing"])) == len(USUAL)
    with pytest.raises(Impossible):
        usual_strip("first", USED["nothing"], 10_000)
