"""Reading: refusals in one sentence with file, key and remedy, for each kind of fault."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.written_files import Tree, text_of, tree_of

from controller.errors import ControllerError, Unreadable
from controller.recipe.files import read_feet, read_recipe, read_tree


def _refusal(text: str | bytes) -> str:
    with pytest.raises(Unreadable) as refused:
        read_recipe(text, "crane.json")
    return str(refused.value)


def _recipe_with(path: tuple[str | int, ...], value: object) -> str:
    tree = tree_of("crane.recipe.json")
    node: Any = tree
    for part in path[:-1]:
        node = node[part]
    node[path[-1]] = value
    return json.dumps(tree)


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (
            ("light", 0, "seconds"),
            -3,
            "crane.json: “seconds” in light 1 is -3, and must lie between 0.1 and 600 (seconds).",
        ),
        (
            ("light", 1, "seconds"),
            "8 s",
            "crane.json: “seconds” in light 2 is “8 s”, and must be a plain number without unit or quotes.",
        ),
        (
            ("light", 1, "seconds"),
            8.0001,
            "crane.json: “seconds” in light 2 is 8.0001, finer than is kept, so write at most 3 digits after the point "
            "(seconds).",
        ),
        (("paper", "support"), "PE", "crane.json: “support” in paper is “PE”, and must be one of: RC, FB."),
        (
            ("local", 0, "act"),
            "mask",
            "crane.json: “act” in local 1 is “mask”, and must be one of: burn, dodge, edge burn.",
        ),
        (
            ("head_height_cm",),
            62,
            "crane.json: “head_height_cm” is not known there, so take it out or write “head_height_mm” "
            "if that is meant.",
        ),
        (("colour",), "red", "crane.json: “colour” is no key of treadle/recipe/1, so take it out."),
        (("local", 0, "how"), "running", "crane.json: “how” in local 1 is no key of treadle/recipe/1, so take it out."),
        (
            ("local", 0, "filter"),
            "2",
            "crane.json: “filter” in local 1 is “2”, which has no base for a dodge or stops to be calculated from, "
            "so use one of soft, hard, or a burn in seconds.",
        ),
        (
            ("local", 0, "seconds"),
            4,
            "crane.json: “stops” in local 1 and “seconds” go one without the other, so give exactly one of them.",
        ),
        (
            ("light", 1, "filter"),
            "soft",
            "crane.json: “filter” in light 2 is “soft” again, so give each filter one base with its whole time.",
        ),
        (("image_mm",), [192, 240], "crane.json: “image_mm” is 192 × 240, so write the longer side first."),
        (("notes",), None, "crane.json: “notes” is empty (null), so give it a value or take the key out."),
    ],
)
def test_a_refusal_says_file_key_and_remedy(path: tuple[str | int, ...], value: object, sentence: str) -> None:
    """Each kind of fault has its own sentence, with the file, the key and what to do."""
    assert _refusal(_recipe_with(path, value)) == sentence


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        (("light", 1, "seconds"), -3, ("light", 1, "seconds")),
        (("light", 1, "filter"), "soft", ("light", 1, "filter")),
        (("local", 0, "act"), "mask", ("local", 0, "act")),
        (("local", 2, "filter"), "2", ("local", 2, "filter")),
        (("local", 0, "seconds"), 4, ("local", 0, "stops")),
        (("local", 1, "stops"), "x", ("local", 1, "stops")),
        (("paper", "support"), "PE", ("paper", "support")),
        (("image_mm",), [192, 240], ("image_mm",)),
        (("notes",), None, ("notes",)),
        (("format",), "x", ("format",)),
    ],
)
def test_a_refusal_knows_its_place(path: tuple[str | int, ...], value: object, place: tuple[str | int, ...]) -> None:
    """A refusal carries the place it is about, so that a page can show it beside the field."""
    with pytest.raises(Unreadable) as refused:
        read_recipe(_recipe_with(path, value), "crane.json")
    assert refused.value.place == place


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1, column 1 is not JSON"),
        ('{"format": "treadle/recipe/1",\n "title" 3}', "line 2, column 10 is not JSON"),
        ("[]", "must be one object"),
        ("null", "must be one object"),
        (b"\xff\xfe\x00", "not UTF-8"),
        ("[" * 100_000, "nested too deep"),
        (" " * 262_145, "larger than 256 kB"),
        ('{"title": "x"}', "“format” is missing"),
        ('{"format": "treadle/recipe/3"}', "“format” is “treadle/recipe/3”, of a newer Treadle"),
        ('{"format": "treadle/reci/1"}', "“format” is “treadle/reci/1”, and must be"),
        ('{"format": ["treadle/recipe/1"]}', "“format” is"),
        ('{"format": "treadle/feet/1"}', "give it to replay with --feet"),
        ('{"format": "treadle/recipe/1", "title": "\\ud800"}', "“title” holds half a character"),
        ('{"format": "treadle/recipe/1", "\\ud800": 1}', "half a character"),
        (
            '{"format": "treadle/recipe/1", "light": [{"filter": "2", "seconds": 3, "seconds": 4}]}',
            "“seconds” in light 1 is there twice",
        ),
        ('{"format": "treadle/recipe/1", "format": "treadle/strip/1"}', "“format” is there twice"),
        (text_of("proof.recipe.json").replace("12.0", "NaN"), "“seconds” in light 1 is “NaN”"),
        (text_of("proof.recipe.json").replace("12.0", "-Infinity"), "“seconds” in light 1 is “-Infinity”"),
        ('{"format": "treadle/recipe/1", "titel": "x"}', "write “title” if that is meant"),
        (
            '{"format": "treadle/recipe/1", "light": [' + "1," * 120_000 + "1]}",
            "things in it are not as Treadle writes them",
        ),
    ],
)
def test_a_broken_file_is_refused_as_a_whole(text: str | bytes, said: str) -> None:
    """What is no recipe or strip at all is refused in a sentence that begins with the file."""
    refusal = _refusal(text)
    assert refusal.startswith("crane.json: ")
    assert said in refusal
    assert refusal.endswith(".")


@pytest.mark.parametrize(
    ("pace", "said"),
    [
        ({}, "“kind” in pace is missing"),
        ({"kind": "rhythm"}, "“gap_seconds” in pace is missing"),
        ({"kind": "waltz", "gap_seconds": 4}, "“kind” in pace is “waltz”, and must be one of: rhythm."),
        ({"kind": "rhythm", "gap_seconds": 1.4}, "“gap_seconds” in pace is 1.4, and must lie between 1.5 and 60"),
        ({"kind": "rhythm", "gap_seconds": 4, "bars": 2}, "“bars” in pace is no key"),
        ({"kind": "rhythm", "gap": 4}, "“gap” in pace is not known there, so take it out or write “gap_seconds”"),
    ],
)
def test_a_rhythm_is_refused_by_its_own_keys(pace: Tree, said: str) -> None:
    """A pace that is no word is read as a rhythm, and refused by the rhythm's keys."""
    assert said in _refusal(json.dumps(tree_of("proof.strip.json") | {"pace": pace}))


