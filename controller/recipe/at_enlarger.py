"""What stands at the enlarger: which negative, paper and box, which enlarger, and how it is set. Frozen data, pure.

Each sheet's plan holds a copy of it as it stood when the sheet was begun, so that its record can say what was
printed, and how, without anybody having typed it for that sheet.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import AfterValidator, Field

from controller.model import Frozen
from controller.recipe.fields import TURNING

LONGEST_LABEL: Final = 200


def _nothing(value: object) -> bool:
    return value is None or value == ""


def _label(text: str) -> str:
    """Return words as they can stand in any line: what cannot be printed left out, and cut where they have no end."""
    return "".join(c for c in text if c.isprintable() and c not in TURNING).strip()[:LONGEST_LABEL]


Label = Annotated[str, AfterValidator(_label)]


class AtEnlarger(Frozen):
    """What stands at the enlarger; what is not known is empty or None, and is left out where it is written.

    Titles are kept beside ids: a sheet's record still says what lay there when the thing itself has another name.
    """

    negative: Label = Field(default="", exclude_if=_nothing)
    """Which negative is in the carrier, as "set id:frame"; empty for one that is only named."""
    negative_title: Label = Field(default="", exclude_if=_nothing)
    negative_format: Label = Field(default="", exclude_if=_nothing)
    """As the trade writes it: "24x36", "6x6", "4x5"."""
    paper: Label = Field(default="", exclude_if=_nothing)
    """Id on the shelf of the paper that is out; empty for one that is only named."""
    paper_title: Label = Field(default="", exclude_if=_nothing)
    paper_version: int | None = Field(default=None, ge=1, exclude_if=_nothing)
    """Which version of its readings was the newest when it was taken out; None where it has none."""
    support: Literal["RC", "FB", ""] = Field(default="", exclude_if=_nothing)
    box: Label = Field(default="", exclude_if=_nothing)
    enlarger: Label = Field(default="", exclude_if=_nothing)
    """Its id on the shelf."""
    enlarger_title: Label = Field(default="", exclude_if=_nothing)
    head_height_mm: float | None = Field(default=None, ge=0.0, le=10000.0, exclude_if=_nothing)
    """What the column's scale reads, in mm."""
    magnification: float | None = Field(default=None, ge=0.01, le=200.0, exclude_if=_nothing)
    """Of the image on the easel: 2 is twice the negative's size."""
    aperture: float | None = Field(default=None, ge=0.5, le=128.0, exclude_if=_nothing)
    """The f-number as marked on the lens's ring."""
    focal_mm: float | None = Field(default=None, ge=0.1, le=10000.0, exclude_if=_nothing)
    """Of the lens, in mm."""
    soft: Label = Field(default="", exclude_if=_nothing)
    """What is written on this printer's soft filter, and below it on the hard one."""
    hard: Label = Field(default="", exclude_if=_nothing)

    @property
    def words(self) -> str:
        """What a search for a sheet finds it by."""
        return " ".join((self.negative_title, self.paper_title, self.box, self.enlarger_title)).strip()

    @property
    def bare(self) -> bool:
        """Whether nothing is known of it."""
        return self == AtEnlarger()
