"""What is said of a sheet once it is closed, as rows of the journal: picks, looks, remarks, what went into recipes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen
from controller.recipe.plan import Ask


class HandsDone(Frozen):
    """What was asked of the hands between two lights was done, by a press; or that press was taken back."""

    kind: Literal["hands done"] = "hands done"
    sheet: str
    step: int
    """The step before whose light it was asked; 0 after the last."""
    ask: Ask
    at_ns: int
    undone: bool = Field(default=False, exclude_if=lambda undone: not undone)


class Picked(Frozen):
    """A band of a strip, or the place between two, was picked; a strip's outcome is complete from then on."""

    kind: Literal["picked"] = "picked"
    sheet: str
    band: int = Field(ge=1)
    between: bool = False
    """Between `band` and `band` + 1."""
    filter: str
    seconds: float
    stops: str = ""
    level: bool = Field(default=False, exclude_if=lambda level: not level)
    """Of a threshold strip: it is the flash level of this paper."""
    recipe: str = ""
    """The recipe that took it over, with its version."""
    recipe_version: int = 0
    aperture: float | None = Field(default=None, exclude_if=lambda told: told is None)
    """What the strip was made at, as said with the pick where the strip does not; the head height likewise."""
    head_height_mm: float | None = Field(default=None, exclude_if=lambda told: told is None)


class ReferencePrint(Frozen):
    """The print is right, and others of its recipe are held against it."""

    kind: Literal["reference print"] = "reference print"
    sheet: str


class WentIn(Frozen):
    """What a sheet was given went into its recipe, as this version of it."""

    kind: Literal["into recipe"] = "into recipe"
    sheet: str
    step: int = 0
    """The burn that was added to the sheet, by its number; 0 is all that the sheet was given."""
    recipe: str
    recipe_version: int


class Toned(Frozen):
    """The print was toned; said again in place of an earlier one, that one counts no more.

    One without a toner takes back the one it stands in place of; what was is on file.
    """

    kind: Literal["toned"] = "toned"
    sheet: str
    toner: str = Field(max_length=200)
    dilution: str = Field(default="", max_length=200, exclude_if=lambda dilution: not dilution)
    """As it was written: "1 + 9"."""
    minutes: float | None = Field(default=None, gt=0, le=1440, exclude_if=lambda minutes: minutes is None)
    did: str = Field(default="", max_length=2000, exclude_if=lambda did: not did)
    """What it did to the print."""
    instead: int = Field(default=0, ge=0, exclude_if=lambda instead: not instead)
    """The toning it stands in place of, by its number from 1; 0 is one more."""


class Remark(Frozen):
    """Words the printer wrote about a sheet."""

    kind: Literal["remark"] = "remark"
    sheet: str
    text: str = Field(max_length=2000)


class LightChange(Frozen):
    """One light of a recipe before and after a look, in seconds; a light that comes new was 0, one that goes is 0."""

    filter: str
    before: float = Field(ge=0)
    after: float = Field(ge=0)
    twelfths: float = 0.0
    """Of a stop, to half a twelfth; 0 for a light that comes or goes."""


class Looked(Frozen):
    """How a sheet looked to its printer, and what that made; said again, the last counts.

    Each tone from −3, far too light, over −2 (clearly), −1 (a little) and 0 (right) to 3, far too dark.
    """

    kind: Literal["looked"] = "looked"
    sheet: str
    light: int = Field(ge=-3, le=3)
    """The highlight."""
    dark: int = Field(ge=-3, le=3)
    """The shadow."""
    third: int | None = Field(default=None, ge=-3, le=3, exclude_if=lambda third: third is None)
    """A third tone; nothing is reckoned from it."""
    dark_density: float | None = Field(default=None, ge=-0.05, le=4.0, exclude_if=lambda density: density is None)
    """The shadow's print density against a grey scale, where it was matched; it counted in place of the word."""
    recipe: str = ""
    """The recipe that has the new times, with the version that it made; empty where nothing was changed."""
    recipe_version: int = 0
    changes: tuple[LightChange, ...] = ()
    """What the new version changed, a light each."""
    by: Literal["", "paper", "typical", "highlight"] = ""
    """What that rests on: the paper as it was read, a typical one, or the highlight alone."""
    why: str = Field(default="", exclude_if=lambda why: not why)
    """Why the new times are only the nearest, in one sentence."""


class RemarkChanged(Frozen):
    """A remark says something else from here on, or, with no text, is taken back; what it said stays on file."""

    kind: Literal["remark changed"] = "remark changed"
    sheet: str
    remark: int = Field(ge=1)
    """Which one of the sheet's, counted from 1 in the order in which they were written."""
    text: str = Field(max_length=2000)
