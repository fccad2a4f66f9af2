"""What a preview is made of, as frozen values: two known tones, the lights, the areas; and what comes back.

An order goes to a process of its own as a line of JSON; nothing here loads numpy.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.paper.paper import Paper

Light = Literal["soft", "hard"]
How = Literal["flatbed", "light table"]
"""A scan by transmission, or a photograph of the negative over a light table."""
GRID_SIDE: Final = 5
"""Prints along each side of a grid."""
MOST_SIDE: Final = 1600
"""Pixels along the longer side of one print."""
Share = Annotated[float, Field(ge=-1.0, le=2.0)]


class Tie(Frozen):
    """A tone of a scan whose density at the easel is known; its place as shares, from the left and from the top."""

    x: float
    y: float
    density: float = Field(ge=-3.0, le=6.0)
    """Below 0 only where a paper is taken to be slower than it is."""
    doubt: float = Field(default=0.02, ge=0.0, le=2.0)
    """The standard deviation of that density."""


class Lit(Frozen):
    """Seconds of one light, and what part of the picture they reach.

    "all" of it through the negative; "past" a dodger over the areas; through a "hole" over them; along the "edge"s
    that a card leaves open; "bare": everywhere alike, without the negative; or the same through it and an "opal" glass.
    """

    light: Light
    seconds: float = Field(ge=0.0)
    way: Literal["all", "past", "hole", "edge", "bare", "opal"] = "all"
    areas: tuple[str, ...] = ()
    """Letters of areas, or names of edges."""
    masked: tuple[str, ...] = ()
    """Letters of masks that lie in it."""


class DrawnArea(Frozen):
    """An area of the printing map: its outline as shares of the picture, and how soft its tool's edge is."""

    letter: str
    outline: Annotated[tuple[tuple[Share, Share], ...], Field(min_length=3, max_length=400)]
    still: bool = False
    """Its tool lies or is fixed; no hand moves it."""
    spread: float = Field(default=0.0, ge=0.0, le=10.0)
    """Of its tool's half-shadow, the standard deviation as a share of the picture's longer side."""


class Order(Frozen):
    """What is to be shown: one print, or 25 of a grid, row by row."""

    paper: Paper
    factor: float = Field(default=1.0, gt=0.0)
    """The print's seconds to those of the paper's readings."""
    typical: bool = False
    """The paper is a typical one."""
    how: How = "flatbed"
    ties: tuple[Tie, ...]
    prints: Annotated[tuple[tuple[Lit, ...], ...], Field(min_length=1, max_length=GRID_SIDE**2)]
    areas: Annotated[tuple[DrawnArea, ...], Field(max_length=60)] = ()
    wet_percent: float = Field(default=0.0, ge=0.0, le=50.0)
    """How much less light a wet print looks to have had; 0 for a dry one."""
    show_white: bool = False
    show_black: bool = False
    side: int = Field(default=1000, ge=8, le=MOST_SIDE)
    """Pixels along the longer side of each print."""
    at: tuple[float, float] | None = None
    """A place whose density is asked for."""


class Shown(Frozen):
    """What a preview comes to: figures of its print, or of the middle one of a grid."""

    width: int
    height: int
    mean_density: float
    paper_white_share: float
    """Of the picture: less than 0.04 over paper white."""
    black_share: float
    """Of the picture: as black as the paper's words for it (`controller.paper.tones`)."""
    doubt: float
    """The standard deviation of a print density, over the picture's tones."""
    polarity: Literal["negative", "positive"]
    factor: float
    """Contrast of the film against that of the scan."""
    plain: bool
    """The scan's contrast is that of a plain one; where it is not, tones beside the two known ones are less sure."""
    density_at: float | None = None
    """At the place that was asked for: of the print."""
    doubt_at: float | None = None
    negative_at: float | None = None
    """At the same place, of the negative."""
