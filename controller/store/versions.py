"""What the shelf keeps: versions of things, whether a thing is put away, and how two histories of one are joined."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from pydantic import Field

from controller.model import Frozen


class Version(Frozen):
    """One version of one thing on the shelf, but for its text."""

    id: str = Field(pattern="^[0-9a-z-]{1,40}$")
    version: int = Field(ge=1)
    kind: str = Field(pattern="^[a-z][a-z ]{0,20}$")
    """As the room that keeps it declares it."""
    title: str
    made: str
    """Wall time, ISO 8601 in UTC; a label."""


class Kept(Version):
    """One version of one thing on the shelf."""

    body: str
    """The text as it was written."""


class Away(Frozen):
    """Whether a thing is put away, said at a moment."""

    id: str
    away: bool
    made: str


class History:
    """The versions of one thing, oldest first, while those of another shelf are laid beside them in their order."""

    def __init__(self, mine: list[bytes]) -> None:
        self._mine, self._known = mine, set(mine)
        self._seen, self._last, self._parted = 0, len(mine), False

    def place(self, one: Kept) -> int | None:
        """Return which version the next one of theirs becomes here, None where it is here already."""
        mark, at = digest(one), self._seen
        self._seen += 1
        self._parted = self._parted or (at < len(self._mine) and mark != self._mine[at])
        if (at < len(self._mine) and not self._parted) or (self._parted and mark in self._known):
            return None
        self._last += 1
        return self._last if self._parted else one.version


def digest(one: Kept) -> bytes:
    """Return what two versions have in common that say the same."""
    return hashlib.sha256(f"{len(one.title)} {one.title}{one.body}".encode()).digest()


def by_id(words: Iterable[Away]) -> dict[str, list[Away]]:
    """Return what was said of each thing, in its order."""
    found: dict[str, list[Away]] = {}
    for word in words:
        found.setdefault(word.id, []).append(word)
    return found
