"""What this machine noted of the numbers it gave, beside the stores: so that a backup that is restored is told.

A backup brings journal and shelf back as they were, and numbers that were given since are on prints all the same. The
note is in no backup and no export. It names, for each edition, the row of the journal that stood last when something
of it was given; where the journal has no such row any more, numbers may be out that it does not know. Then none is
given until the printer has said which are.
"""

from __future__ import annotations

import json
import logging
from pathlib import Path
from typing import Final, Literal

from pydantic import Field

from controller.editions.ledger import Given
from controller.errors import StoreTrouble
from controller.files import write_whole
from controller.model import Frozen
from controller.store.database import sum_of
from controller.store.rows import Reader
from controller.words import say

FILE: Final = "editions.json"
"""In the data folder; not in a backup, nor in an export."""
_log = logging.getLogger(__name__)


class Mark(Frozen):
    """What is noted of one edition."""

    row: int = Field(ge=0)
    """The last row of the journal when this was noted."""
    sum: int
    """Of what tells that row from one of the same number in another journal."""
    recipe: str
    version: int
    size: int
    proofs: int
    title: str = ""
    reference: str = ""
    given: tuple[Given, ...] = ()
    """All that was given until then."""


class _Noted(Frozen):
    format: Literal["treadle/editions-noted/1"] = "treadle/editions-noted/1"
    editions: dict[str, Mark] = Field(default_factory=dict)


class EditionMarks:
    """Safe under the lock of whoever gives numbers; without a `place` it is kept in memory alone."""

    def __init__(self, place: Path | None) -> None:
        self._place = place
        self._noted = self._read()

    def of(self, edition: str) -> Mark | None:
        """Return what is noted of an edition."""
        return self._noted.editions.get(edition)

    def of_recipe(self, recipe: str, version: int) -> tuple[str, Mark] | None:
        """Return an edition that was begun of this version of a recipe, whether the shelf still has it or not."""
        found = self._noted.editions.items()
        return next((each for each in found if (each[1].recipe, each[1].version) == (recipe, version)), None)

    def note(self, edition: str, mark: Mark) -> None:
        """Note something of an edition, in place of what was noted of it.

        Raises:
            StoreTrouble: it cannot be written; what is in the journal stands all the same.
        """
        noted = _Noted(editions={**self._noted.editions, edition: mark})
        if self._place is not None:
            try:
                write_whole(self._place, noted.model_dump_json(indent=1).encode(), mode=0o600)
            except OSError as problem:
                raise StoreTrouble(say("store.folder", path=self._place, detail=problem.strerror)) from problem
        self._noted = noted

    def stands(self, edition: str, reader: Reader) -> bool:
        """Tell whether the journal still has the row that was last when something of an edition was noted."""
        mark = self.of(edition)
        return mark is not None and sum_of(reader.fingerprint(mark.row)) == mark.sum

    def _read(self) -> _Noted:
        if self._place is None:
            return _Noted()
        try:
            return _Noted.model_validate(json.loads(self._place.read_text(encoding="utf-8")))
        except FileNotFoundError:
            return _Noted()
        except (OSError, ValueError, RecursionError) as problem:  # as on a new card: it is asked which numbers are out
            _log.warning("%s cannot be read: %s", self._place, problem)
            return _Noted()
