"""From the set-up a paper was read at to the one a print is made at: seconds hold for one light at the easel."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from statistics import geometric_mean
from typing import Annotated, Any, Final, Literal

from pydantic import Field, model_validator

from controller.exposure.size import aperture_factor, size_factor
from controller.keeping import Keeps, ThingKind
from controller.model import Frozen
from controller.paper.readings import MOST_EXPOSURES, Exposure, Readings
from controller.paper.tones import Stops
from controller.recipe import versioned
from controller.recipe.versioned import VersionedForm
from controller.words import say


def set_up_factor(
    read_at: Setup, magnification: float | None, aperture: float | None, pupil: float = 1.0
) -> tuple[float, bool]:
    """Return what a paper's seconds are multiplied by at another magnification and marked aperture.

    Also whether that is all: False where either set-up does not say one of them, which then counts as the same.
    (1 + m/P)² and marked stops, as `printing.size` and `printing.aperture`.
    """
    factor, whole = Fraction(1), True
    if read_at.magnification is not None and magnification is not None:
        factor *= size_factor(_exact(read_at.magnification), _exact(magnification), _exact(pupil))
    else:
        whole = False
    if read_at.aperture is not None and aperture is not None:
        factor *= aperture_factor(read_at.aperture, aperture)
    else:
        whole = False
    return float(factor), whole


def seconds_factor(
    paper: Paper, magnification: float | None, aperture: float | None, pupil: float = 1.0
) -> tuple[float, bool]:
    """Return what this paper's own seconds are multiplied by at another set-up, and whether that is all.

    As `set_up_factor`; a paper that fails in long light, by its exponent p, takes that to the power 1/p.
    """
    factor, whole = set_up_factor(paper.setup, magnification, aperture, pupil)
    return (factor if paper.exponent == 1.0 else factor ** (1.0 / paper.exponent)), whole


def _exact(value: float) -> Fraction:
    return Fraction(str(value))


PAPER: Final = "treadle/paper/1"
LEAST_EXPONENT: Final = 0.5
MOST_EXPONENT: Final = 1.5
"""Between these a reciprocity exponent may be told; a paper tests much nearer to 1."""
USUAL_SECONDS: Final = 10.0
"""What a light of a paper's prints is taken to have lasted where no reading says it: common practice, 10 to 40 s."""

Shape = Literal["logistic", "normal"]
Speed = Annotated[float, Field(strict=True, ge=-12.0, le=12.0)]
"""log10 of 1/(seconds of a light at which an emulsion is half way, with no density in the way)."""


class Emulsion(Frozen):
    """One of the emulsions that a paper is a mixture of: its share of the density, its speed to either light."""

    weight: float = Field(strict=True, gt=0.0, le=1.0)
    soft_speed: Speed
    hard_speed: Speed


class Box(Frozen):
    """The box that the readings belong to: what is written on it, and the day it was read."""

    label: str = Field(default="", max_length=80)
    dated: date


class Setup(Frozen):
    """How the enlarger stood for the readings; the paper's seconds hold for this light."""

    magnification: float | None = Field(default=None, gt=0.0, le=200.0)
    aperture: float | None = Field(default=None, ge=0.5, le=128.0)
    head_height_mm: float | None = Field(default=None, ge=0.0, le=10000.0)
    soft_filter: str = Field(default="", max_length=12)
    hard_filter: str = Field(default="", max_length=12)


class Reference(Frozen):
    """The light at the easel that the tablet was printed with, measured with an empty carrier.

    `level` is counts a second of the sensor at its gain, the dark taken off; `box` is the label of the box it is for.
    """

    level: float = Field(strict=True, gt=0.0, le=1e9)
    sensor: str = Field(min_length=1, max_length=40)
    gain: str = Field(default="", max_length=12)
    filter: str = Field(default="", max_length=12)
    setup: Setup = Setup()
    box: str = Field(default="", max_length=80)
    date: date


