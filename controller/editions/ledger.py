"""An edition's terms, what was given of it, and what may be given next: `treadle/edition/1`; pure.

A number is a promise to whoever buys the print. So the ledger only grows: it is what the journal says, what a file of
the edition says and what this machine noted beside them, laid over one another, and nothing in one of them takes back
what stands in another.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, Final, Literal, Self

from pydantic import Field, model_validator

from controller.errors import Impossible
from controller.model import Frozen
from controller.recipe import versioned
from controller.recipe.fields import (
    EditionSize,
    Money,
    PrintNumber,
    Proofs,
    SpreadStops,
    VersionNumber,
    Words,
    refusal,
)
from controller.recipe.versioned import VersionedForm
from controller.store.edition_rows import Numbered
from controller.words import say

EDITION: Final = "treadle/edition/1"
KIND: Final = "edition"
"""Of a thing on the shelf."""
MOST_SHEETS: Final = 1000
"""Of one edition, with those that were rejected."""
Outcome = Literal["keep", "proof", "reject"]


class Given(Frozen):
    """What became of one print of an edition."""

    sheet: str = Field(max_length=64, pattern="^[0-9a-z-]*$")
    """Its sheet in the journal; empty where the number is out on a print that nobody here knows."""
    outcome: Outcome
    number: PrintNumber | None = None
    spread_stops: SpreadStops | None = None

    @model_validator(mode="after")
    def _has_its_number(self) -> Self:
        if (self.number is None) != (self.outcome == "reject"):
            raise refusal("editions.number-of", at=("number",), outcome=self.outcome)
        if self.outcome == "reject" and not self.sheet:
            raise refusal("editions.reject-of", at=("sheet",))
        return self


class Edition(Frozen):
    """The terms of an edition, and what is known from its file of what was given."""

    title: Words | None = None
    recipe: Words
    """Id on the shelf."""
    version: VersionNumber
    size: EditionSize
    """So many prints are numbered."""
    proofs: Proofs = 0
    """So many artist's proofs may be beside them."""
    reference: str | None = Field(default=None, max_length=64)
    """The sheet of the print that all others are held against."""
    chemistry: Money | None = None
    """What the chemistry of all its sheets costs together, in the printer's own money."""
    process: Words | None = None
    """How its prints are made, as a certificate says it; absent: as their paper has it."""
    toner: Words | None = None
    sheets: tuple[Given, ...] = Field(default=(), max_length=MOST_SHEETS)

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        places: set[tuple[str, int | None]] = set()
        sheets: set[str] = set()
        for number, one in enumerate(self.sheets):
            most = self.size if one.outcome == "keep" else self.proofs
            if one.number is not None and one.number > most:
                raise refusal("editions.number-over", at=("sheets", number, "number"), found=one.number, most=most)
            if one.number is not None and (one.outcome, one.number) in places:
                raise refusal("editions.number-twice", at=("sheets", number, "number"), found=one.number)
            if one.sheet and one.sheet in sheets:
                raise refusal("editions.sheet-twice", at=("sheets", number, "sheet"), found=one.sheet)
            places.add((one.outcome, one.number))
            sheets.add(one.sheet)
        return self


