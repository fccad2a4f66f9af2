"""Hundreds of malformed recipes, strips and traces, made from good ones by one fault each."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from tools.written_files import Tree, text_of, tree_of

from controller.errors import Unreadable
from controller.recipe.files import read_feet, read_recipe

Place = tuple[str | int, ...]

SOURCES = [
    "everything.recipe.json",
    "crane.recipe.json",
    "two-negatives.recipe.json",
    "everything.strip.json",
    "sky.strip.json",
    "proof.strip.json",
    "everything.feet.json",
]
OPTIONAL = {
    *("negative", "paper", "image_mm", "magnification", "lens", "head_height_mm", "filters", "developer"),
    *("dry_down_percent", "flash", "notes", "what", "how", "under", "after", "filter_in", "acts", "lid"),
    *("soft", "hard", "focal_mm", "aperture", "dilution", "celsius", "support", "size", "template", "opal"),
    *("tools", "height_mm", "outline", "hands", "carrier", "keep_order"),
}
OPTIONAL_INSIDE = {
    ("flash", "beforehand"),
    ("paper", "name"),
    ("negative", "format"),
    ("flash", "filter"),
    ("developer", "seconds"),
}
NO_FAULT = {
    ("filter_in", "null"),  # the filter is not known
    ("stops", "text"),  # 1 and "1" are both stops
    ("pace", "object"),  # may be a rhythm; its keys are looked at in test_reading
}
ENDLESS, NOT_A_NUMBER = float("inf"), float("nan")


def _leaves(node: Any, place: Place = ()) -> Iterator[tuple[Place, Any]]:
    yield place, node
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in inner:
        yield from _leaves(value, (*place, key))


def _changed(tree: Tree, place: Place, value: object) -> str:
    tree = copy.deepcopy(tree)
    node: Any = tree
    for part in place[:-1]:
        node = node[part]
    if value is ...:
        del node[place[-1]]
    else:
        node[place[-1]] = value
    return json.dumps(tree)


def _key(place: Place) -> str:
    """Return the key that a refusal must name: the last name on the way to the value."""
    return next(str(part) for part in reversed(place) if isinstance(part, str))


def _required(place: Place) -> bool:
    if (place[0], place[-1]) == ("local", "words"):
        return False
    return isinstance(place[-1], str) and place[-1] not in OPTIONAL and place[-2:] not in OPTIONAL_INSIDE


def _faults(value: object) -> dict[str, object]:
    """Return wrong values for a place that holds `value`, by what is wrong with them."""
    match value:
        case bool() | None:
            return {"list": [1], "object": {"x": 1}}
        case int() | float():
            numbers = {"negative": -1, "endless": ENDLESS, "not a number": NOT_A_NUMBER, "huge": 1e12}
            return numbers | {
                "with unit": f"{value} s",
                "text": str(value),
                "true": True,
                "null": None,
                "list": [value],
            }
        case str():
            return {"number": 5.5, "list": [value], "null": None, "control": f"{value}\x00", "object": {"x": value}}
        case list():
            return {"number": 3, "words": "x", "null": None, "object": {}}
        case dict():
            return {"number": 3, "words": "x", "null": None, "list": [value]}
    raise AssertionError(value)


def _doubled(name: str) -> Iterator[tuple[str, str]]:
    """Return the file's text with one of its top keys there twice."""
    text = text_of(name).strip()
    for key, value in tree_of(name).items():
        yield key, f'{text[:-1]}, "{key}": {json.dumps(value)}}}'


def _cases() -> Iterator[Any]:
    for name in SOURCES:
        tree = tree_of(name)
        for place, value in _leaves(tree):
            where = "/".join(map(str, place))
            if isinstance(value, dict):
                new = (*place, "exposure")
                yield pytest.param(name, _changed(tree, new, 3), "exposure", id=f"{name}: {where}: unknown key")
            if not place:
                continue
            if _required(place):
                yield pytest.param(name, _changed(tree, place, ...), _key(place), id=f"{name}: {where}: missing")
            for fault, wrong in _faults(value).items():
                if (place[-1], fault) in NO_FAULT:
                    continue
                text = _changed(tree, place, wrong)
                yield pytest.param(name, text, _key(place), id=f"{name}: {where}: {fault}")
        for key, text in _doubled(name):
            yield pytest.param(name, text, key, id=f"{name}: {key}: twice")


CASES = list(_cases())


def test_there_are_hundreds_of_them() -> None:
    """The faults are many: at least a hundred each for recipes and strips."""
    assert sum("recipe" in case.values[0] for case in CASES) >= 100
    assert sum("strip" in case.values[0] for case in CASES) >= 100


@pytest.mark.parametrize(("name", "text", "key"), CASES)
def test_one_fault_is_refused_in_one_sentence_with_its_key(name: str, text: str, key: str) -> None:
    """A file with one fault is refused in one sentence that names the file, the key and what to do."""
    with pytest.raises(Unreadable) as refused:
        (read_feet if "feet" in name else read_recipe)(text, name)
    sentence = str(refused.value)
    assert sentence.startswith(f"{name}: ")
    assert f"“{key}”" in sentence
    assert re.search(r"\b(so|must)\b", sentence), "no remedy"
    assert sentence.endswith(".")
    assert not re.search(r"[.!?] +[A-Z]", sentence), "more than one sentence"
    assert sentence.isprintable()
