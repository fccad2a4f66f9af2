"""What the journal says of editions and of paper in boxes: numbers that were given, and counts of sheets left."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.recipe.at_enlarger import Label


class Numbered(Frozen):
    """A print of an edition was looked at: it has a number, or is a proof, or is rejected. Nothing takes that back.

    The edition's terms are in every row, so that the journal alone knows what was promised.
    """

    kind: Literal["numbered"] = "numbered"
    edition: str
    """Its id on the shelf."""
    recipe: str
    version: int = Field(ge=1)
    size: int = Field(ge=1)
    proofs: int = Field(ge=0)
    """So many prints has the edition, and so many proofs beside them."""
    sheet: str
    """Empty: the number is out on a print that this journal does not know."""
    outcome: Literal["keep", "proof", "reject"]
    number: int = Field(ge=0)
    """Of a proof its own, which is written as a Roman one; 0 of what was rejected."""
    spread_stops: float | None = None
    """How far its light is off the reference print's, at the step that is farthest off; None where none leads there."""
    said: bool = Field(default=False, exclude_if=lambda said: not said)
    """It was withheld, and the printer said that it counts all the same."""


class BoxCounted(Frozen):
    """So many sheets were in a box at this moment; sheets that are closed from here on are counted down from it."""

    kind: Literal["box counted"] = "box counted"
    paper: Label
    """Its id on the shelf; empty for one that is only named."""
    paper_title: Label
    box: Label
    sheets: int = Field(ge=0, le=100_000)
    price: str = Field(default="", max_length=20, exclude_if=lambda price: not price)
    """Of a sheet, in the printer's own money, as a plain decimal; empty where it is not said."""


EDITION_ROWS: Final = (Numbered, BoxCounted)
