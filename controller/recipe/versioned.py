"""Reads a file with its format's name into its model, or refuses it in one sentence with file, key and remedy."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from typing import Any, Final, Generic, TypeAlias, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from controller.errors import Impossible, Unreadable
from controller.exposure.stops import shown
from controller.recipe.fields import LARGEST_BYTES, told
from controller.recipe.model_schema import Place, Tree, known_keys, limits
from controller.words import has, say

PlaceNames: TypeAlias = Callable[[Place], str]
"""What a page calls the place of a value, by keys and numbers from 0; empty where it has no name of its own."""
M = TypeVar("M", bound=BaseModel)
MOST_SENTENCES: Final = 8
"""Of one refusal, where each thing that is wrong has its own."""
MOST_FAULTS: Final = 1000
"""A file with more is another one: to tell what each is would hold up everything else."""
MOST_DIGITS: Final = 400
"""A whole number of more is endless: no value of any form is near it."""


@dataclass(frozen=True)
class VersionedForm(Generic[M]):
    """One form of file: the name it begins with, its model, and what brings an older tree of its family up to it."""

    format: str
    model: type[M]
    upgrade: Callable[[Tree], Tree] = dict
    typed: bool = False
    """Numbers are kept as they were typed, as decimals; nothing may be null but `nulls`."""
    nulls: tuple[Place, ...] = ()
    every: bool = False
    """A refusal names each thing that is wrong, not the first alone."""


def read(
    text: str | bytes,
    name: str,
    *forms: VersionedForm[M],
    context: Mapping[str, object] | None = None,
    place_names: PlaceNames | None = None,
) -> M:
    """Return what a file holds that is in one of `forms`; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return read_tree(parse(text, name, typed=forms[0].typed), name, *forms, context=context, place_names=place_names)


def read_tree(
    tree: object,
    name: str,
    *forms: VersionedForm[M],
    context: Mapping[str, object] | None = None,
    place_names: PlaceNames | None = None,
) -> M:
    """Return what a tree of plain values holds, as JSON would give it or a page's form fills it.

    A refusal says “local 3” as the file has it, or what `place_names` calls that place.

    Raises:
        Unreadable: as `read`.
    """
    called = place_names or _as_written
    if not isinstance(tree, dict):
        raise Unreadable(say("recipe.file-not-object", file=name))
    _check_tree(tree, name, forms[0], called)
    written = tree.get("format")
    if written is None:
        raise Unreadable(say("recipe.format-missing", file=name, formats=_either(forms)), ("format",))
    form = next((form for form in forms if form.format == written), None)
    if form is None:
        raise Unreadable(_format_refusal(written, name, forms), ("format",))
    tree = form.upgrade(tree)
    if "format" not in form.model.model_fields:
        tree = {key: value for key, value in tree.items() if key != "format"}
    return checked(tree, name, form, context=context, place_names=place_names)


def checked(
    tree: Tree,
    name: str,
    form: VersionedForm[M],
    *,
    context: Mapping[str, object] | None = None,
    place_names: PlaceNames | None = None,
) -> M:
    """Return the model of a tree whose form is known.

    Raises:
        Unreadable: as `read`.
    """
    try:
        return form.model.model_validate(tree, context=dict(context or {}))
    except ValidationError as error:
        if (count := error.error_count()) > MOST_FAULTS:
            raise Unreadable(say("recipe.file-faults", file=name, count=count)) from None
        faults = error.errors(include_url=False)
        # A key misspelt makes two faults, one missing and one unknown; the unknown one has the better remedy.
        first = next((fault for fault in faults if fault["type"] == "extra_forbidden"), faults[0])
        told_of = faults[:MOST_SENTENCES] if form.every else [first]
        said = " ".join(
            dict.fromkeys(_sentence(one, _stands_at(one), name, form, place_names or _as_written) for one in told_of)
        )
        raise Unreadable(said, _stands_at(first)) from None


@contextmanager
def in_file(name: str) -> Iterator[None]:
    """Let what cannot be made of a file be refused with its name, and with its key where it is about one."""
    try:
        yield
    except Impossible as error:
        if not error.place:
            raise Impossible(say("recipe.value-wrong", file=name, problem=error)) from None
        place = _place(error.place, _as_written)
        raise Impossible(say("recipe.cannot-be-made", file=name, place=place, problem=error), error.place) from None


def format_of(text: str | bytes, name: str) -> str:
    """Return the format that a file says it is in.

    Raises:
        Unreadable: it is no such file, or says none.
    """
    tree = parse(text, name)
    if not isinstance(tree, dict):
        raise Unreadable(say("recipe.file-not-object", file=name))
    return shown(tree.get("format", ""))


def family(format_name: str) -> str:
    """Return a format's name without its number: `treadle/recipe` of `treadle/recipe/1`."""
    return format_name.rpartition("/")[0]


def words_under(keys: Collection[str], text: str) -> Iterator[str]:
    """Give the words that stand under some keys of a file, wherever they are; nothing of a file that is none."""
    try:
        stack = [json.loads(text)]
    except (ValueError, RecursionError):
        return
    while stack:
        match stack.pop():
            case dict() as tree:
                yield from (value for key, value in tree.items() if key in keys and isinstance(value, str))
                stack.extend(tree.values())
            case list() as entries:
                stack.extend(entries)