class Ledger(Frozen):
    """An edition with all that was given of it, whoever says so."""

    edition: Edition
    given: tuple[Given, ...] = ()
    """In the order in which it was given."""

    @property
    def kept(self) -> dict[int, tuple[Given, ...]]:
        """What stands at each number; more than one where two darkrooms gave the same."""
        return self._of("keep")

    @property
    def proofs(self) -> dict[int, tuple[Given, ...]]:
        """What stands at each proof's number."""
        return self._of("proof")

    @property
    def rejected(self) -> tuple[Given, ...]:
        """What was rejected; it stays on file."""
        return tuple(one for one in self.given if one.outcome == "reject")

    @property
    def twice(self) -> tuple[tuple[Outcome, int], ...]:
        """Numbers that stand on more than one print."""
        found: list[tuple[Outcome, int]] = [("keep", number) for number, all_of in self.kept.items() if len(all_of) > 1]
        return (*found, *(("proof", number) for number, all_of in self.proofs.items() if len(all_of) > 1))

    def of(self, sheet: str) -> Given | None:
        """Return what became of a sheet; None where nothing was said of it."""
        return next((one for one in self.given if sheet and one.sheet == sheet), None)

    def next(self, outcome: Outcome) -> int | None:
        """Return the least number that was never given; None where all were, or there are none."""
        given, most = (self.kept, self.edition.size) if outcome == "keep" else (self.proofs, self.edition.proofs)
        return next((number for number in range(1, most + 1) if number not in given), None)

    def without_sheet(self, outcome: Outcome) -> tuple[int, ...]:
        """Return the numbers that are out on a print that nobody here knows."""
        return tuple(number for number, all_of in self._of(outcome).items() if not any(one.sheet for one in all_of))

    def _of(self, outcome: Outcome) -> dict[int, tuple[Given, ...]]:
        found: dict[int, list[Given]] = {}
        for one in self.given:
            if one.outcome == outcome and one.number is not None:
                found.setdefault(one.number, []).append(one)
        return {number: tuple(found[number]) for number in sorted(found)}

    def give(self, sheet: str, outcome: Outcome, number: int, spread_stops: float | None) -> Given:
        """Return what a sheet would be given, where that may be; `number` is the one that was seen, 0 of a reject.

        A number that is out on a print which nobody here knows may be said to stand on this one.

        Raises:
            Impossible: the sheet has its outcome already, every number is given, or this one is; with the remedy.
        """
        if (before := self.of(sheet)) is not None:
            raise Impossible(say("editions.sheet-has", what=told(self.edition, before)))
        if outcome == "reject":
            return Given(sheet=sheet, outcome=outcome, spread_stops=decimal_of(spread_stops))
        free = self.next(outcome)
        if free is None and number not in self.without_sheet(outcome):
            most = self.edition.size if outcome == "keep" else self.edition.proofs
            raise Impossible(say(f"editions.full-{outcome}", most=most))
        if number != free and number not in self.without_sheet(outcome):
            raise Impossible(say("editions.number-gone"))
        return Given(sheet=sheet, outcome=outcome, number=number, spread_stops=decimal_of(spread_stops))

    def may_become(self, size: int, proofs: int) -> None:
        """Refuse terms that this edition cannot have any more.

        Raises:
            Impossible: fewer than were given, or another size once one was.
        """
        if size < max(self.kept, default=0) or proofs < max(self.proofs, default=0):
            raise Impossible(say("editions.below-given", kept=max(self.kept, default=0), proofs=len(self.proofs)))
        if (size, proofs) != (self.edition.size, self.edition.proofs) and (self.kept or self.proofs):
            raise Impossible(say("editions.other-size", size=self.edition.size, proofs=self.edition.proofs))


def ledger_of(edition: Edition, *sources: Iterable[Given]) -> Ledger:
    """Return the ledger of an edition from all that say something of it, the surest first.

    What stands in several of them counts once. A number without a sheet is no second one beside one with a sheet.
    """
    found: dict[tuple[str, str, int | None], Given] = {}
    for source in sources:
        for one in source:
            found.setdefault((one.sheet, one.outcome, one.number), one)
    known = {(one.outcome, one.number) for one in found.values() if one.sheet}
    given = (one for one in found.values() if one.sheet or (one.outcome, one.number) not in known)
    return Ledger(edition=edition, given=tuple(given))


def given_of(row: Numbered) -> Given:
    """Return what a row of the journal gives."""
    return Given(
        sheet=row.sheet,
        outcome=row.outcome,
        number=row.number or None,
        spread_stops=decimal_of(row.spread_stops),
    )


def decimal_of(stops: float | None) -> Any:
    """Return stops as a file has them, to a thousandth."""
    return None if stops is None else round(stops, 3) + 0.0


def roman(number: int) -> str:
    """Return a number from 1 as a Roman one, as proofs are numbered (common practice)."""
    found = ""
    for value, letters in ((50, "L"), (40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")):
        count, number = divmod(number, value)
        found += letters * count
    return found


def told(edition: Edition, given: Given) -> str:
    """Return in words what a print is: "3/5", "proof II", "rejected"."""
    if given.outcome == "keep":
        return say("editions.number", number=given.number, size=edition.size)
    if given.outcome == "proof":
        return say("editions.proof", number=roman(given.number or 0))
    return say("editions.rejected")


# ---- its file


def read_edition(text: str | bytes, name: str) -> Edition:
    """Return the edition that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _FORM)


def write_edition(edition: Edition) -> str:
    """Return the file of an edition; `read_edition` reads the same from it."""
    known: dict[str, Any] = edition.model_dump(mode="json", exclude={"sheets"}, exclude_none=True)
    sheets = ",\n  ".join(json.dumps(one.model_dump(mode="json")) for one in edition.sheets)
    head = json.dumps({"format": EDITION} | known, ensure_ascii=False, indent=1)
    listed = f"[\n  {sheets}\n ]" if sheets else "[]"
    return f'{head.removesuffix("}").rstrip()},\n "sheets": {listed}\n}}\n'


def title_of(edition: Edition) -> str:
    """Return what an edition is called, whether its file says so or not."""
    return edition.title or say("editions.untitled", recipe=edition.recipe)


_FORM: Final = VersionedForm(EDITION, Edition)
