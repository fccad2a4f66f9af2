"""What a light sensor says of a step's light, as rows of the journal: how strong it was, and what counts."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen

Wrong = Literal["open", "filter", "dazzled"]
"""What stops a light in its first half second: the lens stands open, another filter is in, the sensor is dazzled."""


class LevelKey(Frozen):
    """What must be the same for two levels to be those of the same light; what is not known is empty or None."""

    negative: str = Field(default="", exclude_if=lambda negative: not negative)
    carrier: str = Field(default="", exclude_if=lambda carrier: not carrier)
    """The format of the negative that it holds."""
    filter: str = ""
    f_number: str = Field(default="", exclude_if=lambda marked: not marked)
    """As marked on the lens's ring."""
    head_height_mm: float | None = Field(default=None, exclude_if=lambda height: height is None)


class WrongLight(Frozen):
    """A light that was far too strong, and what of it counts to its step; filed with the fact of the light itself.

    Times are of full light, in ns, lamp lag taken off.
    """

    kind: Literal["wrong light"] = "wrong light"
    sheet: str = ""
    light: str
    found: Wrong
    stops: float | None = None
    """How much stronger than the last good one; None where the sensor was dazzled."""
    filter: str = ""
    """The filter that it came through, where another was in than the step's."""
    least_ns: int = Field(ge=0)
    most_ns: int = Field(ge=0)
    counts_ns: int | None = Field(default=None, ge=0)
    """What the rest is reckoned by; None where it is not known, and least and most stand in doubt."""


class GainRatio(Frozen):
    """How many times more a sensor counts through a gain than through the one below; `uncertain` as a share."""

    low: Literal["low", "medium", "high"]
    ratio: float = Field(gt=1.0, le=1000.0)
    uncertain: float = Field(ge=0.0, le=1.0)
    """One standard deviation."""


class GainsMeasured(Frozen):
    """What one steady light told of a sensor's gains: the steps for which it was neither too much nor too little."""

    kind: Literal["gains"] = "gains"
    sensor: str
    ratios: tuple[GainRatio, ...] = Field(min_length=1, max_length=3)


class Dose(Frozen):
    """How strong a light was: its level in counts a second, by the sensor `sensor` at its gain, the dark taken off.

    Where a hand was in the light, the level is that of the cycles in which the least stood before the sensor.
    """

    kind: Literal["dose"] = "dose"
    sheet: str = ""
    light: str
    sensor: str
    level: float = Field(gt=0.0)
    at: LevelKey
    stops: float | None = None
    """What it gave against what its time stands for, in stops; None where no good level was known."""
    good: bool = False
    """It counts for what a good light's level is, from here on."""
