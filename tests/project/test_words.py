"""The catalogue of words: complete, compiled, and nowhere passed by."""

from __future__ import annotations

import re
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po

from controller.store.settings import Settings
from controller.words import FOLDER

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
