"""The ledgers of editions: terms from the shelf, numbers from the journal, and what file and note know beside them.

A number that any of these knows is given. Nothing here takes one back, and nothing decides to give one.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from controller.daemon.edition_marks import FILE, EditionMarks, Mark
from controller.editions.cost import Box, box_counted
from controller.editions.ledger import (
    KIND,
    Edition,
    Given,
    Ledger,
    given_of,
    ledger_of,
    read_edition,
    write_edition,
)
from controller.errors import StoreTrouble, Unreadable
from controller.store.database import sum_of
from controller.store.edition_rows import BoxCounted, Numbered
from controller.store.rows import Reader
from controller.store.shelf import OfAKind, Shelf
from controller.store.versions import Kept
from controller.words import say

_LONG_AGO = "1970-01-01T00:00:00+00:00"
"""When an edition was begun that is only noted."""


class Ledgers(OfAKind):
    """Safe from any thread; who gives numbers holds `lock` from looking to filing.

    `note` files a row of the journal, or raises as `Inbox.ask`.
    """

    KINDS = (KIND,)

    def __init__(
        self, shelf: Shelf, reader: Reader, folder: Path | None, note: Callable[[Numbered | BoxCounted], object]
    ) -> None:
        """What is noted beside the stores lies in the data `folder`; without one it is in memory alone."""
        super().__init__(shelf)
        self._reader, self.note = reader, note
        self._marks = EditionMarks(folder / FILE if folder else None)
        self.lock = threading.RLock()
        self._rows: list[Numbered] = []
        self._counted: dict[Box, tuple[int, BoxCounted]] = {}
        self._seen = 0
        """The last row of the journal that was followed."""
        self._sent: list[Numbered] = []
        """Rows of which nobody said whether they were filed: given, in any doubt."""

    # ---- looking

    def ledger(self, source: str) -> Ledger:
        """Return an edition with all that was given of it, by journal, file and note.

        Raises:
            NotThere: no such edition is kept.
            Unreadable: it was written by a newer version of this software.
        """
        with self.lock:
            rows = [row for row in (*self._followed(), *self._sent) if row.edition == source]
            edition = self._terms(source, rows)
            return ledger_of(edition, map(given_of, rows), edition.sheets, self._noted(source))

    def out(self, source: str) -> tuple[Given, ...]:
        """Return what is given by file or note alone: the journal does not know it."""
        with self.lock:
            known = [given_of(row) for row in self._followed() if row.edition == source]
            return tuple(one for one in self.ledger(source).given if one not in known)

    def sure(self, source: str) -> bool:
        """Tell whether the journal is the one in which something of an edition was noted last, or one that follows."""
        return self._marks.stands(source, self._reader)

    def of_recipe(self, recipe: str, version: int) -> str:
        """Return the edition of this version of a recipe, put away or not, as the shelf itself has it; or nothing."""
        for kept in (*self._shelf.latest(KIND), *self._shelf.latest(KIND, away=True)):
            with suppress(Unreadable):
                edition = self._terms(kept.id, [row for row in self._followed() if row.edition == kept.id])
                if (edition.recipe, edition.version) == (recipe, version):
                    return kept.id
        return ""

    def noted_of(self, recipe: str, version: int) -> tuple[str, Mark] | None:
        """Return an edition of this version of a recipe that this machine noted; the shelf may have lost it."""
        return self._marks.of_recipe(recipe, version)

    def counted(self) -> dict[Box, tuple[int, BoxCounted]]:
        """Return the last count of each box with its row, the box that was counted last as the last."""
        with self.lock:
            self._followed()
            return dict(self._counted)

    def _followed(self) -> list[Numbered]:
        """Return every number that the journal gives, in order: only what is new is read."""
        for row in self._reader.of_editions(after=self._seen):
            self._seen = row.number
            if isinstance(row.entry, Numbered):
                self._rows.append(row.entry)
                self._sent = [one for one in self._sent if one != row.entry]
            elif isinstance(row.entry, BoxCounted):
                box = box_counted(row.entry)
                self._counted.pop(box, None)
                self._counted[box] = row.number, row.entry
        return self._rows

    def _terms(self, source: str, rows: list[Numbered]) -> Edition:
        kept = self.get(source)
        edition = read_edition(kept.body, kept.title)
        if not rows:
            return edition
        first = rows[0]  # what was promised with the first number stands, whatever a file brought since
        terms = {"recipe": first.recipe, "version": first.version, "size": first.size, "proofs": first.proofs}
        return edition.model_copy(update=terms)

    def _noted(self, source: str) -> tuple[Given, ...]:
        mark = self._marks.of(source)
        return mark.given if mark else ()

    # ---- keeping

    def keep(self, edition: Edition, title: str, source: str | None = None) -> str:
        """Keep an edition's terms as the next version of `source`, or of a new one; return its id.

        Raises:
            NotThere, StoreTrouble: nothing was kept.
        """
        return self._shelf.save(KIND, title, write_edition(edition), source).id

    def bring_back(self, source: str, mark: Mark) -> None:
        """Lay an edition on the shelf again, with the terms that were noted of it; raises `StoreTrouble`."""
        terms = edition_of(mark)
        title = mark.title or say("editions.untitled", recipe=mark.recipe)
        body = write_edition(terms)
        self._shelf.take_in([Kept(id=source, version=1, kind=KIND, title=title, body=body, made=_LONG_AGO)])

    def file(self, source: str, edition: Edition, given: Given, *, said: bool = False) -> None:
        """File what was given in the journal.

        Raises:
            KeeperGone, StoreTrouble: nobody answers, or it could not be written. It counts as given, for it may be
                filed yet.
        """
        row = Numbered(
            edition=source,
            recipe=edition.recipe,
            version=edition.version,
            size=edition.size,
            proofs=edition.proofs,
            sheet=given.sheet,
            outcome=given.outcome,
            number=given.number or 0,
            spread_stops=None if given.spread_stops is None else float(given.spread_stops),
            said=said,
        )
        self._sent.append(row)  # until it is seen on file
        self.note(row)
        self._followed()
        if row in self._sent:
            raise StoreTrouble(say("editions.not-filed"))

    def mark(self, source: str) -> None:
        """Note what was given up to now, and which row of the journal is the last; where it cannot be, it is asked."""
        ledger, row = self.ledger(source), self._reader.last()
        edition = ledger.edition
        mark = Mark(
            row=row,
            sum=sum_of(self._reader.fingerprint(row)),
            recipe=edition.recipe,
            version=edition.version,
            size=edition.size,
            proofs=edition.proofs,
            title=self.get(source).title,
            reference=edition.reference or "",
            given=ledger.given,
        )
        with suppress(StoreTrouble):  # the journal has what was given; next time the printer is asked once more
            self._marks.note(source, mark)


def edition_of(mark: Mark) -> Edition:
    """Return the terms of an edition that were noted."""
    return Edition(
        title=mark.title or None,
        recipe=mark.recipe,
        version=mark.version,
        size=mark.size,
        proofs=mark.proofs,
        reference=mark.reference or None,
    )
