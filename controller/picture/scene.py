"""What lies on the baseboard: which negatives, how they come onto the paper, and what the easel leaves open."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from controller.picture.negatives import INVENTED, Negative, invented
from controller.picture.optics import Enlarger
from controller.recipes import Recipe
from controller.strips import Strip

INCH_MM: Final = 25.4
PIXELS: Final = 1_000_000
PROOF: Final = "proof"
"""The short name of a contact sheet of all invented negatives."""
_SIZE: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(mm|cm|in)?", re.IGNORECASE)
_UNIT_MM: Final = {"mm": 1.0, "cm": 10.0, "in": INCH_MM}
_DEFAULT_PAPER_MM: Final = (254.0, 203.2)


@dataclass(frozen=True)
class Scene:
    """A sheet on the baseboard; lengths in mm, width before height.

    "enlargement": `negatives` holds the one in the carrier. "contact": they lie on the paper, in two columns,
    and the carrier is empty. `open_mm` is what the easel's blades leave open, in the middle; None for all.
    """

    negatives: tuple[Negative, ...]
    way: Literal["enlargement", "contact"] = "enlargement"
    enlarger: Enlarger = Enlarger()  # noqa: RUF009 - frozen
    paper_mm: tuple[float, float] = _DEFAULT_PAPER_MM
    open_mm: tuple[float, float] | None = None
    pixels: int = PIXELS

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width of the picture in pixels."""
        width, height = self.paper_mm
        per_mm = (self.pixels / (width * height)) ** 0.5
        return max(1, round(height * per_mm)), max(1, round(width * per_mm))

    @property
    def upright(self) -> bool:
        """Whether the sheet is higher than wide; a strip's bands follow each other along its longer side."""
        return self.paper_mm[1] > self.paper_mm[0]


def negatives_named(name: str) -> tuple[Negative, ...]:
    """Return the invented negative `name`, or all four for "proof".

    Raises:
        NotThere: there is none of that name.
    """
    return tuple(invented(each) for each in INVENTED) if name == PROOF else (invented(name),)


def scene_for(
    model: Recipe | Strip, negatives: tuple[Negative, ...], *, enlarger: Enlarger | None = None, pixels: int = PIXELS
) -> Scene:
    """Return the scene in which a recipe or strip prints: its magnification, aperture, lens, paper size and image.

    What it does not say is as the practice enlarger stands; `enlarger` gives what no recipe says, such as its
    light source. Several negatives make a contact sheet. A strip's or recipe's paper lies as its picture does.
    """
    stand = enlarger or Enlarger()
    said: dict[str, float] = {}
    if model.magnification is not None and len(negatives) == 1:
        said["magnification"] = float(model.magnification)
    if model.lens is not None and model.lens.aperture is not None:
        said["aperture"] = float(model.lens.aperture)
    if model.lens is not None and model.lens.focal_mm is not None:
        said["focal_mm"] = float(model.lens.focal_mm)
    size = model.paper.size if model.paper is not None else None
    paper_mm = paper_size_mm(size or "")
    image = model.image_mm if isinstance(model, Recipe) else None
    open_mm = (float(image[0]), float(image[1])) if image and len(negatives) == 1 else None
    width, height = negatives[0].frame_mm
    if len(negatives) == 1 and height > width:
        paper_mm = (paper_mm[1], paper_mm[0])
        open_mm = (open_mm[1], open_mm[0]) if open_mm else None
    return Scene(
        negatives=negatives,
        way="enlargement" if len(negatives) == 1 else "contact",
        enlarger=stand.model_copy(update=said),
        paper_mm=paper_mm,
        open_mm=open_mm,
        pixels=pixels,
    )


def paper_size_mm(text: str) -> tuple[float, float]:
    """Return width and height, longer first, of a paper size as it is written ("8x10 in", "24 × 30 cm").

    Bare numbers are inches up to 30, else mm. A size that is not read so is taken for 8 × 10 in.
    """
    found = _SIZE.match(text)
    if found is None:
        return _DEFAULT_PAPER_MM
    sides = sorted((float(found[1]), float(found[2])), reverse=True)
    unit = _UNIT_MM[found[3].lower()] if found[3] else INCH_MM if sides[0] <= 30 else 1.0
    longer, shorter = sides[0] * unit, sides[1] * unit
    return (longer, shorter) if shorter >= 1.0 and longer <= 5000.0 else _DEFAULT_PAPER_MM
