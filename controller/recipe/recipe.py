"""What a printer writes and keeps of a print: `treadle/recipe/1`, as frozen models that keep every typed value."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, model_validator

from controller.exposure.stops import parse_more_stops
from controller.model import Frozen
from controller.recipe.fields import (
    BOTH,
    Aperture,
    Area,
    Celsius,
    FilterName,
    FilterOrBoth,
    HeadHeight,
    Magnification,
    Millimetres,
    Notes,
    Percent,
    Seconds,
    Stops,
    TraySeconds,
    Words,
    YesOrNo,
    refusal,
)

RECIPE: Final = "treadle/recipe/1"
Edge = Literal["top", "right", "bottom", "left"]


class FilterTime(Frozen):
    """A time through a filter."""

    filter: FilterName
    seconds: Seconds


class Negative(Frozen):
    """Which negative, and its format ("4x5", "24x36")."""

    name: Words
    format: Words | None = None


class Paper(Frozen):
    """Which paper, on what support, how large: as much of it as is known, so that RC or FB can be said alone."""

    name: Words | None = None
    support: Literal["RC", "FB"] | None = None
    size: Words | None = None


class Lens(Frozen):
    """The enlarging lens, and the aperture as marked on its ring."""

    focal_mm: Millimetres | None = None
    aperture: Aperture | None = None

    @property
    def marked(self) -> str:
        """The f-number as text, or nothing."""
        return "" if self.aperture is None else f"{self.aperture:f}"


class Filters(Frozen):
    """What is written on the filters that this printer calls soft and hard."""

    soft: FilterName | None = None
    hard: FilterName | None = None


class Developer(Frozen):
    """The paper developer, as used."""

    name: Words
    dilution: Words | None = None
    celsius: Celsius | None = None
    seconds: TraySeconds | None = None


class Flash(Frozen):
    """Light just under the threshold, before the print; through the first base's filter unless told."""

    seconds: Seconds
    filter: FilterName | None = None
    way: Literal["no negative", "opal under the lens"]
    beforehand: YesOrNo | None = None
    """The paper was flashed before, several sheets in one go: a sheet's steps then leave the flash out."""


class _Work(Frozen):
    area: Area
    """A letter of the printing map."""
    what: Words | None = None
    filter: FilterOrBoth
    stops: Stops | None = None
    seconds: Seconds | None = None

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        if (self.stops is None) == (self.seconds is None):
            raise refusal("recipe.stops-or-seconds", at=("stops",))
        return self

    @property
    def exact_stops(self) -> Fraction | None:
        """The stops as an exact fraction; None where the work is in seconds."""
        return None if self.stops is None else parse_more_stops(self.stops)


class Burn(_Work):
    """More light for an area."""

    act: Literal["burn"]


class Dodge(_Work):
    """Less light for an area: as parts of the base (unless told), or in one running light."""

    act: Literal["dodge"]
    how: Literal["parts", "running"] | None = None


class EdgeBurn(_Work):
    """More light for one to four edges, one step each."""

    act: Literal["edge burn"]
    edges: Annotated[tuple[Edge, ...], Field(min_length=1, max_length=4)]

    @model_validator(mode="after")
    def _edges_once(self) -> Self:
        if len(set(self.edges)) < len(self.edges):
            raise refusal("recipe.edge-twice", at=("edges",))
        return self


Work = Annotated[Burn | Dodge | EdgeBurn, Field(discriminator="act")]


class Recipe(Frozen):
    """How to make one print: bases in the order given, and local work on them."""

    format: Literal["treadle/recipe/1"] = RECIPE
    title: Words
    light: Annotated[tuple[FilterTime, ...], Field(min_length=1, max_length=4)]
    local: Annotated[tuple[Work, ...], Field(max_length=60)]
    negative: Negative | None = None
    paper: Paper | None = None
    image_mm: tuple[Millimetres, Millimetres] | None = None
    magnification: Magnification | None = None
    lens: Lens | None = None
    head_height_mm: HeadHeight | None = None
    filters: Filters | None = None
    developer: Developer | None = None
    dry_down_percent: Percent | None = None
    flash: Flash | None = None
    notes: Notes | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        bases = [light.filter for light in self.light]
        for number, name in enumerate(bases, 1):
            if name in bases[: number - 1]:
                raise refusal("recipe.base-twice", at=("light", number - 1, "filter"), filter=name)
        for number, work in enumerate(self.local, 1):
            needs = isinstance(work, Dodge) or work.stops is not None
            if needs and work.filter not in (BOTH, *bases):
                raise refusal(
                    "recipe.no-base", at=("local", number - 1, "filter"), filter=work.filter, bases=", ".join(bases)
                )
        if self.image_mm is not None and self.image_mm[0] < self.image_mm[1]:
            raise refusal("recipe.longer-first", at=("image_mm",), found=" × ".join(map(str, self.image_mm)))
        return self

    def base(self, name: str) -> FilterTime | None:
        """Return the base through the filter `name`."""
        return next((light for light in self.light if light.filter == name), None)

    def filter_names(self) -> tuple[str, ...]:
        """Return every filter that it names, each once: those of its bases, of its local work, of its flash."""
        named = [each.filter for each in (*self.light, *self.local) if each.filter != BOTH]
        named += [self.flash.filter] if self.flash is not None and self.flash.filter is not None else []
        return tuple(dict.fromkeys(named))


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return a recipe's tree in today's form. There is one form so far, so it is returned as it is."""
    return tree
