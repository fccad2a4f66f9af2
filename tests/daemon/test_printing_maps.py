"""Printing maps behind the pages: whose outline counts, how a print hangs, and what a version keeps."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.negatives import photograph, tree
from tools.stand_in_desk import StandInDesk, day_desk

from controller.daemon.printing_maps import PrintingMaps
from controller.errors import NotThere
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.files import read_recipe, write
from controller.recipe.outline import Outline, drawn
from controller.recipe.recipe import RECIPE, RECIPE_2

SQUARE = [(0.1, 0.1), (0.5, 0.1), (0.5, 0.5), (0.1, 0.5)]
LOW = [(0.1, 0.6), (0.5, 0.6), (0.5, 0.9), (0.1, 0.9)]


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.keep_pictures_in(tmp_path / "pictures")
        yield made


def maps(desk: StandInDesk) -> PrintingMaps:
    return desk.previews().maps


def area(letter: str, places: list[tuple[float, float]] = SQUARE) -> Outline:
    return drawn(letter, places)


def test_an_old_recipe_becomes_one_of_form_2_and_back(desk: StandInDesk) -> None:
    """With an outline it is written in the second form; rubbed out, its tool stays; the first version is untouched."""
    before = desk.crane.body
    assert json.loads(before)["format"] == RECIPE
    kept = maps(desk).keep(desk.crane.id, [area("A")])
    assert json.loads(kept.body)["format"] == RECIPE_2
    assert json.loads(kept.body)["tools"][0] == {
        "letter": "A",
        "kind": "hole",
        "name": "sky",
        "outline": [[0.1, 0.1], [0.5, 0.1], [0.5, 0.5], [0.1, 0.5]],
    }
    assert desk.recipes().fetch(desk.crane.id, 1).body == before
    assert write(read_recipe(kept.body, "kept")) == kept.body
    light = [[step.planned_ms for step in desk.recipes().plan(desk.crane.id, n).steps] for n in (1, 2)]
    assert light[0] == light[1], "an outline changes no light"
    assert maps(desk).keep(desk.crane.id, [area("A")]).version == kept.version, "the same once more is no version"
    rubbed = maps(desk).rub(desk.crane.id, "A")
    assert "outline" not in json.loads(rubbed.body)["tools"][0]
    with pytest.raises(NotThere):
        maps(desk).keep(desk.crane.id, [area("Q")])


def test_a_tool_keeps_what_is_known_of_it(desk: StandInDesk) -> None:
    """Kind, name and height stay as the printer has them; only the outline is new."""
    written = json.loads(desk.crane.body) | {
        "format": RECIPE_2,
        "tools": [{"letter": "A", "kind": "card", "name": "torn card", "height_mm": 80}],
    }
    kept = desk.recipes().save(json.dumps(written), desk.crane.id)
    (tool,) = json.loads(maps(desk).keep(kept.id, [area("A")]).body)["tools"]
    assert (tool["kind"], tool["name"], tool["height_mm"]) == ("card", "torn card", 80)
    assert len(tool["outline"]) == 4


def test_the_recipes_outline_goes_before_the_negatives(desk: StandInDesk) -> None:
    """Drawn on the negative it counts for every recipe of it, until one has an outline of its own."""
    film = desk.negatives().make(tree())
    desk.negatives().draw(film.id, "2", area("A", LOW))
    desk.show(bench=AtEnlarger(negative=f"{film.id}:2", negative_title="harbour crane"))
    first = maps(desk).of_plan(desk.recipes().plan(desk.crane.id))
    assert first is not None
    assert dict(first.outlines)["A"] == area("A", LOW).places
    maps(desk).keep(desk.crane.id, [area("A"), area("C")])
    second = maps(desk).of_plan(desk.recipes().plan(desk.crane.id, 2))
    assert second is not None
    assert dict(second.outlines) == {"A": area("A").places, "C": area("C").places}
    old = maps(desk).of_plan(desk.recipes().plan(desk.crane.id, 1))
    assert old is not None
    assert dict(old.outlines) == {"A": area("A", LOW).places}, "a version is as it was"
    desk.negatives().rub_area(film.id, "2", "A")
    assert maps(desk).of_plan(desk.recipes().plan(desk.crane.id, 1)) is None, "what changes is seen at once"


def test_a_map_hangs_as_its_print_was_photographed(desk: StandInDesk, tmp_path: Path) -> None:
    """An upright photograph, or corners that are, turn the frame: 192 wide and 240 high."""
    maps(desk).keep(desk.crane.id, [area("A")])
    plan = desk.recipes().plan(desk.crane.id, 2)
    recipe = desk.recipes().recipe(desk.crane.id, 2)
    lying = maps(desk).of_recipe(plan, recipe)
    assert lying is not None
    assert (lying.across, lying.down) == (240, 192)
    desk.work(desk.recipes().fetch(desk.crane.id, 2), "s1")
    (tmp_path / "print.jpg").write_bytes(photograph(900))
    with (tmp_path / "print.jpg").open("rb") as file:
        desk.photographs().of_sheet(desk.record("s1"), file, "print.jpg")
    desk.photographs().fills(desk.record("s1"))
    for which, x in (("top-right", 0.4), ("bottom-right", 0.4)):
        desk.photographs().corner(desk.record("s1"), which, x, 0.0 if which == "top-right" else 1.0)
    upright = maps(desk).of_recipe(plan, recipe)
    assert upright is not None
    assert (upright.across, upright.down) == (192, 240)


def test_a_strip_and_a_plain_recipe_have_no_map(desk: StandInDesk) -> None:
    """Nothing is worked on, so there is nothing to show, and nothing is looked up."""
    assert maps(desk).of_plan(desk.recipes().plan(desk.strip.id)) is None
    assert maps(desk).of_plan(desk.recipes().plan(desk.crane.id)) is None
