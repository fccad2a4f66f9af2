"""Reads an export's list entry by entry, so that a list of whoever's making takes no more memory than what is in it.

Checked as one text, each of millions of wrong entries would be remembered with a fault of its own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import from_json

from controller.backup.export import INDEX, Index, Listed
from controller.backup.registered import THINGS
from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.store.versions import Away
from controller.words import say

LONGEST_ENTRY: Final = 8_000
"""Letters of one entry; titles are much shorter."""
MOST_ENTRIES: Final = 60_000
"""Of a list that is held beside a running darkroom: twice as many as a zip may have files."""
MOST_ENTRIES_ALONE: Final = 1_000_000
_BLANKS: Final = re.compile(r"[ \t\n\r]*")
_ENTRIES: Final[Mapping[str, TypeAdapter[Any]]] = {
    "shelf": TypeAdapter(Listed),
    "away": TypeAdapter(Away),
    "pictures": TypeAdapter(str),
}
T = TypeVar("T")


def read_index(text: str, place: Path, most: int) -> Index:
    """Return what an export's list says, of so many entries at most; `place` is the list's, for the refusal.

    Raises:
        Unreadable: it is no list of an export's, or its versions do not follow each other.
    """
    index = _Text(text, place, most).index()
    versions: dict[str, tuple[int, str]] = {}
    for one in index.shelf:
        version, kind = versions.get(one.id, (0, one.kind))
        if (thing := THINGS.get(one.kind)) is None:
            raise Unreadable(say("store.export-kind", path=place, id=one.id, kind=one.kind))
        if (one.version, one.kind) != (version + 1, kind) or (thing.only or one.id in THINGS) != (one.id == one.kind):
            raise Unreadable(say("store.export-versions", path=place, id=one.id, version=one.version))
        versions[one.id] = one.version, one.kind
    for word in index.away:
        if word.id not in versions:
            raise Unreadable(say("store.export-versions", path=place, id=shown(word.id), version=1))
    return index


class _Text:
    """The text of a list, read from its beginning to its end."""

    def __init__(self, text: str, place: Path, most: int) -> None:
        self._text, self._place, self._left = text, place, most
        self._at = 0
        self._decoder = json.JSONDecoder()

    def index(self) -> Index:
        """Return the whole."""
        found: dict[str, object] = {}
        self._each("{", "}", lambda _: self._key(found))
        self._blanks()
        if self._at != len(self._text):
            raise self._refused(INDEX, "more follows its end")
        return self._checked("", Index.model_validate, found)

    def _key(self, found: dict[str, object]) -> None:
        key = self._value(INDEX)
        if not isinstance(key, str) or key in found:
            raise self._refused(shown(key), "it is no key, or stands there twice")
        self._take(":")
        if key in _ENTRIES:
            entries: list[object] = []
            self._each("[", "]", lambda number: entries.append(self._entry(key, number)))
            found[key] = tuple(entries)
        else:
            found[key] = self._value(key)
            if key not in Index.model_fields:
                self._checked("", Index.model_validate, {key: found[key]})

    def _entry(self, key: str, number: int) -> object:
        self._left -= 1
        if self._left < 0:
            raise self._refused(key, "it has too many entries")
        return self._checked(f"{key}.{number}", _ENTRIES[key].validate_python, self._value(f"{key}.{number}"))

    def _each(self, begin: str, end: str, read: Callable[[int], object]) -> None:
        """Read what stands between two brackets, with a comma between each."""
        self._take(begin)
        number = 0
        if not self._next_is(end):
            read(number)
            while self._next_is(","):
                self._at += 1
                number += 1
                read(number)
        self._take(end)

    def _value(self, where: str) -> object:
        self._blanks()
        try:
            _, length = self._decoder.raw_decode(self._text[self._at : self._at + LONGEST_ENTRY])
            value: object = from_json(self._text[self._at : self._at + length])  # which knows half a letter for none
        except (ValueError, RecursionError) as problem:
            raise self._refused(where, getattr(problem, "msg", "it cannot be read")) from None
        self._at += length
        return value

    def _take(self, letter: str) -> None:
        if not self._next_is(letter):
            raise self._refused(INDEX, f"a “{letter}” is missing at letter {self._at + 1}")
        self._at += 1

    def _next_is(self, letter: str) -> bool:
        self._blanks()
        return self._text.startswith(letter, self._at)

    def _blanks(self) -> None:
        found = _BLANKS.match(self._text, self._at)
        assert found is not None
        self._at = found.end()

    def _checked(self, where: str, check: Callable[[Any], T], value: object) -> T:
        try:
            return check(value)
        except ValidationError as problem:
            first = problem.errors()[0]
            inside = ".".join(filter(None, (where, *map(shown, first["loc"]))))
            raise self._refused(inside or INDEX, first["msg"]) from None

    def _refused(self, where: str, detail: str) -> Unreadable:
        return Unreadable(say("store.no-index", path=self._place, place=where, detail=detail))
