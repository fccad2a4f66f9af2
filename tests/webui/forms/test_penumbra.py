"""The sentence about a tool's edge: figures where all is known, and what is lacking where it is not."""

from __future__ import annotations

import pytest
from tools.written_files import recipe_from

from controller.recipe.at_enlarger import AtEnlarger
from controller.words import say
from webui.forms.penumbra import edge_words, tools_said


def test_the_figures_are_those_of_the_half_shadow() -> None:
    """150 mm at f/8 and magnification 2, 50 mm up: 18.75 · 50/400 = 2.3 mm, and 400/450 = 89 % of the outline."""
    assert edge_words(50, 150, 8, 2) == say("shelf.penumbra", blur="2.3", share=89)
    assert edge_words(0, 150, 8, 2) == say("shelf.penumbra-lies")
    assert edge_words(None, 150, 8, 2) == ""
    assert edge_words(450, 150, 8, 2) == say("reckoning.tool-over-lens", height="450", away=450)


@pytest.mark.parametrize("known", [(None, 8, 2), (150, None, 2), (150, 8, None)])
def test_what_is_not_known_is_said(known: tuple[float | None, float | None, float | None]) -> None:
    """No figure is made up."""
    assert edge_words(50, *known) == say("shelf.penumbra-unknown")


def test_the_enlarger_says_what_the_recipe_does_not() -> None:
    """A recipe's own lens goes first; a tool of no height has no line."""
    tools = [
        {"letter": "M", "kind": "mask", "name": "sky mask", "height_mm": 50},
        {"letter": "C", "kind": "hole", "name": "C", "height_mm": 100},
        {"letter": "D", "kind": "dodger", "name": "wire"},
    ]
    bare = recipe_from(format="treadle/recipe/2", tools=tools, lens={"aperture": 8})
    assert [line.endswith(say("shelf.penumbra-unknown")) for line in tools_said(bare)] == [True, True]
    stands = AtEnlarger(focal_mm=150, aperture=4, magnification=2)
    first, second = tools_said(bare, stands)
    assert first == say("shelf.penumbra-line", tool="M sky mask", height="50", edge=edge_words(50, 150, 8, 2))
    assert second.startswith("C, 100 mm")
