"""What a recipe can be carried over to: another size, aperture, paper, dry-down or flash; as frozen models."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from controller.fields import Aperture, FilterName, HeadHeight, Magnification, Millimetres, Percent
from controller.paper.typed import Stops
from controller.recipes import Flash, Paper
from controller.sheet import Frozen


class ToSize(Frozen):
    """Another size: by magnification, or by the projected image where the recipe has its own size and magnification."""

    kind: Literal["size"] = "size"
    magnification: Magnification | None = None
    image_mm: tuple[Millimetres, Millimetres] | None = None
    pupil: Annotated[float, Field(ge=0.3, le=3.0)] = 1.0
    head_height_mm: HeadHeight | None = None
    """The column's reading at the new size, where the printer has read it; else reckoned from the focal length."""
    paper_size: str | None = None


class ToAperture(Frozen):
    """Another marked aperture."""

    kind: Literal["aperture"] = "aperture"
    aperture: Aperture


class FilterStops(Frozen):
    """How much more time one filter needs on another paper, in stops."""

    filter: FilterName
    stops: Stops


class ToPaper(Frozen):
    """Another paper, with its own correction for each filter, its dry-down, and its flash where that is known."""

    kind: Literal["paper"] = "paper"
    paper: Paper
    stops: tuple[FilterStops, ...]
    dry_down_percent: Percent | None = None
    flash: Flash | None = None


class ToDryDown(Frozen):
    """Another dry-down."""

    kind: Literal["dry-down"] = "dry-down"
    dry_down_percent: Percent | None


class ToFlash(Frozen):
    """Another flash, from a threshold strip; or none."""

    kind: Literal["flash"] = "flash"
    flash: Flash | None


Change = Annotated[ToSize | ToAperture | ToPaper | ToDryDown | ToFlash, Field(discriminator="kind")]
