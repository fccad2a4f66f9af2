"""What a recipe is to be carried over to, as a printer says it; and what is kept of it: `treadle/carry/1`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from decimal import Decimal
from typing import Annotated, Final, Literal

from pydantic import Field

from controller.carry.carry import Carried
from controller.carry.changes import FilterStops
from controller.carry.moved import PaperThen
from controller.errors import NotThere, Unreadable
from controller.keeping import LOOKED_AT, Derived, Execute, Keeps, ThingKind
from controller.model import Frozen
from controller.paper.tones import PrintDensity
from controller.recipe import versioned
from controller.recipe.fields import (
    Aperture,
    FilterName,
    HeadHeight,
    Magnification,
    Millimetres,
    Percent,
    Seconds,
    Words,
)
from controller.recipe.strip import Strip
from controller.recipe.versioned import VersionedForm
from controller.store.shelf import Shelf
from controller.store.threads import CARRIED_TABLES, note_carried
from controller.store.versions import Kept
from controller.words import say

CARRY: Final = "treadle/carry/1"


class SizeWanted(Frozen):
    """Another size, by magnification, by the projected image, or by how far the lens stands from the easel."""

    magnification: Magnification | None = None
    image_mm: tuple[Millimetres, Millimetres] | None = None
    lens_to_easel_mm: Millimetres | None = None
    pupil: Annotated[float, Field(ge=0.3, le=3.0)] = 1.0
    head_height_mm: HeadHeight | None = None
    paper_size: str = Field(default="", max_length=200)


class KeptPapers(Frozen):
    """Another paper, both of them on the shelf with their readings: the corrections are reckoned."""

    kind: Literal["kept"] = "kept"
    before: str
    after: str
    light: PrintDensity | None = None
    """The print densities, on the old paper, of the two tones to match; first tone and last detail unless told."""
    dark: PrintDensity | None = None


class NamedPaper(Frozen):
    """Another paper by its name, with the printer's own correction for each filter."""

    kind: Literal["named"] = "named"
    name: Words
    support: Literal["RC", "FB"] | None = None
    stops: tuple[FilterStops, ...]


class FlashSeconds(Frozen):
    """A flash of so many seconds."""

    kind: Literal["seconds"] = "seconds"
    seconds: Seconds
    filter: FilterName | None = None
    way: Literal["no negative", "opal under the lens"]


class FlashStrip(Frozen):
    """A flash from a threshold strip: the sheet of a strip made without a negative, and its first band with a tone."""

    kind: Literal["strip"] = "strip"
    sheet: str
    first_tone_band: int
    way: Literal["no negative", "opal under the lens"]


class NoFlash(Frozen):
    """No flash any more."""

    kind: Literal["none"] = "none"


FlashWanted = Annotated[FlashSeconds | FlashStrip | NoFlash, Field(discriminator="kind")]


class CarryWanted(Frozen):
    """One act of carrying over; what is None stays as it is."""

    now_magnification: Magnification | None = None
    """Of the recipe as it is, where it does not say it itself; the next two likewise."""
    now_aperture: Aperture | None = None
    focal_mm: Millimetres | None = None
    size: SizeWanted | None = None
    aperture: Aperture | None = None
    paper: Annotated[KeptPapers | NamedPaper, Field(discriminator="kind")] | None = None
    dry_down_percent: Percent | None = None
    """0 is none."""
    flash: FlashWanted | None = None
    moved: PaperThen | None = None
    """Paper and lamp as they stood when what had moved was carried over; None where nothing had."""
    exponent: Annotated[float, Field(ge=0.5, le=1.5)] = 1.0
    """Reciprocity: what was carried with, by the paper's own test; asked where that is not known."""

    @property
    def changes_nothing(self) -> bool:
        """Nothing is asked for."""
        return (self.size, self.aperture, self.paper, self.dry_down_percent, self.flash) == (None,) * 5


class Distances(Frozen):
    """Where the lens stands, by a thin lens, in mm."""

    lens_to_easel_mm: Decimal
    lens_to_negative_mm: Decimal


class Preview(Frozen):
    """A recipe carried over, before anything is kept."""

    carried: Carried
    strips: tuple[Strip, ...]
    """The check strips that will confirm it; none where its bases are too short or too long for one."""
    sentence: str
    notes: tuple[str, ...]
    distances: tuple[Distances, Distances] | None = None
    """Old and new, where the focal length is known."""
    unsure: str = ""
    """Why a check strip's pick will not be taken over, where it would not."""
    exponent: float = 1.0
    """The reciprocity exponent that it was carried with."""


class Link(Frozen):
    """A version of something on the shelf."""

    id: str
    version: int


class Carry(Frozen):
    """What was carried over: from which recipe to which, how, and the strips that confirm it."""

    format: Literal["treadle/carry/1"] = CARRY
    source: Link
    recipe: Link
    """As it was when it was carried; its later versions are the same recipe, corrected."""
    strips: tuple[Link, ...]
    apart: bool
    """Each filter has a strip of its own, whose pick corrects that filter alone."""
    wanted: CarryWanted


def write_carry(carry: Carry) -> str:
    """Return the text of what was carried over; `read_carry` reads the same from it."""
    return carry.model_dump_json(indent=1, exclude_none=True) + "\n"


def read_carry(text: str, name: str = "") -> Carry:
    """Return what was carried over; `name` is the file's, for the refusal.

    Raises:
        Unreadable: it was written by a newer version of this software, or damaged.
    """
    return versioned.read(text, name or say("carry.kept"), _FORM)


_FORM: Final = VersionedForm(CARRY, Carry)


def _title(text: str, name: str) -> str:
    read_carry(text, name)
    return ""


def _check(shelf: Shelf) -> Iterator[str]:
    """Give a sentence for each of the last carried whose recipes or check strips are not on the shelf."""
    for kept in shelf.latest("carry", limit=LOOKED_AT):
        with suppress(Unreadable):  # of a newer version: said of the thing itself
            made = read_carry(kept.body)
            for link in (made.source, made.recipe, *made.strips):
                try:
                    shelf.get(link.id, link.version)
                except NotThere:
                    yield say("carry.link-gone", title=kept.title, id=link.id, version=link.version)


def _note(execute: Execute, _place: int, kept: Kept) -> None:
    note_carried(execute, kept.id, (), "", 0)
    made = read_carry(kept.body)
    note_carried(
        execute, kept.id, (each.id for each in (made.recipe, *made.strips)), made.source.id, made.source.version
    )


KEEPS: Final = Keeps(
    room="carry",
    things=(ThingKind("carry", "carried", CARRY, _title, by_itself=False),),
    derived=(Derived(of=("carry",), tables=CARRIED_TABLES, note=_note),),
    check=_check,
)