class Reciprocity(Frozen):
    """How a paper fails in long light, as a test found it: seconds count as t^p. p is 1 where it does not fail."""

    exponent: float = Field(strict=True, ge=LEAST_EXPONENT, le=MOST_EXPONENT)
    date: date


class SpeedChange(Frozen):
    """What one check strip said: how much faster this box is than the readings, in stops of either light."""

    box: Box
    soft_stops: Stops
    hard_stops: Stops


class Paper(Frozen):
    """A variable-contrast paper, fitted to its readings.

    `doubt` has one row for each thing that was fitted and one column for each figure (Dmin, Dmax, ln contrast,
    ln shoulder, weights, soft speeds, hard speeds); its rows are independent standard deviations.
    """

    format: Literal["treadle/paper/1"] = PAPER
    name: str = Field(min_length=1, max_length=80)
    version: int = Field(default=1, strict=True, ge=1)
    box: Box
    setup: Setup = Setup()
    shape: Shape
    contrast: float = Field(strict=True, gt=0.0, le=100.0)
    shoulder: float = Field(strict=True, gt=0.05, le=20.0)
    dmin: float = Field(strict=True, ge=-0.05, le=1.0)
    dmax: float = Field(strict=True, ge=0.1, le=4.0)
    emulsions: Annotated[tuple[Emulsion, ...], Field(min_length=1, max_length=8)]
    rms_density: float = Field(strict=True, ge=0.0, le=4.0)
    worst_density: float = Field(strict=True, ge=0.0, le=4.0)
    doubt: tuple[tuple[float, ...], ...] = ()
    speeds: Annotated[tuple[SpeedChange, ...], Field(max_length=200)] = ()
    readings: Readings | None = None
    filters: Annotated[tuple[Exposure, ...], Field(max_length=MOST_EXPOSURES)] = ()
    """Prints of the tablet through single filters, each under its filter's name."""
    reference: Reference | None = Field(default=None, exclude_if=lambda reference: reference is None)
    """The light that its prints were made with, as a probe at the easel counted it; None where it was not measured."""
    reciprocity: Reciprocity | None = Field(default=None, exclude_if=lambda reciprocity: reciprocity is None)
    """None where it was not tested: then its seconds count as they are."""

    @property
    def exponent(self) -> float:
        """Its reciprocity exponent; 1 where it was not tested."""
        return 1.0 if self.reciprocity is None else self.reciprocity.exponent

    @property
    def read_seconds(self) -> tuple[float, float]:
        """How long soft and hard light lasted for its prints: the geometric mean of each, where its seconds hold."""
        exposures = self.readings.exposures if self.readings is not None else ()
        soft = [each.soft_seconds for each in exposures if each.soft_seconds > 0.0]
        hard = [each.hard_seconds for each in exposures if each.hard_seconds > 0.0]
        return geometric_mean(soft or [USUAL_SECONDS]), geometric_mean(hard or [USUAL_SECONDS])

    @model_validator(mode="after")
    def _adds_up(self) -> Paper:
        if abs(sum(each.weight for each in self.emulsions) - 1.0) > 1e-6:
            raise ValueError(say("paper.weights"))
        if self.dmax - self.dmin < 0.1:
            raise ValueError(say("paper.no-scale"))
        names = [each.filter for each in self.filters]
        if "" in names or len(set(names)) < len(names):
            raise ValueError(say("paper.filter-names"))
        columns = 4 + 3 * len(self.emulsions)
        if any(len(row) != columns for row in self.doubt):
            raise ValueError(say("paper.doubt", columns=columns))
        return self


def read_paper(text: str | bytes, name: str) -> Paper:
    """Return the paper that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _FORM)


def write_paper(paper: Paper) -> str:
    """Return the file of a paper; `read_paper` reads the same paper from it."""
    return json.dumps(paper.model_dump(mode="json"), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return a paper's tree in today's form. There is one form so far, so it is returned as it is."""
    return tree


_FORM: Final = VersionedForm(PAPER, Paper, upgrade)
KEEPS: Final = Keeps(
    room="paper", things=(ThingKind("paper", "papers", PAPER, lambda text, name: read_paper(text, name).name),)
)
