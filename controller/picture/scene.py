"""The practice enlarger: lens, aperture, magnification, light source; how much light comes, and how evenly.

Light by (1 + m/P)² and marked stops as in `controller.exposure`. cos⁴ is the law of natural fall-off (optics
handbooks): off the axis by the angle θ, cos⁴ θ of the light. A lens covers a negative whose diagonal is up to 1/0.9
of its focal length, and a condenser for a smaller format lights only the middle of a larger one (common practice).
Callier's Q multiplies every density of a projected negative; flare lays a share of the mean light over everything.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.exposure.penumbra import penumbra
from controller.exposure.size import aperture_factor, size_factor
from controller.model import Frozen
from controller.picture.contact_sheets import contact_sheet
from controller.picture.invented import invented
from controller.picture.negatives import Negative, Outline
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip

TABLE_MAGNIFICATION: Final = Fraction(2)
TABLE_APERTURE: Final = 8.0
"""Where the filters' table of light holds."""
LENS_COVERS: Final = 1.0 / 0.9
"""Diagonal of the negative over the lens's focal length."""
EDGE: Final = 0.12
"""Of its radius: how softly a lens's or condenser's circle of light ends."""


class Enlarger(Frozen):
    """How the enlarger stands. As it comes, its source is graded to make up for its lens's own fall-off."""

    focal_mm: float = Field(default=150.0, gt=0.0, le=1000.0)
    aperture: float = Field(default=8.0, ge=0.5, le=128.0)
    magnification: float = Field(default=2.0, gt=0.0, le=200.0)
    pupil: float = Field(default=1.0, gt=0.1, le=10.0)
    condenser_mm: float | None = Field(default=None, gt=0.0, le=1000.0)
    """The diagonal that the condensers in the head are made for; none for a diffuser, which lights every format."""
    callier: float = Field(default=1.0, ge=0.8, le=2.0)
    flare_share: float = Field(default=0.0, ge=0.0, le=0.5)
    """Of the light that reaches the paper."""
    falloff: float = Field(default=0.0, ge=0.0, le=1.0)
    """How much of the lens's cos⁴ fall-off is left: 0 with a graded source, 1 with an even one."""
    left_high_mm: float = Field(default=0.0, ge=-10.0, le=10.0)
    """How much higher the carrier's left side lies than its right one, from edge to edge of the frame."""
    back_high_mm: float = Field(default=0.0, ge=-10.0, le=10.0)
    """And its back than its front."""

    @property
    def light_factor(self) -> float:
        """How much light comes against the filters' table: by size and by marked stops."""
        size = size_factor(
            TABLE_MAGNIFICATION,
            Fraction(self.magnification).limit_denominator(10_000),
            Fraction(self.pupil).limit_denominator(1000),
        )
        return 1.0 / float(size * aperture_factor(TABLE_APERTURE, self.aperture))

    @property
    def lens_circle_mm(self) -> float:
        """The diameter, on the negative, that the lens covers."""
        return self.focal_mm * LENS_COVERS


INCH_MM: Final = 25.4
PIXELS: Final = 1_000_000
BORDER_MM: Final = 7.0
"""Of white paper round a picture that is made to fit its sheet."""
_SIZE: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(mm|cm|in)?", re.IGNORECASE)
_UNIT_MM: Final = {"mm": 1.0, "cm": 10.0, "in": INCH_MM}
_DEFAULT_PAPER_MM: Final = (254.0, 203.2)


@dataclass(frozen=True)
class HeldTool:
    """A tool with a letter of its own, as a recipe has it: where its edge lies, and how soft it is."""

    letter: str
    outline: Outline = ()
    """In shares of the image that is printed; empty where nobody drew it."""
    height_mm: float | None = None
    """Over the paper; None where nobody said."""
    still: bool = False
    """It lies or is fixed: a mask, a blade. What a hand holds is moved all the time."""


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
    second: Negative | None = None
    """In carrier B, where a sheet is printed from two; the one in `negatives` is then in carrier A."""
    tools: tuple[HeldTool, ...] = ()

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width of the picture in pixels."""
        width, height = self.paper_mm
        per_mm = (self.pixels / (width * height)) ** 0.5
        return max(1, round(height * per_mm)), max(1, round(width * per_mm))

    def tool(self, letter: str) -> HeldTool | None:
        """Return the tool of a letter; None where the recipe has none."""
        return next((tool for tool in self.tools if tool.letter == letter), None)

    def spread_mm(self, tool: HeldTool) -> float:
        """Return how far a tool's half-shadow smears its edge on the paper (standard deviation); 0 lying on it.

        A tool that would be over the lens casts no shadow that anybody could reckon: it counts as lying.
        """
        try:
            stand = self.enlarger
            return penumbra(tool.height_mm or 0.0, stand.focal_mm, stand.aperture, stand.magnification).spread_mm
        except Impossible:
            return 0.0

    @property
    def upright(self) -> bool:
        """Whether the sheet is higher than wide; a strip's bands follow each other along its longer side."""
        return self.paper_mm[1] > self.paper_mm[0]


