"""What is typed on the contrast pages, turned into what the desk is asked; a bad figure is refused at its field."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Final, get_args

from controller.contrast.asks import ByNegative, ByPicks, EnlargerStand, FlashAsk, HoldAsk, SplitAsk
from controller.errors import NotThere, Unreadable
from controller.exposure.decimals import decimal_within
from controller.paper.ladder import Ladder
from controller.paper.negative import FilterPicks, MatchedPicks, Measured, NegativeAsk
from controller.paper.tones import TonePlace
from controller.store.archive import MOST
from controller.words import say
from webui.forms.flash import FLASH, flash_asked, opal_choice
from webui.forms.form import MOST_PLACES
from webui.frame.context import desk

if TYPE_CHECKING:
    from webui.forms.form import Fields

STAND: Final = ("paper", "recipe", "magnification", "aperture")
SPLIT: Final = (
    *STAND,
    *("by", "light-negative", "dark-negative", "soft-pick", "soft-picked", "hard-pick", "hard-picked"),
    *("light", "light-own", "dark", "dark-own"),
    *FLASH,
    "flashed",
)
HOLD: Final = (*STAND, "soft-seconds", "hard-seconds", "held", "held-own", "by-r", "by-own")
NEGATIVE: Final = (
    *("paper", "recipe", "by", "thin", "dense", "source", "callier", "flare"),
    *("first-tone", "full-black", "through", "through-own", "dense-seconds", "thin-seconds"),
)
LIGHT_TONES: Final = ("first", "skin", "middle")
DARK_TONES: Final = ("dark", "last", "black")
HELD_TONES: Final = ("first", "skin", "middle", "dark", "last")
R_STEPS: Final = ("-30", "-20", "-10", "10", "20", "30")
"""How much R changes: about a grade, two thirds and a third of one, either way (common practice)."""


@dataclass(frozen=True)
class PickedBand:
    """A band that was picked before: where, and the seconds it stands for."""

    seconds: str
    words: str


def split_ask(fields: Fields) -> SplitAsk:
    """Return what is asked for two tones.

    Raises:
        Unreadable: a figure is missing or wrong; its place is the field.
    """
    tones: ByNegative | ByPicks
    if fields["by"] == "picks":
        tones = ByPicks(
            soft_seconds=float(_pick(fields, "soft-pick", "soft-picked")),
            hard_seconds=float(_pick(fields, "hard-pick", "hard-picked")),
            flashed=bool(fields["flashed"]),
        )
    else:
        tones = ByNegative(
            light=float(fields.needed("light-negative", "0", "6")), dark=float(fields.needed("dark-negative", "0", "6"))
        )
    paper, stand, source = _paper(fields), stand_asked(fields), desk().at_enlarger().light_source()
    return SplitAsk(
        paper=paper,
        stand=stand,
        tones=tones,
        light=_tone(fields, "light"),
        dark=_tone(fields, "dark"),
        callier=1.0 if source is None else source[1],
        flash=flash_asked(fields, desk().contrast().paper(paper), stand),
    )


def hold_ask(fields: Fields) -> HoldAsk:
    """Return what is asked of another contrast.

    Raises:
        Unreadable: a figure is missing or wrong; its place is the field.
    """
    change = float(fields["by-r"]) if fields["by-r"] in R_STEPS else -10.0
    if by := fields["by-own"]:
        typed = decimal_within(by, "-200", "200", places=MOST_PLACES)
        if typed is None or abs(typed) < 1:
            raise fields.no_figure("by-own", by.lstrip("-−+"), "1", "200")
        change = float(typed)
    return HoldAsk(
        paper=_paper(fields),
        stand=stand_asked(fields),
        soft_seconds=float(fields.figure("soft-seconds", "0", "3600") or 0),
        hard_seconds=float(fields.figure("hard-seconds", "0", "3600") or 0),
        held=_tone(fields, "held"),
        by=change,
        flash=_own_flash(fields) if fields["recipe"] else None,
    )


def _own_flash(fields: Fields) -> FlashAsk | None:
    """Return the flash of the recipe that was chosen; of one through an opal whether it is half of its level."""
    flash = desk().contrast().lights_of(fields["recipe"], fields["paper"]).flash
    if flash is None or not flash.opal:
        return flash
    half = opal_choice(flash, fields["paper"], stand_asked(fields)).startswith("half ")
    return flash.model_copy(update={"half": half})


def negative_ask(fields: Fields) -> NegativeAsk:
    """Return what is asked of a negative's range.

    Raises:
        Unreadable: a figure is missing or wrong; its place is the field.
    """
    match fields["by"]:
        case "filter":
            return FilterPicks(
                first_tone_seconds=float(fields.needed("first-tone", "0.1", "3600")),
                full_black_seconds=float(fields.needed("full-black", "0.1", "3600")),
                range_through=_through(fields),
            )
        case "matched":
            return MatchedPicks(
                dense_seconds=float(fields.needed("dense-seconds", "0.1", "3600")),
                thin_seconds=float(fields.needed("thin-seconds", "0.1", "3600")),
            )
    callier, known = fields.figure("callier", "0.8", "2"), desk().at_enlarger().light_source()
    if known is not None:  # it belongs to the enlarger, and is not asked again
        source, q = known
        return Measured(
            thin=float(fields.needed("thin", "0", "6")),
            dense=float(fields.needed("dense", "0", "6")),
            source=source,
            callier=q,
            flare_density=float(fields.figure("flare", "0", "1") or 0),
        )
    return Measured(
        thin=float(fields.needed("thin", "0", "6")),
        dense=float(fields.needed("dense", "0", "6")),
        source="condenser" if fields["source"] == "condenser" else "diffuser",
        callier=None if callier is None else float(callier),
        flare_density=float(fields.figure("flare", "0", "1") or 0),
    )


def ladder(fields: Fields) -> Ladder:
    """Return the filters of the chosen paper, its own or a typical set's."""
    return desk().contrast().ladder(_paper(fields) if fields["paper"] else "")


