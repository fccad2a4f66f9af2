"""The templates hold no words of their own: everything a person reads comes from the catalogue."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from jinja2 import DictLoader, Environment
from markupsafe import Markup

import webui
from webui.frame.templates import APP, Compiled, compile_all, read_templates
from webui.wording import unparted

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
        whole = re.sub(r"{% filter unparted %}(.*?){% endfilter %}(?=</h\d>)", r"\1", made, flags=re.S)
        assert whole.replace(" novalidate", "") == text, path.name
        assert len(re.findall(r"<h\d[^>]*>(?!{% filter unparted %})", made)) == 0, path.name
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


# ---- what was compiled of them

FEW = ("base.html", "choose.html", "day.html", "no_day.html", "panel.html")


def compiled_by(folder: Path, monkeypatch: pytest.MonkeyPatch, *, trim: bool = True) -> int:
    """Load a few templates with what is kept in a folder, and return how many had to be compiled."""
    fresh = Flask(APP, static_folder=None)
    read_templates(fresh)
    fresh.jinja_env.trim_blocks = trim
    fresh.jinja_env.bytecode_cache = Compiled(folder)
    count = 0
    plain = Environment.compile

    def counted(self: Environment, *what: Any, **how: Any) -> Any:
        nonlocal count
        count += 1
        return plain(self, *what, **how)

    with monkeypatch.context() as patch:
        patch.setattr(Environment, "compile", counted)
        for name in FEW:
            fresh.jinja_env.get_template(name)
    return count


def test_what_was_compiled_is_not_compiled_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first to need a template keeps what it compiled; the next process takes it from there."""
    assert compiled_by(tmp_path / "kept", monkeypatch) == len(FEW)
    assert compiled_by(tmp_path / "kept", monkeypatch) == 0


def test_installing_compiles_all_and_clears_what_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After an installation none is left to be compiled, and nothing of an older one lies about."""
    (tmp_path / "template-of-old").write_bytes(b"x")
    (tmp_path / "app.cpython-311.pyc").write_bytes(b"x")
    assert compile_all(tmp_path) == len(TEMPLATES) == len(list(tmp_path.iterdir())) - 1
    assert not (tmp_path / "template-of-old").exists()
    assert compiled_by(tmp_path, monkeypatch) == 0


def test_what_others_compiled_is_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of another text, another Jinja2 or another reading of templates nothing is taken: it is compiled anew."""
    compiled_by(tmp_path, monkeypatch)
    assert compiled_by(tmp_path, monkeypatch, trim=False) == len(FEW)
    with monkeypatch.context() as patch:
        patch.setattr("jinja2.__version__", "2.0")
        assert compiled_by(tmp_path, monkeypatch) == len(FEW)
    for text in ("1", "2"):
        words = Environment(loader=DictLoader({"a": text}), bytecode_cache=Compiled(tmp_path))
        assert words.get_template("a").render() == text


@pytest.mark.parametrize(
    "left", [b"", b"x", b"cut", b"zeros", None], ids=["empty", "rubbish", "cut", "zeros", "folder"]
)
def test_what_cannot_be_read_or_written_is_compiled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, left: bytes | None
) -> None:
    """Files that are broken, or in a place where nothing can be kept, cost time and nothing else."""
    compiled_by(tmp_path, monkeypatch)
    for each in tmp_path.iterdir():
        whole = each.read_bytes()
        each.unlink()
        if left is None:
            each.mkdir()
        else:
            each.write_bytes({b"cut": whole[:-9], b"zeros": whole[:-90] + bytes(90)}.get(left, left))
    assert compiled_by(tmp_path, monkeypatch) == len(FEW)
    assert compiled_by(tmp_path, monkeypatch) == (0 if left is not None else len(FEW))


def test_where_nothing_can_be_kept_pages_are_shown_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A service cannot write beside its program: what was not compiled before is then compiled each time."""
    (tmp_path / "file").write_bytes(b"")
    assert [compiled_by(tmp_path / "file" / "none", monkeypatch) for _ in range(2)] == [len(FEW)] * 2


@pytest.mark.parametrize(
    ("words", "read"),
    [
        ("harbour crane, 12.0 s, filter 2", "harbour crane, 12.0_s, filter 2"),
        ("2.5 to 20 s at 620 mm", "2.5 to 20_s at 620_mm"),
        ("3 sheets, 5 months, 1 s.", "3 sheets, 5 months, 1_s."),
        ("crane 3 h’s own", "crane 3 h’s own"),
    ],
)
def test_no_figure_is_parted_from_its_unit(words: str, read: str) -> None:
    """A line ends before no unit; words that only begin as one does are none."""
    assert unparted(words) == read.replace("_", "\N{NO-BREAK SPACE}")


def test_what_was_safe_is_safe_and_nothing_else() -> None:
    """A heading's own tags stay as they are; a title's are still to be escaped."""
    whole = unparted(Markup('<span class="a1 s">7.6 s</span>'))
    assert whole == Markup('<span class="a1 s">7.6\N{NO-BREAK SPACE}s</span>')
    assert isinstance(whole, Markup)
    assert not isinstance(unparted("<b>7.6 s</b>"), Markup)
