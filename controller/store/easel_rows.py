"""What the journal says of readings at the easel: a spot, and which spots a reading goes by."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger


class SpotRead(Frozen):
    """A spot of the negative was measured at the easel, or empty light: as a paper's reference, or for its evenness."""

    kind: Literal["read"] = "read"
    readings: str
    """Names the readings that it was measured in."""
    what: Literal["spots", "reference", "evenness"] = "spots"
    spot: str
    level: float = Field(gt=0.0)
    """Counts a second through `gain`, the dark taken off."""
    dark: float = Field(ge=0.0)
    """What the dark counted, in the same unit."""
    gain: str
    sensor: str
    doubt: float = Field(default=0.0, ge=0.0, exclude_if=lambda doubt: not doubt)
    """The standard deviation of its density, from how its counts scatter."""
    filter: str = ""
    """What was in the drawer, as far as it was said."""
    bench: AtEnlarger = AtEnlarger()
    """What stood at the enlarger."""


class SpotsTaken(Frozen):
    """A recipe was made from two spots, so that a look at its print teaches what error all spots of the evening share.

    The densities are as measured, nothing added; the wished ones are what the pair was to print.
    """

    kind: Literal["spots taken"] = "spots taken"
    recipe: str
    version: int
    paper: str
    """Its id on the shelf."""
    box: str
    """The box's label."""
    light_density: float
    dark_density: float
    light_wanted: float
    dark_wanted: float
    soft_seconds: float = Field(ge=0.0)
    hard_seconds: float = Field(ge=0.0)