@pytest.mark.parametrize("number", ["1e999999999999999999999", "9" * 5000, "1e-999999999", "-1e999999999"])
def test_a_monstrous_number_is_refused_at_once(number: str) -> None:
    """A number too great or too fine to be reckoned with is refused by its key."""
    text = text_of("crane.recipe.json").replace('"magnification": 2.0', f'"magnification": {number}')
    assert "“magnification”" in _refusal(text)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"edges": [[0, "up"]]}, "“edges” begins with an “up”"),
        ({"edges": [[0, "down"], [0, "up"]]}, "“edges” is not in order at entry 2, where 0 follows 0"),
        ({"edges": [[9, "down"], [5, "up"]]}, "“edges” is not in order at entry 2, where 5 follows 9"),
        ({"edges": [[0, "down"], [5, "down"]]}, "“edges” has “down” twice running at entry 2"),
        ({"edges": [[0.5, "down"]]}, "“edges” 1, part 1 is 0.5"),
        ({"edges": [[-1, "down"]]}, "“edges” 1, part 1 is -1"),
        ({"edges": [[0, "press"]]}, "“edges” 1, part 2 is “press”"),
        ({"edges": [[0]]}, "“edges” 1"),
        ({"edges": [[0, "down", 3]]}, "“edges” 1"),
        ({"edges": None}, "“edges” is empty"),
        ({"edges": {}}, "“edges” is an object"),
        ({"filter_in": 3}, "“filter_in” is 3"),
        ({"filter_in": "both"}, "“filter_in” is “both”"),
        ({"acts": [[5, "start"]]}, "“acts” 1, part 2 is “start”"),
        ({"acts": [[5, "stop"], [5, "stop"]]}, "“acts” is not in order"),
        ({"lid": [[5, "open"], [6, "open"]]}, "“lid” has “open” twice running"),
        ({"presses": []}, "“presses” is no key of treadle/feet/1"),
        ({"format": "treadle/strip/1"}, "this is a strip"),
    ],
)
def test_a_broken_trace_is_refused_by_its_key(changes: Tree, said: str) -> None:
    """A foot trace out of order, or with anything it does not know, is refused by its key."""
    with pytest.raises(Unreadable) as refused:
        read_feet(json.dumps(tree_of("proof.feet.json") | changes), "proof.feet.json")
    assert said in str(refused.value)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=200)
@given(st.data())
def test_whatever_stands_in_a_file_it_is_read_or_refused(data: st.DataObject) -> None:
    """Any value in any place is either read or refused in a sentence; nothing else happens."""
    tree = tree_of(
        data.draw(st.sampled_from(["everything.recipe.json", "two-negatives.recipe.json", "everything.strip.json"]))
    )
    key = data.draw(st.sampled_from([*tree, "title", "new"]))
    tree[key] = data.draw(JSON)
    said = _refusal_or_none(tree)
    assert said is None or (said.startswith("made up: ") and said.endswith("."))


def _refusal_or_none(tree: Tree) -> str | None:
    try:
        read_tree(tree, "made up")
        read_recipe(json.dumps(tree), "made up")
    except ControllerError as refused:
        return str(refused)
    return None


@given(st.binary(max_size=200) | st.text(max_size=200))
def test_whatever_a_file_is_it_is_refused_in_a_sentence(text: bytes | str) -> None:
    """Bytes that are no recipe are refused in a sentence, and nothing else happens."""
    with pytest.raises(Unreadable, match=r"^made up: .*\.$"):
        read_recipe(text, "made up")
