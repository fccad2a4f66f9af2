"""Papers on the shelf: kept with their readings, versioned, dated by box.

numpy and scipy are loaded by what reckons, when it is first used, and never by what only lists or fetches.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import suppress
from threading import Lock
from typing import TYPE_CHECKING, Final, TypeVar

from controller.errors import NotThere
from controller.paper.paper import Box, Paper, Reciprocity, read_paper, write_paper
from controller.store.shelf import OfAKind

if TYPE_CHECKING:
    from controller.paper.ladder import Ladder
    from controller.paper.look import Look
    from controller.paper.readings import Exposure
    from controller.paper.single_filters import Filters
    from controller.paper.written import Written
    from controller.store.shelf import Shelf
    from controller.store.versions import Kept

T = TypeVar("T")
MOST: Final = 50
"""So many papers can be chosen from a list; any other from its own page."""
REMEMBERED: Final = 8
"""Looks at papers, and curves of their filters, that are not reckoned anew; a kept version never changes."""


class PaperShelf(OfAKind):
    """What pages may do with the papers on the shelf. Safe from any thread, as the shelf is."""

    KINDS = ("paper",)

    def __init__(self, shelf: Shelf) -> None:
        super().__init__(shelf)
        self._lock = Lock()
        self._looks: OrderedDict[tuple[str, int], Look] = OrderedDict()
        self._filters: OrderedDict[tuple[str, int], Filters] = OrderedDict()

    # ---- what is kept

    def kept(self) -> Sequence[Kept]:
        """Return the latest versions of the papers that are not put away, last kept first: the newest `MOST`."""
        return self._shelf.latest("paper", limit=MOST)

    def called(self, name: str) -> str:
        """Return the id of the last kept paper of that name, or nothing."""
        return self._shelf.called("paper", name)

    def version_of(self, source: str) -> int | None:
        """Return the newest version of a paper; None where it is not on the shelf."""
        with suppress(NotThere):
            return self._shelf.get(source).version if source else None
        return None

    def fetch(self, source: str, version: int | None = None) -> Paper:
        """Return a paper as it is kept, the latest version unless told; its `version` is the shelf's.

        Raises:
            NotThere: no such paper, or no such version of it, is kept.
            Unreadable: it was written by a newer version of this software.
        """
        return self.paper_of(self.get(source, version))

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
        return self._shelf.save("paper", paper.name, write_paper(paper.model_copy(update={"version": version})), source)

    @staticmethod
    def paper_of(kept: Kept) -> Paper:
        """Return the paper of a kept text; after an import the shelf's number is the one that counts."""
        return read_paper(kept.body, kept.title).model_copy(update={"version": kept.version})

    # ---- what loads numpy

    def save(self, written: Written, source: str | None = None) -> Kept:
        """Fit a paper to what was written down, and keep it as a new version of `source` or as a new one.

        How it fails in long light is no reading of the tablet's, and stays as it was found.

        Raises:
            Impossible: the readings make no paper; nothing was kept.
            NotThere, StoreTrouble: as `keep`.
        """
        from controller.paper.written import fitted

        paper = fitted(written)
        if source is not None:
            paper = paper.model_copy(update={"reciprocity": self.fetch(source).reciprocity})
        return self.keep(paper, source)

    def set_reciprocity(self, source: str, found: Reciprocity | None) -> Kept:
        """Keep the next version of a paper, which fails in long light as it was found; None: that is not known.

        Raises:
            NotThere, Unreadable, StoreTrouble: as `fetch` and `keep`; nothing was kept.
        """
        return self.keep(self.fetch(source).model_copy(update={"reciprocity": found}), source)

    def try_out(self, written: Written) -> Look:
        """Return how a paper would look if it were kept; nothing is.

        Raises:
            Impossible: the readings make no paper.
        """
        from controller.paper.look import look_at
        from controller.paper.written import fitted

        return look_at(fitted(written))

    def look(self, source: str, version: int | None = None) -> Look:
        """Return what a kept paper's page shows.

        Raises:
            NotThere, Unreadable: as `fetch`.
        """
        from controller.paper.look import look_at

        return self._remembered(self._looks, self.get(source, version), look_at)

    def filters(self, source: str, version: int | None = None) -> Filters:
        """Return the single lights that a kept paper was read through.

        Raises:
            Impossible: one of its prints makes no curve; the sentence says which.
            NotThere, Unreadable: as `fetch`.
        """
        from controller.paper.single_filters import filters_of

        return self._remembered(self._filters, self.get(source, version), filters_of)

    def _remembered(self, known: OrderedDict[tuple[str, int], T], kept: Kept, reckon: Callable[[Paper], T]) -> T:
        """Return what a kept version comes to, reckoned once while it is among the last that were asked for."""
        key = kept.id, kept.version
        with self._lock:
            if key in known:
                known.move_to_end(key)
                return known[key]
        found = reckon(self.paper_of(kept))
        with self._lock:
            known[key] = found
            while len(known) > REMEMBERED:
                known.popitem(last=False)
        return found

    def respeed(self, source: str, check: Sequence[Exposure], box: Box) -> Kept:
        """Keep the next version of a paper, its speed taken from a check strip of another box.

        Raises:
            Impossible: the strip tells no speed, or is far off; nothing was kept.
            NotThere, StoreTrouble: as `keep`.
        """
        from controller.paper.boxes import respeed

        return self.keep(respeed(self.fetch(source), check, box), source)

    def respeed_from_pick(self, source: str, expected_seconds: float, picked_seconds: float, box: Box) -> Kept:
        """Keep the next version of a paper, where a check strip's pick was not the time expected.

        Raises:
            Impossible: the pick is further off than any box; nothing was kept.
            NotThere, StoreTrouble: as `keep`.
        """
        from controller.paper.boxes import respeed_from_pick

        return self.keep(respeed_from_pick(self.fetch(source), expected_seconds, picked_seconds, box), source)

    def ladder(self, source: str, version: int | None = None) -> Ladder:
        """Return the ladder of a paper's own filters, or the typical one where fewer than two were read.

        Raises:
            NotThere, Unreadable: as `fetch`.
        """
        from controller.errors import Impossible
        from controller.paper.filter_factors import own_ladder
        from controller.paper.ladder import TYPICAL

        paper = self.fetch(source, version)
        if len(paper.filters) < 2:
            return TYPICAL
        try:
            return own_ladder(self.filters(source, version).curves)
        except Impossible:
            return TYPICAL
