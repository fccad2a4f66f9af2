"""How frames are numbered and how they usually lie on a contact sheet, by their format."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.negatives.sets import MOST_FRAMES, NegativeSet
from controller.words import say


@dataclass(frozen=True)
class Layout:
    """How frames of one format usually lie on one sheet of proof paper, and how many there are."""

    format: str
    rows: int
    columns: int
    frames: int
    wide: int
    high: int
    """Of one frame as it lies there; their ratio alone counts."""


LAYOUTS: Final = (
    Layout("24x36", 6, 6, 36, 3, 2),
    Layout("6x4.5", 4, 4, 16, 3, 4),
    Layout("6x6", 4, 3, 12, 1, 1),
    Layout("6x7", 4, 3, 10, 5, 4),
    Layout("6x9", 4, 2, 8, 3, 2),
    Layout("4x5", 2, 2, 4, 4, 5),
    Layout("5x7", 2, 1, 2, 7, 5),
    Layout("8x10", 1, 1, 1, 4, 5),
)
"""Common practice: a 35 mm film of 36 in strips of six, a roll of 120 in strips that a proof printer takes, four sheets
of 4×5 or two of 5×7 on a sheet of 8×10 paper. Frames of a roll of 120: 16, 12, 10 and 8, with a frame of about 42, 56,
70 and 84 mm along the film (from memory)."""
FIRST: Final = "1"
_NUMBERED: Final = re.compile(r"([0-9]{1,6})([A-Za-z]?)")


def layout_of(frame_format: str) -> Layout | None:
    """Return how a format usually lies; None for one that is not in the list."""
    return next((one for one in LAYOUTS if one.format == plain_format(frame_format)), None)


def plain_format(text: str) -> str:
    """Return a format as it is kept, with plain letters: 6×6 is 6x6, "4 x 5" is 4x5."""
    return re.sub(r"(?<=[0-9])\s*[×xX*]\s*(?=[0-9])", "x", text.strip())


def shown_format(frame_format: str) -> str:
    """Return a format as it is read: 6x6 is 6×6."""
    return re.sub(r"(?<=[0-9])x(?=[0-9])", "×", frame_format)


def numbered(first: str, count: int) -> tuple[str, ...]:
    """Return the names of so many frames from the first on, as a film's edge counts: 1, 2, …; 00, 0, 1, …; 1A, 2A, …

    Raises:
        Unreadable: the first one does not begin with a number; its place is the field.
    """
    match = _NUMBERED.fullmatch(first.strip())
    if match is None:
        raise Unreadable(say("negatives.first", found=shown(first)), ("first",))
    text, letter = match.groups()
    if text == "00" and not letter:
        return ("00", *(str(number) for number in range(count - 1)))
    width = len(text) if text.startswith("0") and text != "0" else 0
    return tuple(f"{int(text) + step:0{width}d}{letter}" for step in range(count))


def first_of(frames: Sequence[str]) -> str:
    """Return the first of frames that are numbered on from it; `FIRST` where they are numbered otherwise."""
    usual = _NUMBERED.fullmatch(frames[0]) is not None and numbered(frames[0], len(frames)) == tuple(frames)
    return frames[0] if usual else FIRST


def listed(text: str) -> tuple[str, ...]:
    """Return the names in a list that was typed: "1 to 12, 14, 15A"; each stands where it was typed.

    Raises:
        Unreadable: a part of it is no frame, or there are too many; its place is the field.
    """
    found: list[str] = []
    for part in re.split(r"[,;\n]", text):
        if not (part := part.strip()):
            continue
        match = re.fullmatch(r"([0-9]+[A-Za-z]?)(?:\s*[-–]\s*|\s+to\s+)([0-9]+[A-Za-z]?)", part)
        found += _span(part, *match.groups()) if match else part.split()
        if len(found) > MOST_FRAMES:
            raise Unreadable(say("negatives.many", most=MOST_FRAMES), ("list",))
    return tuple(found)


def _span(part: str, first: str, last: str) -> tuple[str, ...]:
    one, other = _NUMBERED.fullmatch(first), _NUMBERED.fullmatch(last)
    count = int(other[1]) - int(one[1]) + 1 if one and other and one[2] == other[2] else 0
    if not 1 <= count <= MOST_FRAMES:
        raise Unreadable(say("negatives.span", found=shown(part)), ("list",))
    return numbered(first, count)


def next_name(last: str, today: date, taken: Callable[[str], bool]) -> str:
    """Return what the next set is called, from what the last one was: "film 12" is followed by "film 13".

    Where the last one's name has no number at its end, or is a day, it is today's date. `taken` tells whether there is
    one of a name.
    """
    match = re.fullmatch(r"(.*?)([0-9]{1,6})", last)
    if match and not re.search(r"[0-9]-[0-9]{2}-$", match[1]):
        name = f"{match[1]}{int(match[2]) + 1:0{len(match[2])}d}"
        if not taken(name):
            return name
    day = today.isoformat()
    names = (day, *(f"{day} {letter}" for letter in "BCDEFGHIJKLMNOPQRSTUVWXYZ"))
    return next((name for name in names if not taken(name)), day)


def places(kept: NegativeSet) -> tuple[int, int]:
    """Return in how many rows and columns a set's frames are shown: its own, or for a list as many as look well."""
    if kept.rows is not None and kept.columns is not None:
        return kept.rows, kept.columns
    usual = layout_of(kept.frame_format or "")
    columns = min(usual.columns if usual else 4, len(kept.frames))
    return -(-len(kept.frames) // columns), columns