class _Twice:
    """Stands for a key that a file has twice, until its place is known."""


def parse(text: str | bytes, name: str, *, typed: bool = False) -> object:
    """Return the tree of a file's JSON, a key that is there twice marked as such.

    Raises:
        Unreadable: too large, no text, no JSON, or nested without end.
    """
    try:
        data = text.encode() if isinstance(text, str) else text
        if len(data) > LARGEST_BYTES:
            raise Unreadable(say("recipe.file-too-large", file=name, most=LARGEST_BYTES // 1024))
        decoded = data.decode("utf-8-sig")
        if typed:
            return json.loads(
                decoded, parse_float=_decimal, parse_int=_decimal, parse_constant=_decimal, object_pairs_hook=_once
            )
        return json.loads(decoded, parse_int=_whole, object_pairs_hook=_once)
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


def _whole(text: str) -> int | float:
    return int(text) if len(text) <= MOST_DIGITS else float("inf")


def _once(pairs: list[tuple[str, Any]]) -> Tree:
    tree: Tree = {}
    for key, value in pairs:
        tree[key] = _Twice() if key in tree else value
    return tree


def _check_tree(root: Tree, name: str, form: VersionedForm[M], place_names: PlaceNames) -> None:
    """Refuse what no key may hold: a key twice, an empty value, half a character."""
    stack: list[tuple[Place, object]] = [((), root)]
    while stack:
        place, value = stack.pop()
        match value:
            case _Twice():
                raise Unreadable(say("recipe.key-twice", file=name, place=_place(place, place_names)), place)
            case None if form.typed and place not in form.nulls:
                raise Unreadable(say("recipe.empty", file=name, place=_place(place, place_names)), place)
            case str() if any("\ud800" <= c <= "\udfff" for c in value):
                raise Unreadable(say("recipe.half-character", file=name, place=_place(place, place_names)), place)
            case dict() if any("\ud800" <= c <= "\udfff" for key in value for c in str(key)):
                raise Unreadable(say("recipe.half-character", file=name, place=_place(place, place_names)), place)
            case dict():
                stack.extend(((*place, str(key)), inner) for key, inner in reversed(value.items()))
            case list() | tuple():
                stack.extend(((*place, index), inner) for index, inner in reversed(list(enumerate(value))))


def _format_refusal(written: object, name: str, forms: Sequence[VersionedForm[M]]) -> str:
    said = shown(written)
    if family(said) in {family(form.format) for form in forms}:
        if said.rpartition("/")[2].isdecimal():
            return say("recipe.format-newer", file=name, found=said, formats=_either(forms))
    elif has(other := f"recipe.format-other-{family(said).removeprefix('treadle/')}"):
        return say(other, file=name)
    return say("recipe.format-unknown", file=name, found=said, formats=_either(forms))


def _as_written(_place: Place) -> str:
    return ""


def _place(place: Place, place_names: PlaceNames) -> str:
    """Return where a value stands, innermost first: “seconds” in light 2."""
    if called_there := place_names(place):
        return called_there
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


def _sentence(error: ErrorDetails, place: Place, name: str, form: VersionedForm[M], place_names: PlaceNames) -> str:
    context: Mapping[str, Any] = error.get("ctx", {})
    said = {"file": name, "place": _place(place, place_names), "found": told(error["input"])}
    match error["type"]:
        case "missing":
            return say("recipe.missing", **said)
        case "extra_forbidden":
            return _unknown_key(place, said, form)
        case "literal_error":
            return say("recipe.one-of", **said, choices=_choices(context["expected"]))
        case "float_type" | "float_parsing" | "int_type" | "int_parsing" | "int_from_float" | "finite_number":
            return say("recipe.not-a-number", **said)
        case "bool_type" | "bool_parsing":
            return say("recipe.one-of", **said, choices="true, false")
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
        case "value_error":
            return say("recipe.value-wrong", file=name, problem=context["error"])
        case key if has(key):
            return say(key, **said | {name: value for name, value in context.items() if name != "at"})
    if bounds := " ".join(limits(form.model, place)):
        return say("recipe.out-of-limits", **said, limits=bounds)
    return say("recipe.not-right", **said)


def _unknown_key(place: Place, said: dict[str, str], form: VersionedForm[M]) -> str:
    key = str(place[-1])
    known = known_keys(form.model, place[:-1])
    stem = [other for other in known if other.split("_")[0] == key.split("_")[0]]
    near = get_close_matches(key, known, n=1, cutoff=0.7) or stem[:1]
    if near and near[0] != key:
        return say("recipe.unknown-key-near", **said, near=near[0])
    return say("recipe.unknown-key", **said, format=form.format)


def _choices(expected: str) -> str:
    return expected.replace("'", "").replace(" or ", ", ")


def _either(forms: Sequence[VersionedForm[M]]) -> str:
    return " / ".join(f"“{form.format}”" for form in forms)
