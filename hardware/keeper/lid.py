"""The lid of the paper box, out of a contact that is closed while it is shut: a broken wire counts as open."""

from __future__ import annotations

from typing import Final

from hardware.lines.lines import Contact

_SHUT_NS: Final = 60_000_000
"""Shut for this long on end is shut; open is open at once."""


class LidContact:
    """The box as its lid contact tells; without a contact it is shut."""

    def __init__(self, lid: Contact | None) -> None:
        self._lid = lid
        self.fitted = lid is not None
        self.open = lid is not None and not lid.closed()
        self._shut_ns: int | None = None  # when a lid that has just been shut counts as shut

    def poll(self, now_ns: int) -> bool:
        """Take edges and level; return whether the lid has been opened."""
        if self._lid is None:
            return False
        opened, shut = any(not shut for _, shut in self._lid.edges()), self._lid.closed()
        news = (opened or not shut) and not self.open
        if opened or not shut:
            self.open, self._shut_ns = True, None
        if shut and self.open and self._shut_ns is None:
            self._shut_ns = now_ns + _SHUT_NS
        return news

    def advance(self, now_ns: int) -> bool:
        """Return whether the lid has come to count as shut."""
        if self._shut_ns is None or self._shut_ns > now_ns:
            return False
        self.open, self._shut_ns = False, None
        return True

    def due_ns(self) -> int | None:
        """Return when a lid that has been shut counts as shut."""
        return self._shut_ns
