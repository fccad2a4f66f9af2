"""What a model's JSON schema says of one place in a file: the keys it may have, and the limits of its value."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeAlias

from pydantic import BaseModel

from controller.words import say

Tree: TypeAlias = dict[str, Any]
Place: TypeAlias = tuple[int | str, ...]
"""Keys and numbers from 0, from the outermost in."""


def limits(model: type[BaseModel], place: Place) -> Iterator[str]:
    """Give what a number, or the length of words, must be at a place: “from 0.8 to 1.5”, “more than 0”."""
    for node in _nodes(model, place):
        least, most = node.get("minimum"), node.get("maximum")
        if least is not None and most is not None:
            yield say("recipe.limit-range", least=f"{least:g}", most=f"{most:g}")
        elif least is not None:
            yield say("recipe.limit-least", least=f"{least:g}")
        elif (over := node.get("exclusiveMinimum")) is not None:
            yield say("recipe.limit-over", over=f"{over:g}")
            if most is not None:
                yield say("recipe.limit-most", most=f"{most:g}")
        elif (length := node.get("maxLength")) is not None:
            yield say("recipe.limit-words", least=node.get("minLength", 0), most=length)


def known_keys(model: type[BaseModel], place: Place) -> list[str]:
    """Return the keys that may stand at a place, of every kind of thing that may be there."""
    return list(dict.fromkeys(key for node in _nodes(model, place) for key in node.get("properties", {})))


def _nodes(root: type[BaseModel], place: Place) -> list[Tree]:
    """Return what a model's JSON schema says of a place, of every kind that may stand there."""
    whole = root.model_json_schema()
    here = _unfolded(whole, whole)
    for part in place:
        inner = [node.get("items") if isinstance(part, int) else node.get("properties", {}).get(part) for node in here]
        here = [one for node in inner if node for one in _unfolded(node, whole)]
    return here


def _unfolded(node: Tree, whole: Tree) -> list[Tree]:
    """Return what a node of a JSON schema may stand for, its references and choices followed."""
    if "$ref" in node:
        return _unfolded(whole["$defs"][node["$ref"].rpartition("/")[2]], whole)
    choices = node.get("anyOf") or node.get("oneOf")
    return [one for choice in choices for one in _unfolded(choice, whole)] if choices else [node]
