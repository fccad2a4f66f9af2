"""The lamp check as a test of a test evening, pure: it has rows of its own, and stands beside the others."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen


class LampFound(Frozen):
    """What the last lamp check said."""

    trial: Literal["lamp"] = "lamp"
    level: float = Field(gt=0.0)
    """Counts of the sensor."""
    sensor: str
    stops: float | None = None
    """Over 0: stronger than the light that it is held against; None where it is that light itself."""
