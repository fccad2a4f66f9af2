"""Papers on the shelf: kept with their readings, versioned, dated by box.

numpy and scipy are loaded by what reckons, when it is first used, and never by what only lists or fetches.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from controller.errors import NotThere
from controller.paper.papers import Paper, read_paper, write_paper
from controller.words import say

if TYPE_CHECKING:
    from controller.shelf import Kept, Shelf


class PaperShelf:
    """What pages may do with the papers on the shelf. Safe from any thread, as the shelf is."""

    def __init__(self, shelf: Callable[[], Shelf]) -> None:
        self._shelf = shelf

    def kept(self) -> Sequence[Kept]:
        """Return the latest version of each paper that is not put away, last kept first."""
        return self._shelf().latest("paper")

    def fetch(self, source: str, version: int | None = None) -> Paper:
        """Return a paper as it is kept, the latest version unless told; its `version` is the shelf's.

        Raises:
            NotThere: no such paper, or no such version of it, is kept.
            Unreadable: it was written by a newer version of this software.
        """
        return self.paper_of(self.get(source, version))

    def get(self, source: str, version: int | None = None) -> Kept:
        """Return what the shelf knows of a paper: its text, its version, when it was kept.

        Raises:
            NotThere: no such paper, or no such version of it, is kept.
        """
        kept = self._shelf().get(source, version)
        if kept.kind != "paper":
            raise NotThere(say("store.no-paper", id=source))
        return kept

    def versions(self, source: str) -> Sequence[Kept]:
        """Return every version, newest first.

        Raises:
            NotThere: no such paper is kept.
        """
        self.get(source)
        return self._shelf().versions(source)

    def keep(self, paper: Paper, source: str | None = None) -> Kept:
        """Keep a paper as a new version of `source`, or as a new one; its version becomes the shelf's.

        A paper that is the latest already, but for its number, stays it.

        Raises:
            NotThere: no such paper is kept.
            StoreTrouble: it could not be written; nothing was kept.
        """
        before = None if source is None else self.get(source)
        if before is not None:
            same = paper.model_copy(update={"version": before.version})
            if write_paper(same) == before.body:
                return before
        version = 1 if before is None else before.version + 1
        return self._shelf().save(
            "paper", paper.name, write_paper(paper.model_copy(update={"version": version})), source
        )

    def put_away(self, source: str) -> None:
        """Take it off the list; its versions stay.

        Raises:
            NotThere: no such paper is kept.
        """
        self.get(source)
        self._shelf().put_away(source)

    @staticmethod
    def paper_of(kept: Kept) -> Paper:
        """Return the paper of a kept text; after an import the shelf's number is the one that counts."""
        return read_paper(kept.body, kept.title).model_copy(update={"version": kept.version})
