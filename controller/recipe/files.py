"""Reads a written file into its model, or refuses it in one sentence with file, key and remedy; and writes it back."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from typing import Any, Final, TypeAlias

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.recipe import foot_trace as feet
from controller.recipe import recipe as recipes
from controller.recipe import strip as strips
from controller.recipe.fields import LARGEST_BYTES, LONGEST_MS, told
from controller.recipe.foot_trace import FEET, FeetTrace
from controller.recipe.recipe import RECIPE, Recipe
from controller.recipe.strip import STRIP, Strip
from controller.words import has, say

Tree = dict[str, Any]
Place = tuple[int | str, ...]
"""Keys and numbers from 0, from the outermost in."""

_MODELS: Final[dict[str, type[Recipe | Strip | FeetTrace]]] = {RECIPE: Recipe, STRIP: Strip, FEET: FeetTrace}
_UPGRADES: Final[dict[str, Callable[[Tree], Tree]]] = {
    RECIPE: recipes.upgrade,
    STRIP: strips.upgrade,
    FEET: feet.upgrade,
}


LineNames: TypeAlias = Callable[[str, int], str]
"""What a page calls a line, by its list's key and its number from 0; empty where it has no name of its own."""


def read_recipe(
    text: str | bytes, name: str, *, longest_ms: int = LONGEST_MS, line_names: LineNames | None = None
) -> Recipe | Strip:
    """Return the recipe or strip that `text` holds, by its `format`; `name` is the file's, for the refusal.

    A refusal says “local 3” as the file has it, or what `line_names` calls that line.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return read_tree(_parse(text, name), name, longest_ms=longest_ms, line_names=line_names)


def read_tree(
    tree: object, name: str, *, longest_ms: int = LONGEST_MS, line_names: LineNames | None = None
) -> Recipe | Strip:
    """Return the recipe or strip in a tree of plain values, as JSON would give it or a page's form fills it.

    Raises:
        Unreadable: as `read_recipe`.
    """
    model = _model(tree, name, (RECIPE, STRIP), longest_ms, line_names or _as_written)
    assert isinstance(model, Recipe | Strip)
    return model


def read_feet(text: str | bytes, name: str) -> FeetTrace:
    """Return the foot trace that `text` holds.

    Raises:
        Unreadable: as `read_recipe`.
    """
    model = _model(_parse(text, name), name, (FEET,), LONGEST_MS, _as_written)
    assert isinstance(model, FeetTrace)
    return model


def write(model: Recipe | Strip | FeetTrace) -> str:
    """Return the file of a model: its keys as they were written, typed values and exact stops, never products."""
    known = model.model_dump(mode="json", exclude_unset=True, exclude_none=not isinstance(model, FeetTrace))
    return json.dumps({"format": model.format} | known, ensure_ascii=False, indent=2) + "\n"


class _Twice:
    """Stands for a key that a file has twice, until its place is known."""


def _parse(text: str | bytes, name: str) -> object:
    try:
        data = text.encode() if isinstance(text, str) else text
        if len(data) > LARGEST_BYTES:
            raise Unreadable(say("recipe.file-too-large", file=name, most=LARGEST_BYTES // 1024))
        return json.loads(
            data.decode("utf-8-sig"),
            parse_float=_decimal,
            parse_int=_decimal,
            parse_constant=_decimal,
            object_pairs_hook=_once,
        )
    except UnicodeError:
        raise Unreadable(say("recipe.file-not-text", file=name)) from None
    except json.JSONDecodeError as error:
        raise Unreadable(say("recipe.file-not-json", file=name, line=error.lineno, column=error.colno)) from None
    except RecursionError:
        raise Unreadable(say("recipe.file-too-deep", file=name)) from None


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        return Decimal("Infinity")


def _once(pairs: list[tuple[str, Any]]) -> Tree:
    tree: Tree = {}
    for key, value in pairs:
        tree[key] = _Twice() if key in tree else value
    return tree


def _model(
    tree: object, name: str, formats: tuple[str, ...], longest_ms: int, line_names: LineNames
) -> Recipe | Strip | FeetTrace:
    if not isinstance(tree, dict):
        raise Unreadable(say("recipe.file-not-object", file=name))
    _check_tree(tree, name, line_names)
    written = tree.get("format")
    if written is None:
        raise Unreadable(say("recipe.format-missing", file=name, formats=_either(formats)), ("format",))
    if not isinstance(written, str) or written not in formats:
        raise Unreadable(_format_refusal(written, name, formats), ("format",))
    tree = _UPGRADES[written](tree)
    try:
        return _MODELS[written].model_validate(tree, context={"longest_ms": longest_ms})
    except ValidationError as error:
        faults = error.errors(include_url=False)
        # A key misspelt makes two faults, one missing and one unknown; the unknown one has the better remedy.
        first = next((fault for fault in faults if fault["type"] == "extra_forbidden"), faults[0])
        place = _stands_at(first)
        raise Unreadable(_sentence(first, place, name, written, line_names), place) from None


def _check_tree(root: Tree, name: str, line_names: LineNames) -> None:
    """Refuse what no key may hold: a key twice, an empty value, half a character."""
    stack: list[tuple[Place, object]] = [((), root)]
    while stack:
        place, value = stack.pop()
        match value:
            case _Twice():
                raise Unreadable(say("recipe.key-twice", file=name, place=_place(place, line_names)), place)
            case None if place != ("filter_in",):
                raise Unreadable(say("recipe.empty", file=name, place=_place(place, line_names)), place)
            case str() if any("\ud800" <= c <= "\udfff" for c in value):
                raise Unreadable(say("recipe.half-character", file=name, place=_place(place, line_names)), place)
            case dict() if any("\ud800" <= c <= "\udfff" for key in value for c in str(key)):
                raise Unreadable(say("recipe.half-character", file=name, place=_place(place, line_names)), place)
            case dict():
                stack.extend(((*place, str(key)), inner) for key, inner in reversed(value.items()))
            case list() | tuple():
                stack.extend(((*place, index), inner) for index, inner in reversed(list(enumerate(value))))


def _format_refusal(written: object, name: str, formats: tuple[str, ...]) -> str:
    if isinstance(written, str) and written in _MODELS:
        other = {RECIPE: "recipe", STRIP: "strip", FEET: "feet"}[written]
        return say(f"recipe.format-other-{other}", file=name)
    family, _, number = shown(written).rpartition("/")
    if any(family == known.rpartition("/")[0] for known in formats) and number.isdecimal():
        return say("recipe.format-newer", file=name, found=shown(written), formats=_either(formats))
    return say("recipe.format-unknown", file=name, found=shown(written), formats=_either(formats))


def _as_written(_key: str, _number: int) -> str:
    return ""


def _place(place: Place, line_names: LineNames) -> str:
    """Return where a value stands, innermost first: “seconds” in light 2."""
    match place:
        case (str() as list_key, int() as line_number, *beyond) if line := line_names(list_key, line_number):
            inner = tuple(beyond)
            return say("recipe.place-in", inner=_place(inner, _as_written), outer=line) if inner else line
    names: list[str] = []
    for before, part in zip((None, *place), place, strict=False):
        if isinstance(part, int) and names:
            names[-1] += f", part {part + 1}" if isinstance(before, int) else f" {part + 1}"
        else:
            names.append(shown(part))
    if not names:
        return say("recipe.place-whole")
    key, number, rest = names.pop().partition(" ") if isinstance(place[-1], int) else (names.pop(), "", "")
    told = f"“{key}”{number}{rest}"
    for outer in reversed(names):
        told = say("recipe.place-in", inner=told, outer=outer)
    return told


def _untagged(loc: Place) -> Place:
    """Drop the tags that pydantic adds to the place of a tagged union."""
    match loc:
        case ("times" | "pace", _, *rest):
            return (loc[0], *rest)
        case ("local", int(), _, *rest):
            return (*loc[:2], *rest)
    return loc


def _stands_at(error: ErrorDetails) -> Place:
    """Return the place of the key that an error is about, for the sentence and for a page that shows it there."""
    place, context = _untagged(error["loc"]), error.get("ctx", {})
    if error["type"] == "union_tag_invalid" or _lacks_its_tag(error):
        return (*place, context["discriminator"].strip("'"))
    return (*place, *context.get("at", ()))


def _lacks_its_tag(error: ErrorDetails) -> bool:
    return error["type"] == "union_tag_not_found" and isinstance(error["input"], Mapping)


def _sentence(error: ErrorDetails, place: Place, name: str, written: str, line_names: LineNames) -> str:
    context: Mapping[str, Any] = error.get("ctx", {})
    said = {"file": name, "place": _place(place, line_names), "found": told(error["input"])}
    match error["type"]:
        case "missing":
            return say("recipe.missing", **said)
        case "extra_forbidden":
            return _unknown_key(place, said, written)
        case "literal_error":
            return say("recipe.one-of", **said, choices=_choices(context["expected"]))
        case "union_tag_invalid":
            said["found"] = told(context["tag"])
            return say("recipe.one-of", **said, choices=_choices(context["expected_tags"]))
        case "union_tag_not_found":
            return say("recipe.missing" if _lacks_its_tag(error) else "recipe.not-an-object", **said)
        case "too_short":
            return say("recipe.too-few", **said, least=context["min_length"])
        case "too_long":
            return say("recipe.too-many", **said, most=context["max_length"])
        case "string_type" | "string_unicode":
            return say("recipe.not-words", **said)
        case "tuple_type" | "list_type":
            return say("recipe.not-a-list", **said)
        case "model_type" | "model_attributes_type" | "dict_type":
            return say("recipe.not-an-object", **said)
        case key if has(key) and key.startswith("recipe."):
            return say(key, **said | {name: value for name, value in context.items() if name != "at"})
    return say("recipe.not-right", **said)


def _unknown_key(place: Place, said: dict[str, str], written: str) -> str:
    key = str(place[-1])
    known = _known_keys(_MODELS[written], place[:-1])
    stem = [other for other in known if other.split("_")[0] == key.split("_")[0]]
    near = get_close_matches(key, known, n=1, cutoff=0.7) or stem[:1]
    if near and near[0] != key:
        return say("recipe.unknown-key-near", **said, near=near[0])
    return say("recipe.unknown-key", **said, format=written)


def _known_keys(root: type[BaseModel], place: Place) -> list[str]:
    """Return the keys that a form has at a place, of every kind that may stand there."""
    whole = root.model_json_schema()
    here = [whole]
    for part in place:
        inner = [_unfolded(node, whole) for node in here]
        here = [
            node["items"] if isinstance(part, int) else node["properties"][part]
            for nodes in inner
            for node in nodes
            if ("items" in node if isinstance(part, int) else part in node.get("properties", {}))
        ]
    keys = [key for node in here for one in _unfolded(node, whole) for key in one.get("properties", {})]
    return list(dict.fromkeys(keys))


def _unfolded(node: Tree, whole: Tree) -> list[Tree]:
    """Return what a node of a JSON schema may stand for, its references and choices followed."""
    if "$ref" in node:
        return _unfolded(whole["$defs"][node["$ref"].rpartition("/")[2]], whole)
    choices = node.get("anyOf") or node.get("oneOf")
    return [one for choice in choices for one in _unfolded(choice, whole)] if choices else [node]


def _choices(expected: str) -> str:
    return expected.replace("'", "").replace(" or ", ", ")


def _either(formats: tuple[str, ...]) -> str:
    return " / ".join(f"“{known}”" for known in formats)