def picked_bands() -> dict[str, tuple[PickedBand, ...]]:
    """Return the bands picked lately from soft and from hard strips, newest first."""
    found: dict[str, list[PickedBand]] = {"soft": [], "hard": []}
    for session in desk().sheets(least=MOST).sessions:
        for line in reversed(session.sheets):
            for pick in reversed(line.picks):
                if pick.filter in found and not pick.stops:
                    words = {"number": line.number, "seconds": f"{pick.seconds:.1f}", "title": line.title}
                    found[pick.filter].append(PickedBand(f"{pick.seconds:g}", say("contrast.picked", **words)))
    return {name: tuple(bands[:12]) for name, bands in found.items()}


def _pick(fields: Fields, typed: str, chosen: str) -> Decimal:
    return fields.needed(typed, "0.1", "3600", source=typed if fields[typed] else chosen)


def _paper(fields: Fields) -> str:
    if not fields["paper"]:
        raise Unreadable(say("contrast.choose-paper"), ("paper",))
    try:
        desk().contrast().paper(fields["paper"])
    except NotThere as gone:
        raise Unreadable(str(gone), ("paper",)) from None
    return fields["paper"]


def stand_asked(fields: Fields) -> EnlargerStand:
    """Return how the enlarger stands for the print, as far as it was typed."""
    magnification = fields.figure("magnification", "0.01", "200")
    aperture = fields.figure("aperture", "0.5", "128")
    return EnlargerStand(
        magnification=None if magnification is None else float(magnification),
        aperture=None if aperture is None else float(aperture),
    )


def _tone(fields: Fields, name: str) -> TonePlace | float:
    """Return a tone: the density that was typed, or the name that was chosen."""
    typed = fields.figure(f"{name}-own", "0", "4", fields.label(name))
    if typed is not None:
        return float(typed)
    for place in get_args(TonePlace):
        if fields[name] == place:
            return place  # type: ignore[no-any-return]
    raise Unreadable(say("contrast.choose-tone", label=fields.label(name)), (name,))


def _through(fields: Fields) -> float:
    if (own := fields.figure("through-own", "10", "400")) is not None:
        return float(own)
    for rung in ladder(fields).rungs:
        if fields["through"] == rung.filter:
            return rung.range_exact
    if fields["through"] in ("soft light", "hard light"):
        return desk().contrast().ends(_paper(fields))[fields["through"] == "hard light"]
    raise Unreadable(say("contrast.choose-through"), ("through",))
