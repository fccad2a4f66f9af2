"""Every page of the day face is refused while a sheet is open: told from the app's own map and the templates."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

import pytest
from flask import Flask
from jinja2 import nodes
from tools.stand_in_desk import StandInDesk

import webui
from webui.app import create_app
from webui.frame.guard import needs_day, waits_for_day

TEMPLATES = sorted(path.name for path in Path(webui.__file__).parent.glob("templates/*.html"))
REFUSAL = "no_day.html"
"""What is shown in place of a page of the day face."""
SEEN_IN_THE_DARK = {"pages.sheets", "record.record"}
"""The records: shown while a sheet is open too, in the dark face's red on black; nothing is typed there."""


@pytest.fixture
def app(practice_desk: StandInDesk) -> Flask:
    """The app with all of its pages, those of the practice darkroom among them."""
    return create_app(practice_desk, hosts=["localhost"])


def test_every_view_of_the_day_face_needs_day(app: Flask) -> None:
    """A view that renders `day.html`, or what extends it, needs day; a post alone may keep what was typed instead."""
    unmarked = {end for end, view in app.view_functions.items() if _day_pages(app, view) and not _is(needs_day, view)}
    typed = {end for end in unmarked if _is(waits_for_day, app.view_functions[end])}
    assert unmarked - typed == SEEN_IN_THE_DARK
    assert not [rule.rule for rule in app.url_map.iter_rules() if rule.endpoint in typed and "GET" in rule.methods]


def test_the_look_at_the_map_finds_them_all(app: Flask) -> None:
    """No page of the day face escapes the look at the map: each is some view's, a helper's pages among them."""
    views = app.view_functions
    found = {page for view in views.values() for page in _day_pages(app, view)}
    assert found == {name for name in TEMPLATES if _is_of_the_day(app, name)} - {"day.html", "shelf_form.html"}
    assert {"recipe.html", "strip.html"} <= _day_pages(app, views["shelf.edit"])
    assert _day_pages(app, views["pairing.phones"]) == {"phones.html"}
    assert not _is(needs_day, inspect.unwrap(views["pairing.phones"]))
    assert not _day_pages(app, views["pages.now_part"])


def _is(mark: Callable[..., Any], view: Callable[..., Any]) -> bool:
    return view.__code__ is mark(lambda: "").__code__


def _day_pages(app: Flask, view: Callable[..., Any]) -> set[str]:
    """Return the templates of the day face whose names a view, or a function of the pages that it names, speaks of."""
    spoken = set(_spoken(inspect.unwrap(view), set()))
    return {name for name in spoken - {REFUSAL} if _is_of_the_day(app, name)}


@cache
def _is_of_the_day(app: Flask, name: str) -> bool:
    if name == "day.html":
        return True
    tree = app.jinja_env.parse((Path(webui.__file__).parent / "templates" / name).read_text("utf-8"))
    parents = [each.template for each in tree.find_all(nodes.Extends)]
    return any(isinstance(each, nodes.Const) and _is_of_the_day(app, each.value) for each in parents)


def _spoken(what: object, seen: set[int]) -> Iterator[str]:
    if id(what) in seen:
        return
    seen.add(id(what))
    if isinstance(what, str) and what.endswith(".html") and " " not in what:
        # An ending alone is that of a recipe's or a strip's form.
        yield from ("recipe.html", "strip.html") if what == ".html" else (what,)
    elif isinstance(what, dict):
        for each in (*what, *what.values()):
            yield from _spoken(each, seen)
    elif isinstance(what, tuple | list | frozenset):
        for each in what:
            yield from _spoken(each, seen)
    elif isinstance(what, FunctionType) and what.__module__.startswith("webui."):
        for name in _names(what.__code__):
            found = what.__globals__.get(name)
            if not isinstance(found, ModuleType | type):
                yield from _spoken(found, seen)
        for code in _codes(what.__code__):
            yield from _spoken(code.co_consts, seen)


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield from _codes(each)


def _names(code: CodeType) -> set[str]:
    return {name for each in _codes(code) for name in each.co_names}
