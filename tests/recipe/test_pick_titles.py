"""What a recipe of picks is called: after what it shows and its sheets; never after only the first of two picks."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.recipe.files import read_recipe
from controller.recipe.pick import Pick
from controller.recipe.pick_titles import next_title, pick_title
from controller.recipe.strip import Strip

STRIP = {
    "format": "treadle/strip/1",
    "title": "soft strip",
    "filter": "soft",
    "times": {"kind": "stops", "centre": 12.0, "step": "1/3", "bands": 7},
    "card": "cover",
    "pace": "press",
}


def strip(name: str) -> Strip:
    found = read_recipe(json.dumps(STRIP | {"negative": {"name": name}}, ensure_ascii=False), "x")
    assert isinstance(found, Strip)
    return found


def pick(filter_name: str, seconds: float = 12.0, kind: str = "base", stops: str = "") -> Pick:
    return Pick.model_validate({"kind": kind, "filter": filter_name, "band": 4, "seconds": seconds, "stops": stops})


def test_two_picks_are_both_named() -> None:
    """Soft from sheet 1, hard from sheet 2: the title says both, and no time, for a verdict changes those."""
    first = pick_title(strip("lighthouse"), pick("soft"), 1)
    assert first == "lighthouse, 12.0 s, soft (sheet 1)"
    both = next_title(first, ["soft", "hard"], pick("hard", 8.0), 2)
    assert both == "lighthouse, soft + hard (sheets 1, 2)"
    assert next_title(both, ["soft", "hard"], pick("hard", 8.3), 3) == "lighthouse, soft + hard (sheets 1, 2, 3)"


def test_a_finer_pick_of_one_filter_is_the_new_one() -> None:
    """With one light the title says the last pick."""
    first = pick_title(strip("lighthouse"), pick("2"), 1)
    assert next_title(first, ["2"], pick("2", 10.6), 4) == "lighthouse, 10.6 s, filter 2 (sheet 4)"


def test_a_verdict_in_between_hides_nothing() -> None:
    """A title whose seconds a verdict has overtaken is a proposed one still."""
    assert (
        next_title("quay, 12.0 s, soft (sheet 3)", ["soft", "hard"], pick("hard"), 9)
        == "quay, soft + hard (sheets 3, 9)"
    )


@pytest.mark.parametrize("title", ["Morning", "lighthouse, soft + hard", "a (sheet 4)", "x, 12.0 s, soft (sheet four)"])
def test_a_title_of_ones_own_stays(title: str) -> None:
    """What the printer called it is never changed."""
    assert next_title(title, ["soft", "hard"], pick("hard"), 2) == title


def test_a_burn_changes_no_title() -> None:
    """A burn adds work and no light."""
    title = "lighthouse, 12.0 s, soft (sheet 1)"
    assert next_title(title, ["soft"], pick("soft", 3.0, "burn", "1/3"), 2) == title


@given(st.text(min_size=1, max_size=300), st.lists(st.integers(1, 10**6), min_size=2, max_size=9))
def test_no_title_is_too_long(name: str, numbers: list[int]) -> None:
    """However long a negative's name and however many picks, the title stays within 200 letters, and a title."""
    given_name = "".join(letter for letter in name if letter.isprintable()).strip()[:200]
    if not given_name:
        return
    title = pick_title(strip("x").model_copy(update={"negative": None, "title": given_name}), pick("soft"), numbers[0])
    for number in numbers[1:]:
        title = next_title(title, ["soft", "hard"], pick("hard"), number)
    assert len(title) <= 200
    assert str(numbers[-1]) in title
