"""What a printer asks of contrast, and what is answered: two lights for two tones, or another contrast for one tone.

Frozen models between the page and the desk; nothing here reckons. Seconds of an answer are those of the print's own
set-up, to 0.1 s, and its densities are those that these rounded seconds print.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Literal, Protocol

from pydantic import Field

from controller.model import Frozen
from controller.paper.graphs import Curves, Reach
from controller.paper.ladder import Ladder
from controller.paper.paper import Paper
from controller.paper.tones import Density, PrintDensity, Seconds, TonePlace

if TYPE_CHECKING:
    from controller.recipe.recipe import Recipe
    from controller.store.versions import Kept


class EnlargerStand(Frozen):
    """How the enlarger stands for the print; what is not told counts as it stood for the paper's readings."""

    magnification: float | None = Field(default=None, gt=0.0, le=200.0)
    aperture: float | None = Field(default=None, ge=0.5, le=128.0)


class FlashAsk(Frozen):
    """A flash of so many seconds of the print's own set-up; through an opal it is known by its level alone."""

    seconds: Decimal = Field(gt=0, le=3600)
    filter: Literal["soft", "hard"] = "soft"
    opal: bool = False
    half: bool = False
    """Half of the level that was found."""


class ByNegative(Frozen):
    """Two tones of the negative by their densities: the light one of the print is the denser here."""

    kind: Literal["negative"] = "negative"
    light: Density
    dark: Density


class ByPicks(Frozen):
    """Two tones by picks: of a soft strip, and of a hard strip over that soft base. No densitometer is needed."""

    kind: Literal["picks"] = "picks"
    soft_seconds: Seconds
    hard_seconds: Seconds
    flashed: bool = False
    """Both strips had the print's flash under them."""


class SplitAsk(Frozen):
    """Two tones wanted; a wanted tone is a name or a print density."""

    paper: str
    stand: EnlargerStand = EnlargerStand()
    tones: Annotated[ByNegative | ByPicks, Field(discriminator="kind")]
    light: TonePlace | PrintDensity
    dark: TonePlace | PrintDensity
    callier: float = Field(default=1.0, ge=1.0, le=3.0)
    """What the light source multiplies a densitometer's figures by; strips contain it."""
    flash: FlashAsk | None = None


class HoldAsk(Frozen):
    """Another contrast for a print that is there, one of its tones left as it is."""

    paper: str
    stand: EnlargerStand = EnlargerStand()
    soft_seconds: float = Field(ge=0.0, le=3600.0)
    hard_seconds: float = Field(ge=0.0, le=3600.0)
    held: TonePlace | PrintDensity
    """As it prints now."""
    by: float = Field(ge=-200.0, le=200.0)
    """How much R is to change: less is harder."""
    flash: FlashAsk | None = None
    """That the print has, and keeps."""


class Shade(Frozen):
    """A tone: how dense the negative is there, what it prints, and what a printer calls that."""

    negative_density: float
    density: float
    words: str


class Nudge(Frozen):
    """What a twelfth of a stop more or less of one light does to the light and the dark tone, in density."""

    light: Literal["soft", "hard"]
    more: tuple[float, float]
    less: tuple[float, float]


class Grid(Frozen):
    """Soft against hard seconds; a cell, by its hard row and soft column, has the light and the dark tone's density."""

    soft_seconds: tuple[float, ...]
    hard_seconds: tuple[float, ...]
    cells: tuple[tuple[tuple[float, float], ...], ...]
    chosen: tuple[int, int]
    """Row and column of the answer."""


class FlashSaid(FlashAsk):
    """A flash under two lights, and the print density over white that it has by itself."""

    alone: float


class Lights(Frozen):
    """Two lights, and what they amount to."""

    paper: str
    soft_seconds: Decimal = Field(ge=0)
    hard_seconds: Decimal = Field(ge=0)
    range_stated: int
    range_exact: float
    grade: str
    filter: str
    trust: str
    """The one plain sentence: how far off this may be."""
    advice: tuple[str, ...] = ()
    """What to know or to do, one sentence each."""
    setup: str = ""
    """How the seconds stand to those of the paper's readings; empty where they are the same."""
    flash: FlashSaid | None = None


class Split(Lights):
    """The answer to `SplitAsk`: the pair, or the nearest that can be given and why."""

    reached: bool
    sentence: str
    light: Shade
    dark: Shade
    wanted: tuple[float, float]
    callier: float = 1.0
    """That the negative's densities were multiplied by."""
    least_flash: Decimal | None = None
    """Seconds through soft over which both tones can be had, where they cannot without, and a flash would do."""
    nudges: tuple[Nudge, ...]
    grid: Grid | None
    reach: Reach
    curves: Curves


class Moved(Frozen):
    """A tone of the print before and after."""

    name: str
    before: float
    after: float
    words_before: str
    words_after: str
    held: bool


class HeldTone(Lights):
    """The answer to `HoldAsk`: the pair, or as far as this paper goes and why."""

    reached: bool
    sentence: str
    range_before: int
    tones: tuple[Moved, ...]
    curves: Curves


class Papers(Protocol):
    """The papers on the shelf, as far as contrast needs them."""

    def kept(self) -> Sequence[Kept]:
        """Return the papers at hand, last kept first; not more than a list can show."""

    def called(self, name: str) -> str:
        """Return the id of the last kept paper of that name, or nothing."""

    def fetch(self, source: str, version: int | None = None) -> Paper:
        """Return a paper as it is kept."""

    def ladder(self, source: str, version: int | None = None) -> Ladder:
        """Return the ladder of a paper's own filters, or the typical one where too few were read."""


class Recipes(Protocol):
    """The recipes on the shelf, as far as contrast needs them."""

    def recipe(self, source: str, version: int | None = None) -> Recipe:
        """Return a recipe as it is kept."""

    def save(self, text: str, source: str | None = None) -> Kept:
        """Keep a text as a new version of `source`, or as a new recipe."""
