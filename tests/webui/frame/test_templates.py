"""The templates hold no words of their own: everything a person reads comes from the catalogue."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask

import webui

FOLDER = Path(webui.__file__).parent
TEMPLATES = sorted((FOLDER / "templates").glob("*.html"))
SCRIPTS = sorted((FOLDER / "static").glob("*.js"))


UNITS = {"mm", "UTC"}


def _without_code(text: str) -> str:
    text = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.S)
    return re.sub(r"<(style|script)\b[^>]*>.*?</\1>", "", text, flags=re.S)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_has_no_words_of_its_own(path: Path) -> None:
    """Between tags and in attributes that are read out there are no letters but units."""
    text = _without_code(path.read_text(encoding="utf-8"))
    between = re.sub(r"<[^>]*>", "\n", text)
    read = re.sub(r"&\w+;|[\w-]+=\"[^\"]*\"", "", between)  # a macro may make attributes outside of any tag
    assert set(re.findall(r"[^\W\d_]{2,}", read)) <= UNITS, read
    for name, value in re.findall(r'\b(title|alt|placeholder|aria-label)="([^"]*)"', text):
        assert not re.search(r"[^\W\d_]{2,}", value), (name, value)


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_opens_no_dialog_and_leaves_this_page_alone(path: Path) -> None:
    """No dialog of the browser's, no address elsewhere, nothing that outlives the tab, no text turned into code."""
    code = re.sub(r"//[^\n]*", "", path.read_text(encoding="utf-8"))
    for banned in ("alert(", "confirm(", "prompt(", "eval(", "Function(", "http:", "https:", "localStorage", "cookie"):
        assert banned not in code, banned


def test_styles_fetch_nothing() -> None:
    """No style asks for a picture, a font or another file, and none moves."""
    for path in (FOLDER / "static").glob("*.css"):
        text = path.read_text(encoding="utf-8")
        for banned in ("url(", "@import", "@font-face", "animation", "transition"):
            assert banned not in text, (path.name, banned)


def test_no_form_lets_the_browser_speak(app: Flask) -> None:
    """Every form of every template is `novalidate` as it is read, and none asks the browser to judge or to count."""
    forms = 0
    for path in TEMPLATES:
        assert app.jinja_env.loader is not None
        text = path.read_text(encoding="utf-8")
        made = app.jinja_env.preprocess(text)
        forms += made.count("<form")
        assert made.count("<form") == made.count(" novalidate"), path.name
        assert made.replace(" novalidate", "") == text, path.name
        plain = re.sub(r"\{#.*?#\}", "", text, flags=re.S)
        assert not re.search(r'\srequired\b|\spattern="|type="(?:number|email|url|range|color|time)"', plain), path.name
    assert forms > 40


@pytest.mark.parametrize(
    ("form", "made"),
    [
        ("<form>", "<form novalidate>"),
        (
            '<form method="post" action="/a/{{ b }}" class="c">',
            '<form method="post" action="/a/{{ b }}" class="c" novalidate>',
        ),
        ("""<form id="a" action="{{ to("x > y") }}">""", """<form id="a" novalidate action="{{ to("x > y") }}">"""),
    ],
)
def test_a_form_stays_as_it_is_written(app: Flask, form: str, made: str) -> None:
    """The word is put where it cannot break an expression."""
    assert app.jinja_env.preprocess(form) == made
