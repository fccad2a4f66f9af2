"""The catalogue: everything a person reads or hears, by key, so that it can be translated and its tone tested.

A key is `domain.rest`; the domain names the file (`en/LC_MESSAGES/<domain>.po`). Values are filled in as
`{name}`. `python -m controller.words` compiles the files after an edit.
"""

from __future__ import annotations

import gettext
from functools import cache
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent
LANGUAGE: Final = "en"


def say(key: str, **values: object) -> str:
    """Return the words of `key` with `values` filled in.

    Raises:
        KeyError: the catalogue has no such key, or the words ask for a value that is not given.
    """
    words = _domain(key.partition(".")[0]).gettext(key)
    if words == key:
        raise KeyError(f"the catalogue has no words for {key!r}")
    return words.format(**values) if values else words


def say_many(key: str, number: int, **values: object) -> str:
    """Return the words of `key` in the form for `number`, which is filled in as `{number}`.

    Raises:
        KeyError: as `say`.
    """
    words = _domain(key.partition(".")[0]).ngettext(key, f"{key}s", number)
    if words in (key, f"{key}s"):
        raise KeyError(f"the catalogue has no words for {key!r}")
    return words.format(number=number, **values)


def has(key: str) -> bool:
    """Tell whether the catalogue knows `key`; a sentence of its own is no key, full stop or not."""
    try:
        return _domain(key.partition(".")[0]).gettext(key) != key
    except KeyError:
        return False


@cache
def _domain(domain: str) -> gettext.NullTranslations:
    try:
        return gettext.translation(domain, FOLDER, [LANGUAGE])
    except FileNotFoundError:
        raise KeyError(f"the catalogue has no domain {domain!r}") from None
