"""A contact sheet to look at: the frames as they lie, each cut out of the proof's photograph, and the photograph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from controller.exposure.stops import shown
from controller.negatives.layouts import layout_of, places
from controller.negatives.on_proof import WHOLE, Cell, cells
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.negatives.on_proof import XY
    from controller.negatives.sets import Frame, NegativeSet

PROOF: Final = "proof"
"""The name by which the pictures of a page find the photograph: it is in the page once."""
LONGEST_TITLE: Final = 60
"""Letters of a title that a contact sheet shows; the negative's own page has all of it."""
_HIGH: Final = 100
"""Units of a small picture's height."""
_WIDEST: Final = 3.0


@dataclass(frozen=True)
class Place:
    """A frame on the contact sheet."""

    frame: Frame
    picture: Markup
    """Cut out of the photograph; empty where there is none."""


@dataclass(frozen=True)
class SheetView:
    """A contact sheet: its frames in rows, as wide for their height as they lie there."""

    columns: int
    wide: int
    high: int
    places: tuple[Place, ...]
    photograph: str = ""
    width: int = 0
    height: int = 0
    """Of the photograph, in pixels."""


def sheet_view(kept: NegativeSet, size: tuple[int, int] | None) -> SheetView:
    """Return a contact sheet; `size` is its photograph's in pixels, None where there is none to be seen."""
    _, columns = places(kept)
    shape = layout_of(kept.frame_format or "")
    found = cut_out(kept, size)
    pictures = [cut.picture for cut in found] or [Markup()] * len(kept.frames)
    return SheetView(
        columns=columns,
        wide=shape.wide if shape else 1,
        high=shape.high if shape else 1,
        places=tuple(Place(frame, picture) for frame, picture in zip(kept.frames, pictures, strict=True)),
        photograph=kept.proof.photograph if kept.proof and size else "",
        width=size[0] if size else 0,
        height=size[1] if size else 0,
    )


@dataclass(frozen=True)
class Cut:
    """A frame on the photograph."""

    frame: Frame
    cell: Cell

    @property
    def points(self) -> str:
        """Its corners, as a polygon has them."""
        return " ".join(f"{x:.0f},{y:.0f}" for x, y in self.cell.corners)

    @property
    def picture(self) -> Markup:
        """The frame alone, upright: the page's own copy of the photograph, brought into a small field."""
        high = float(_HIGH)
        wide = high * min(_WIDEST, max(1 / _WIDEST, self.cell.shape))
        turned = " ".join(f"{value:.5g}" for value in self.cell.matrix(wide, high))
        return Markup(
            '<svg class="cut" viewBox="0 0 {} {}" aria-hidden="true"><use href="#{}" transform="matrix({})"/></svg>'
        ).format(f"{wide:.0f}", _HIGH, PROOF, turned)


def cut_out(kept: NegativeSet, size: tuple[int, int] | None) -> tuple[Cut, ...]:
    """Return where each frame lies on the photograph; nothing where there is none to be seen."""
    if kept.proof is None or size is None:
        return ()
    corners: Sequence[XY] = WHOLE
    if kept.proof.corners is not None:
        corners = [(float(x), float(y)) for x, y in kept.proof.corners]
    found = cells(corners, size, *places(kept))
    return tuple(Cut(frame, cell) for frame, cell in zip(kept.frames, found, strict=False))


def said_of(frame: Frame) -> str:
    """Return all that a contact sheet says of a frame, for ears: "12, quay at dawn, print, +1/3"."""
    words = [say("negatives.frame", frame=frame.frame), shown(frame.title or "", LONGEST_TITLE)]
    words += [say(f"negatives.mark-{frame.mark}") if frame.mark else "", look_words(frame.look)]
    return ", ".join(filter(None, words))


def look_words(look: str | None) -> str:
    """Return how a frame looks, as it is written beside it: "+1/3", "−1", "0"; nothing where nobody has looked."""
    if not look or look == "0":
        return look or ""
    return look.replace("-", "−") if look.startswith("-") else f"+{look}"
