"""The practice darkroom's two contact sheets: which invented negative is which frame, and what each sheet goes by.

A set lies on the shelf of a new practice darkroom under the id that is told here, so that a reference ("SET:FRAME")
names the same negative in every one of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from controller.picture.negatives import ROLL, SHEETS
from controller.words import say


@dataclass(frozen=True)
class ContactSheet:
    """One set of invented negatives."""

    id: str
    """Of the set on the shelf."""
    name: str
    """Its short name, as `--negative` takes it: all of them laid on the paper."""
    frame_format: str
    negatives: tuple[str, ...]
    """Their short names; the first is frame 1."""

    def negative(self, frame: str) -> str | None:
        """Return the short name of a frame's negative; None where there is no such frame."""
        number = int(frame) if frame.isdecimal() and len(frame) <= 3 else 0
        return self.negatives[number - 1] if 1 <= number <= len(self.negatives) else None

    @property
    def title(self) -> str:
        """What the set is called as it comes."""
        return say(f"picture.set-{self.name}")


PROOF: Final = "proof"
"""The short name of a contact sheet of the four sheets of 4×5."""
FILM: Final = "film"
"""That of a contact sheet of the 35 mm film."""
CONTACT_SHEETS: Final = (
    ContactSheet("practice-sheets", PROOF, "4x5", SHEETS),
    ContactSheet("practice-film", FILM, "24x36", ROLL),
)


def contact_sheet(name: str) -> ContactSheet | None:
    """Return the contact sheet of a short name; None where it is none."""
    return next((each for each in CONTACT_SHEETS if each.name == name), None)


def lying_on(reference: str) -> tuple[ContactSheet, str | None] | None:
    """Return the contact sheet that a reference names, and the negative where it names a frame; None for any other.

    "SET:FRAME" is a negative, "SET" or "SET:" the whole sheet.
    """
    set_id, _, frame = reference.partition(":")
    sheet = next((each for each in CONTACT_SHEETS if each.id == set_id), None)
    if sheet is None:
        return None
    negative = sheet.negative(frame)
    return (sheet, negative) if negative is not None or not frame else None


def sheet_with(negative: str) -> ContactSheet | None:
    """Return the contact sheet that an invented negative lies on."""
    return next((each for each in CONTACT_SHEETS if negative in each.negatives), None)
