"""What is typed to carry a recipe over, turned into what the desk is asked; a bad figure is refused at its field."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from controller.carry.changes import FilterStops
from controller.carry.wanted import (
    CarryWanted,
    FlashSeconds,
    FlashStrip,
    FlashWanted,
    KeptPapers,
    NamedPaper,
    NoFlash,
    SizeWanted,
)
from controller.errors import Impossible, Unreadable
from controller.exposure.stops import parse_stops
from controller.store.archive import MOST
from controller.words import say
from webui.frame.context import desk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.recipe.recipe import Recipe
    from webui.forms.form import Fields

NOW: Final = ("now-magnification", "now-aperture", "focal")
SIZE: Final = ("magnification", "image-long", "image-short", "lens-distance", "pupil", "head-height", "paper-size")
PAPER: Final = ("paper-way", "from-paper", "to-paper", "tone-light", "tone-dark", "paper-name", "paper-support")
FLASH: Final = ("flash-way", "flash-seconds", "flash-filter", "flash-sheet", "flash-band", "flash-how")
MOST_FILTERS: Final = 8
STOPS: Final = tuple(f"stops-{n}" for n in range(MOST_FILTERS))
NAMES: Final = (*NOW, *SIZE, "aperture", *PAPER, *STOPS, "dry-down", *FLASH, "version", "title")
PLACES: Final = {
    "size-magnification": "magnification",
    "size-lens_to_easel_mm": "lens-distance",
    "focal_mm": "focal",
    "image_mm": "image-long",
    "lens-aperture": "now-aperture",
    "paper-light": "tone-light",
    "paper-dark": "tone-dark",
    "flash-sheet": "flash-sheet",
    "flash-first_tone_band": "flash-band",
}
"""Fields that are called otherwise than the places of `CarryWanted` and of a recipe."""
_SECONDS: Final = ("0.1", "180")


def carry_wanted(fields: Fields, recipe: Recipe) -> CarryWanted:
    """Return what is asked for.

    Raises:
        Unreadable: a figure is missing or wrong; its place is the field.
    """
    lacks = lacking(recipe)
    return CarryWanted(
        now_magnification=fields.figure("now-magnification", "0.01", "200") if "now-magnification" in lacks else None,
        now_aperture=fields.figure("now-aperture", "0.5", "128") if "now-aperture" in lacks else None,
        focal_mm=fields.figure("focal", "10", "1000") if "focal" in lacks else None,
        size=_size(fields, recipe),
        aperture=fields.figure("aperture", "0.5", "128"),
        paper=_paper(fields, recipe),
        dry_down_percent=fields.figure("dry-down", "0", "50"),
        flash=_flash(fields),
    )


def lacking(recipe: Recipe) -> tuple[str, ...]:
    """Return the fields for what a recipe does not say of its own making."""
    lens = recipe.lens
    told = {
        "now-magnification": recipe.magnification,
        "now-aperture": lens.aperture if lens else None,
        "focal": lens.focal_mm if lens else None,
    }
    return tuple(name for name, value in told.items() if value is None)


def filters_of(recipe: Recipe) -> tuple[str, ...]:
    """Return the filters that another paper has a correction for."""
    return recipe.filter_names()[:MOST_FILTERS]


def threshold_sheets() -> Sequence[tuple[str, str]]:
    """Return the sheets of strips made lately, newest first: what a flash may be found on."""
    found = [
        (line.id, say("carry.sheet", number=line.number, title=line.title))
        for session in desk().sheets(least=MOST).sessions
        for line in reversed(session.sheets)
        if line.kind == "strip"
    ]
    return found[:24]


def _size(fields: Fields, recipe: Recipe) -> SizeWanted | None:
    if not fields.any(*SIZE):
        return None
    pupil = fields.figure("pupil", "0.3", "3")
    return SizeWanted(
        magnification=fields.figure("magnification", "0.01", "200"),
        image_mm=_image(fields, recipe),
        lens_to_easel_mm=fields.figure("lens-distance", "10", "10000"),
        pupil=1.0 if pupil is None else float(pupil),
        head_height_mm=fields.figure("head-height", "0", "10000"),
        paper_size=fields["paper-size"],
    )


def _image(fields: Fields, recipe: Recipe) -> tuple[Decimal, Decimal] | None:
    """Return the new image, longer side first; a side that is left out follows the old image's shape."""
    long, short = fields.figure("image-long", "1", "10000"), fields.figure("image-short", "1", "10000")
    if long is None and short is None:
        return None
    if recipe.image_mm is None and (long is None or short is None):
        missing = "image-long" if long is None else "image-short"
        raise Unreadable(
            say("contrast.missing", label=fields.label(missing), least="1", most="10000"),
            (missing,),
        )
    if recipe.image_mm is not None:
        old_long, old_short = recipe.image_mm
        if long is None:
            assert short is not None
            long = _tenths(old_long * short / old_short)
        elif short is None:
            short = _tenths(old_short * long / old_long)
    assert long is not None
    assert short is not None
    if long < short:
        raise Unreadable(say("carry.longer-first"), ("image-long",))
    return long, short


def _tenths(mm: Decimal) -> Decimal:
    """Return millimetres to a tenth, written without a bare nought behind the point."""
    rounded = round(mm, 1)
    return Decimal(int(rounded)) if rounded == int(rounded) else rounded


def _paper(fields: Fields, recipe: Recipe) -> KeptPapers | NamedPaper | None:
    match fields["paper-way"]:
        case "kept":
            for name in ("from-paper", "to-paper"):
                if not fields[name]:
                    raise Unreadable(say("carry.choose-paper", label=fields.label(name)), (name,))
            tones = [fields.figure(name, "0", "4") for name in ("tone-light", "tone-dark")]
            light, dark = (None if tone is None else float(tone) for tone in tones)
            return KeptPapers(before=fields["from-paper"], after=fields["to-paper"], light=light, dark=dark)
        case "named":
            if not fields["paper-name"]:
                raise Unreadable(say("carry.name-paper"), ("paper-name",))
            stops = tuple(_stops(fields, n, name) for n, name in enumerate(filters_of(recipe)))
            support: Any = fields["paper-support"] if fields["paper-support"] in ("RC", "FB") else None
            return NamedPaper(name=fields["paper-name"], support=support, stops=stops)
    return None


def _stops(fields: Fields, number: int, name: str) -> FilterStops:
    field = f"stops-{number}"
    try:
        return FilterStops(filter=name, stops=float(parse_stops(fields[field] or "0")))
    except Impossible as error:
        raise Unreadable(str(error), (field,)) from None


def _flash(fields: Fields) -> FlashWanted | None:
    way: Any = "opal under the lens" if fields["flash-how"] == "opal under the lens" else "no negative"
    match fields["flash-way"]:
        case "seconds":
            seconds = fields.needed("flash-seconds", *_SECONDS)
            return FlashSeconds(seconds=seconds, filter=fields["flash-filter"] or None, way=way)
        case "strip":
            if not fields["flash-sheet"]:
                raise Unreadable(say("carry.choose-sheet"), ("flash-sheet",))
            band = fields.needed("flash-band", "1", "24")
            if band != int(band):
                raise Unreadable(say("carry.whole-band"), ("flash-band",))
            return FlashStrip(sheet=fields["flash-sheet"], first_tone_band=int(band), way=way)
        case "none":
            return NoFlash()
    return None