def negatives_named(name: str) -> tuple[Negative, ...]:
    """Return the invented negative `name`, or all of a contact sheet: "proof" or "film".

    Raises:
        NotThere: there is none of that name.
    """
    sheet = contact_sheet(name)
    return (invented(name),) if sheet is None else tuple(invented(each) for each in sheet.negatives)


def scene_for(
    model: Recipe | Strip,
    negatives: tuple[Negative, ...],
    *,
    enlarger: Enlarger | None = None,
    magnification: float | None = None,
    second: Negative | None = None,
    pixels: int = PIXELS,
) -> Scene:
    """Return the scene in which a recipe or strip prints: its magnification, aperture, lens, paper size and image.

    What it does not say is as the practice enlarger stands; `enlarger` gives what no recipe says, such as its
    light source, and `magnification` how large the picture stands where it is known; where it is not, a frame is as
    large as its paper takes. Several negatives make a contact sheet; `second` is the one in carrier B.
    A strip's or recipe's paper lies as its picture does.
    """
    stand = enlarger or Enlarger()
    said: dict[str, float] = {}
    single = len(negatives) == 1
    if magnification is not None:
        said["magnification"] = magnification
    if model.magnification is not None and single:
        said["magnification"] = float(model.magnification)
    if model.lens is not None and model.lens.aperture is not None:
        said["aperture"] = float(model.lens.aperture)
    if model.lens is not None and model.lens.focal_mm is not None:
        said["focal_mm"] = float(model.lens.focal_mm)
    size = model.paper.size if model.paper is not None else None
    paper_mm = paper_size_mm(size or "")
    image = model.image_mm if isinstance(model, Recipe) else None
    open_mm = (float(image[0]), float(image[1])) if image and single else None
    width, height = negatives[0].frame_mm
    if single and height > width:
        paper_mm = (paper_mm[1], paper_mm[0])
        open_mm = (open_mm[1], open_mm[0]) if open_mm else None
    if single and "magnification" not in said:
        said["magnification"] = fitting(negatives[0], paper_mm)
    return Scene(
        negatives=negatives,
        second=second if single else None,
        tools=held_tools(model) if isinstance(model, Recipe) else (),
        way="enlargement" if single else "contact",
        enlarger=stand.model_copy(update=said),
        paper_mm=paper_mm,
        open_mm=open_mm or (blades(negatives[0], paper_mm, said["magnification"]) if single else None),
        pixels=pixels,
    )


def raised_mm(scene: Scene, x: float, y: float) -> float:
    """Return how much higher than its middle the negative lies that falls at shares of the picture from left and top.

    The lens turns both: what is right and near on the easel is left and at the back in the carrier.
    """
    stand, (width, height) = scene.enlarger, scene.paper_mm
    across, along = scene.negatives[0].frame_mm
    right, near = ((x - 0.5) * width / stand.magnification, (y - 0.5) * height / stand.magnification)
    return stand.left_high_mm * right / across + stand.back_high_mm * near / along


def held_tools(model: Recipe) -> tuple[HeldTool, ...]:
    """Return a recipe's tools as they stand in a scene: those of which more is known than their letter."""
    return tuple(
        HeldTool(
            letter=tool.letter,
            outline=tuple((float(x), float(y)) for x, y in tool.outline or ()),
            height_mm=None if tool.height_mm is None else float(tool.height_mm),
            still=tool.stays,
        )
        for tool in model.tools
    )


def fitting(negative: Negative, paper_mm: tuple[float, float]) -> float:
    """Return the magnification at which a frame fits its paper with a border, to 0.1.

    The sheets of 4×5 stand at 2, on whatever paper: so the practice enlarger has always stood.
    """
    if not negative.of_a_roll:
        return float(TABLE_MAGNIFICATION)
    sides = zip(paper_mm, negative.frame_mm, strict=True)
    return max(0.1, int(10.0 * min((paper - 2.0 * BORDER_MM) / frame for paper, frame in sides)) / 10.0)


def blades(negative: Negative, paper_mm: tuple[float, float], magnification: float) -> tuple[float, float] | None:
    """Return what the easel's blades leave open where nobody says it: a roll's frame, cut to its paper's border.

    None for a sheet of 4×5, whose rebate prints where the easel is open.
    """
    if not negative.of_a_roll:
        return None
    across, down = (
        min(frame * magnification, max(1.0, paper - 2.0 * BORDER_MM))
        for frame, paper in zip(negative.frame_mm, paper_mm, strict=True)
    )
    return across, down


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
