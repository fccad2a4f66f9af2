"""What a printer writes and keeps of a test strip: `treadle/strip/1`, as frozen models."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import Discriminator, Field, PlainValidator, Tag

from controller.model import Frozen
from controller.recipe.fields import (
    Bands,
    FilterName,
    GapSeconds,
    HeadHeight,
    Magnification,
    Seconds,
    Sheets,
    Stops,
    Words,
    YesOrNo,
    refusal,
    told,
)
from controller.recipe.plan import Template
from controller.recipe.recipe import Filters, FilterTime, Flash, Lens, Negative, Paper

STRIP: Final = "treadle/strip/1"


class EvenTimes(Frozen):
    """Every band a fixed number of seconds more than the one before."""

    kind: Literal["seconds"]
    step: Seconds
    bands: Bands


class StopTimes(Frozen):
    """Every band a fixed step of stops more than the one before, around a centre.

    With `none_first` band 1 gets none of it, and the others are the strip: what lies under it is then seen alone.
    """

    kind: Literal["stops"]
    centre: Seconds
    step: Stops
    bands: Bands
    none_first: YesOrNo | None = None


class BurnTimes(Frozen):
    """Burns of more and more stops over a base; the first band gets the base only."""

    kind: Literal["burn"]
    base: Seconds
    step: Stops
    bands: Bands


class SheetTimes(Frozen):
    """No bands: whole sheets, one after the other, each flashed alike before any of them is printed on."""

    kind: Literal["sheets"]
    seconds: Seconds
    sheets: Sheets

    @property
    def bands(self) -> int:
        """One light a sheet."""
        return self.sheets


Times = Annotated[EvenTimes | StopTimes | BurnTimes | SheetTimes, Field(discriminator="kind")]


class Rhythm(Frozen):
    """The bands follow each other by themselves, with a gap to move the card in."""

    kind: Literal["rhythm"]
    gap_seconds: GapSeconds


def _pace_word(value: object) -> str:
    if value not in ("press", "long"):
        raise refusal("recipe.pace", found=told(value))
    return str(value)


Pace = Annotated[
    Annotated[Literal["press", "long"], PlainValidator(_pace_word), Tag("word")] | Annotated[Rhythm, Tag("rhythm")],
    Discriminator(lambda value: "rhythm" if isinstance(value, dict | Rhythm) else "word"),
]
"""A press a band, one long light with a cue at each total, or a rhythm."""


class Strip(Frozen):
    """One test strip: what its bands get, and how the card goes."""

    format: Literal["treadle/strip/1"] = STRIP
    title: Words
    filter: FilterName
    times: Times
    card: Literal["cover", "uncover", "window"]
    pace: Pace
    under: Annotated[tuple[FilterTime, ...], Field(max_length=4)] = ()
    """Over the whole strip, before the bands."""
    after: Annotated[tuple[FilterTime, ...], Field(max_length=4)] = ()
    """Over the whole strip, after the bands."""
    negative: Negative | None = None
    paper: Paper | None = None
    lens: Lens | None = None
    head_height_mm: HeadHeight | None = None
    magnification: Magnification | None = None
    filters: Filters | None = None
    template: Template | None = None
    """What it was made for, where a template made it."""
    flash: Flash | None = None
    """Under the whole strip, as the print will have it."""
    opal: YesOrNo | None = None
    """Of a threshold strip: its bands were given with the negative in, through an opal under the lens."""


def plain_strip(title: str, filter_name: str, aperture: str) -> Strip:
    """Return a strip that says nothing but how the lens stands: what stands for a plan that is on no shelf."""
    lens = {"lens": {"aperture": float(aperture)}} if aperture else {}
    times = {"kind": "seconds", "step": 1, "bands": 2}
    return Strip.model_validate(
        {"title": title, "filter": filter_name or "soft", "times": times, "card": "window", "pace": "press"} | lens
    )


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return a strip's tree in today's form. There is one form so far, so it is returned as it is."""
    return tree
