"""The templates hold no words of their own: everything a person reads comes from the catalogue."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

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
    """No dialog of the browser's, no address elsewhere, no storage, no text turned into code."""
    code = re.sub(r"//[^\n]*", "", path.read_text(encoding="utf-8"))
    for banned in ("alert(", "confirm(", "prompt(", "eval(", "Function(", "http:", "https:", "localStorage", "cookie"):
        assert banned not in code, banned


def test_styles_fetch_nothing() -> None:
    """No style asks for a picture, a font or another file, and none moves."""
    for path in (FOLDER / "static").glob("*.css"):
        text = path.read_text(encoding="utf-8")
        for banned in ("url(", "@import", "@font-face", "animation", "transition"):
            assert banned not in text, (path.name, banned)
