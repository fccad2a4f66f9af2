"""Lists by pages of what is kept and of sheets, the newest first, and searches in them: each page a short question.

A page is told by where the one before it ended, never by a count: what is saved meanwhile shifts nothing.
"""

from __future__ import annotations

import re
from typing import Final

from controller.model import Frozen
from controller.store.lookups import OF_THE_JOURNAL, OF_THE_SHELF, Lookups
from controller.store.on_the_shelf import OnTheShelf
from controller.store.sessions import SheetLine
from controller.store.versions import Kept

A_PAGE: Final = 20
"""Things or sheets on a page."""
LONGEST_SEARCH: Final = 100
"""Letters of a search; what follows is not looked for."""


class ThingsPage(Frozen):
    """Some of the things of one kind, the last saved first."""

    things: tuple[Kept, ...]
    more: int | None = None
    """The place below which the next page lies."""
    behind: bool = False
    """What is looked through has not followed the whole shelf yet: there may be more."""


class SheetsFound(Frozen):
    """Some of the sheets that were sought, the newest first, but that of just that number before all."""

    sheets: tuple[SheetLine, ...]
    more: int | None = None
    behind: bool = False


class Finder:
    """Finds what is on the shelf and in the journal. Safe from any thread, as its parts are."""

    def __init__(self, shelf: OnTheShelf, lookups: Lookups) -> None:
        self._shelf, self.lookups = shelf, lookups

    def things(
        self, kind: str, words: str = "", *, below: int | None = None, limit: int = A_PAGE, away: bool = False
    ) -> ThingsPage:
        """Return the newest of a kind that have all of these words or beginnings of words, or all; or those put away.

        `below` is the `more` of the page before.
        """
        whole = self.lookups.follow(*OF_THE_SHELF)
        if not whole and not words.strip():
            rows = self._shelf.page(kind, away=away, below=None if below is None else below // 2, limit=limit + 1)
            more = 2 * rows[limit - 1][0] if len(rows) > limit else None
            return ThingsPage(things=tuple(kept for _, kept in rows[:limit]), more=more)
        found = self.lookups.find(words[:LONGEST_SEARCH], kind, below, limit + 1, away=away)
        standing = self._shelf.standing([one.id for one in found[:limit]])
        return ThingsPage(
            things=tuple(standing[one.id][1] for one in found[:limit] if one.id in standing),
            more=found[limit - 1].place if len(found) > limit else None,
            behind=not whole,
        )

    def sheets(self, words: str, *, below: int | None = None, limit: int = A_PAGE) -> SheetsFound:
        """Return the newest sheets with these words in title, remarks, recipe or set-up; a number is a sheet's, too."""
        whole = self.lookups.follow(*OF_THE_JOURNAL)
        number = re.fullmatch(r"\s*#?\s*([0-9]{1,9})\s*", words)
        same = self.lookups.numbered(int(number[1])) if number else ()
        found = self.lookups.sheets(words[:LONGEST_SEARCH], limit=limit + 1, below=below)
        first = {one.line.id: one.line for _, one in same} if below is None else {}
        named = {one.line.id for _, one in same}
        rest = tuple(one.line for _, one in found[:limit] if one.line.id not in named)
        more = found[limit - 1][0] if len(found) > limit else None
        return SheetsFound(sheets=(*first.values(), *rest), more=more, behind=not whole)
