"""The catalogue of words: complete, compiled, and nowhere passed by."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po

from controller.store.settings import Settings
from controller.words import FOLDER
from controller.words.__main__ import written_twice

ROOT = Path(__file__).resolve().parents[2]
DOMAINS = sorted((FOLDER / "en" / "LC_MESSAGES").glob("*.po"))
_CALL = re.compile(r"""\b(?:say|say_many|refusal|has)\(\s*["']([a-z]+\.[a-z0-9-]+)["']""")
_KEY = re.compile(r"""["'`]([a-z]+\.[a-z0-9]+(?:-[a-z0-9]+)*)["'`]""")


def _catalogue(path: Path) -> Catalog:
    with path.open("rb") as text:
        return read_po(text)


def _keys() -> set[str]:
    return {
        str(m.id[0] if isinstance(m.id, list | tuple) else m.id) for path in DOMAINS for m in _catalogue(path) if m.id
    }


def _messages(catalogue: Catalog) -> dict[object, object]:
    return {_plain(message.id): _plain(message.string) for message in catalogue if message.id}


def _plain(text: object) -> object:
    return tuple(text) if isinstance(text, list | tuple) else text


def _sources() -> list[Path]:
    folders = [ROOT / "controller", ROOT / "webui", ROOT / "hardware"]
    return [*(f for d in folders for f in (*d.rglob("*.py"), *d.rglob("*.html"))), ROOT / "treadle.py"]


@pytest.mark.parametrize("path", DOMAINS, ids=lambda path: path.stem)
def test_compiled_words_are_the_written_ones(path: Path) -> None:
    """Every compiled file says what its text says; “python -m controller.words” brings it up to date."""
    with path.with_suffix(".mo").open("rb") as binary:
        compiled = _messages(read_mo(binary))
    assert compiled == _messages(_catalogue(path))


@pytest.mark.parametrize("path", DOMAINS, ids=lambda path: path.stem)
def test_every_key_has_words(path: Path) -> None:
    """No key is empty, stands in another domain's file, or has placeholders that cannot be read."""
    for message in _catalogue(path):
        if not message.id:
            continue
        keys = message.id if isinstance(message.id, list | tuple) else (message.id,)
        strings = message.string if isinstance(message.string, list | tuple) else (message.string,)
        assert str(keys[0]).startswith(f"{path.stem}."), keys
        assert all(str(text).strip() for text in strings), keys
        for text in strings:
            assert all(name is None or name.isidentifier() for _, name, _, _ in Formatter().parse(str(text))), text


@pytest.mark.parametrize("path", DOMAINS, ids=lambda path: path.stem)
def test_no_key_is_written_twice(path: Path) -> None:
    """The second of two would never be said, or would be said in the place of the first."""
    assert not written_twice(path.read_text(encoding="utf-8"))
    assert written_twice('msgid "a.b"\nmsgstr "one"\n\nmsgid "a.b"\nmsgstr "two"\n') == ["a.b"]


def _asked() -> dict[str, set[str]]:
    """Return what the words of each key ask to be filled in."""
    asked = {}
    for message in (message for path in DOMAINS for message in _catalogue(path) if message.id):
        key = message.id[0] if isinstance(message.id, list | tuple) else message.id
        texts = message.string if isinstance(message.string, list | tuple) else (message.string,)
        asked[str(key)] = {name for text in texts for _, name, _, _ in Formatter().parse(str(text)) if name}
    return asked


def _said() -> Iterator[tuple[str, str, set[str]]]:
    """Yield where a key is said by name with each value by name, the key, and the values' names."""
    keys = _keys()
    for source in (source for source in _sources() if source.suffix == ".py"):
        for call in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            match call:
                case ast.Call(func=ast.Name(id="say" | "say_many" as by), args=[ast.Constant(value=str(key)), *_]) if (
                    key in keys and all(value.arg for value in call.keywords)
                ):
                    number = {"number"} if by == "say_many" else set[str]()
                    yield f"{source.name}:{call.lineno}", key, {str(value.arg) for value in call.keywords} | number


def test_one_act_has_one_word() -> None:
    """Whatever is put on no list any more is archived: its button, its list, and what is said of it afterwards."""
    said = {str(message.id): str(message.string) for path in DOMAINS for message in _catalogue(path) if message.id}
    away = {
        key: words for key, words in said.items() if re.search(r"\.(to|is|none)-away\b|\.put-away(-said|-sure)?$", key)
    }
    assert len(away) > 10
    assert not {key: words for key, words in away.items() if "archive" not in words.lower()}


def test_words_are_given_what_they_ask() -> None:
    """Where a key is said, its words find each value that they ask for, and none is given for nothing."""
    asked, said = _asked(), list(_said())
    assert len(said) > 900, "calls that were read"
    assert not [(*at, asked[at[1]]) for at in said if at[2] - {"number"} != asked[at[1]] - {"number"}]


def test_every_key_that_is_said_is_written() -> None:
    """Each key that the code says by name stands in the catalogue."""
    keys = _keys()
    missing = {
        (key, source.name)
        for source in _sources()
        for key in _CALL.findall(source.read_text(encoding="utf-8"))
        if key not in keys and not key.endswith("-")
    }
    assert not missing


def test_no_words_lie_unused() -> None:
    """Each key of the catalogue is named somewhere in the code, whole or by its beginning."""
    text = "\n".join(source.read_text(encoding="utf-8") for source in _sources())
    named = set(_KEY.findall(text))
    stems = set(re.findall(r"""f?["']([a-z]+\.[a-z0-9-]+-)(?:\{|["'])""", text))
    named |= {f"settings.{name}" for name in Settings.model_fields}  # said by the field's own name
    unused = {key for key in _keys() if key not in named and not any(key.startswith(stem) for stem in stems)}
    assert not unused
