"""The kinds of number that papers and readings hold, each with its limits; numbers only, never text."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.printing.stops import shown

__all__ = ["Density", "LightSeconds", "PrintDensity", "Seconds", "Stops", "shown"]

Density = Annotated[float, Field(strict=True, ge=0.0, le=6.0)]
"""Of a negative or tablet."""
PrintDensity = Annotated[float, Field(strict=True, ge=-0.05, le=4.0)]
"""As read; a densitometer set to zero on paper white may read a little under it."""
LightSeconds = Annotated[float, Field(strict=True, ge=0.0, le=3600.0)]
"""Through one filter; none is none."""
Seconds = Annotated[float, Field(strict=True, gt=0.0, le=3600.0)]
Stops = Annotated[float, Field(strict=True, ge=-6.0, le=6.0)]
