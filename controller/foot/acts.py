"""What a page may ask of the runner: one frozen model a verb. Light itself is asked for by foot."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Annotated, Final, Literal, get_args

from pydantic import BeforeValidator, Field, TypeAdapter

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.fields import Aperture, HeadHeight


def _of_a_form(value: object) -> object:
    """Return what a form's text says, for the models inside an act; what says nothing is refused as it is."""
    if isinstance(value, str):
        with suppress(ValueError, RecursionError):
            return json.loads(value)
    return value


class Load(Frozen):
    """Make this recipe or strip the next sheet; refused while a sheet is open."""

    verb: Literal["load"] = "load"
    source: str
    version: int | None = None


class PutDown(Frozen):
    """Choose nothing; refused while a sheet is open."""

    verb: Literal["put down"] = "put down"


class StandAtEnlarger(Frozen):
    """What stands at the enlarger from now on; refused while a sheet is open, whose record it belongs to."""

    verb: Literal["at the enlarger"] = "at the enlarger"
    bench: Annotated[AtEnlarger, BeforeValidator(_of_a_form)]
    """All of it, as it is after the change; in a form its JSON."""


class SetUpMade(Frozen):
    """The set-up that is asked for is made; the foot says so too."""

    verb: Literal["set up made"] = "set up made"


class CallGiven(Frozen):
    """The present step counts as given as it is."""

    verb: Literal["call given"] = "call given"


class LeaveOut(Frozen):
    """Leave the next step out."""

    verb: Literal["leave out"] = "leave out"


class PutBack(Frozen):
    """The last of the steps that were left out is wanted after all."""

    verb: Literal["put back"] = "put back"


class MoreBurn(Frozen):
    """One more burn for the open sheet; exactly one of stops and seconds."""

    verb: Literal["more burn"] = "more burn"
    filter: str = Field(max_length=12)
    stops: str | None = None
    seconds: float | None = None
    area: str = Field("", max_length=3)


class NoLight(Frozen):
    """The last light gave nothing: bulb dead, hand switch off."""

    verb: Literal["no light"] = "no light"


class CloseSheet(Frozen):
    """Close the open sheet."""

    verb: Literal["close"] = "close"


class Assume(Frozen):
    """What to assume of the light in doubt."""

    verb: Literal["assume"] = "assume"
    light: str
    which: Literal["least", "middle", "most"]


class AskFocus(Frozen):
    """Focus light, from the day face with no sheet open: the same question, warning and sounds as by foot."""

    verb: Literal["ask focus"] = "ask focus"


class StartStep(Frozen):
    """Begin the lead-in from the dark face, where "start from the phone" is on."""

    verb: Literal["start"] = "start"


class PaperAway(Frozen):
    """All paper is away, the box is shut: the day face for fifteen minutes."""

    verb: Literal["paper away"] = "paper away"


class RoomLightOn(Frozen):
    """Room light, from the day face with all paper away; where an outlet for it is fitted."""

    verb: Literal["room light on"] = "room light on"


class RoomLightOff(Frozen):
    """No more room light."""

    verb: Literal["room light off"] = "room light off"


class PaperOut(Frozen):
    """Back to the dark face on every page."""

    verb: Literal["paper out"] = "paper out"


class NoPaperInTrays(Frozen):
    """No paper lies in the trays: none is followed there any more, and white light waits for none."""

    verb: Literal["no paper in the trays"] = "no paper in the trays"


class Pick(Frozen):
    """Pick a band of a strip's sheet, or the place between it and the next."""

    verb: Literal["pick"] = "pick"
    sheet: str
    band: int = Field(ge=1, le=24)
    between: bool = False
    recipe: str = ""
    """Take the pick over into a new version of this recipe; empty makes a new recipe."""
    title: str = Field(default="", max_length=200)
    """What a new recipe is called; empty leaves that to the pick."""
    go_on: bool = False
    """Load what is offered next for the negative, where one tap does it."""
    aperture: Aperture | None = None
    """What the strip was made at, where it does not say so itself; the head height likewise."""
    head_height_mm: HeadHeight | None = None


class MakeReference(Frozen):
    """A closed print is right: the one that others of its recipe are held against."""

    verb: Literal["reference print"] = "reference print"
    sheet: str


class TakeOffer(Frozen):
    """Do what is offered next; `offer` names what was seen."""

    verb: Literal["take offer"] = "take offer"
    offer: str = Field(max_length=16)


class RefuseOffer(Frozen):
    """Not that: offer something else."""

    verb: Literal["refuse offer"] = "refuse offer"
    offer: str = Field(max_length=16)


class IntoRecipe(Frozen):
    """Make what a closed sheet was given its recipe's next version."""

    verb: Literal["into recipe"] = "into recipe"
    sheet: str
    step: int = Field(default=0, ge=0)
    """One burn that was added to the sheet, by its number; 0 is all that the sheet was given."""


class WriteRemark(Frozen):
    """Write words on a sheet's record."""

    verb: Literal["remark"] = "remark"
    sheet: str
    text: str = Field(max_length=2000)


class Looked(Frozen):
    """Say how a closed sheet looked; it makes the recipe's next version, with the new times.

    Each tone from −3, far too light, over 0, right, to 3, far too dark.
    """

    verb: Literal["looked"] = "looked"
    sheet: str
    light: int = Field(ge=-3, le=3)
    dark: int = Field(ge=-3, le=3)
    third: int | None = Field(default=None, ge=-3, le=3)
    dark_density: float | None = Field(default=None, ge=-0.05, le=4.0, allow_inf_nan=False)
    """The shadow's print density against a grey scale: of a strip's picked band, where no word reaches so far."""


class ChangeRemark(Frozen):
    """Have a remark say something else; one that was taken back is there again."""

    verb: Literal["change remark"] = "change remark"
    sheet: str
    remark: int = Field(ge=1)
    text: str = Field(max_length=2000)


class TakeBackRemark(Frozen):
    """Take a remark back; what it said stays on file."""

    verb: Literal["take back remark"] = "take back remark"
    sheet: str
    remark: int = Field(ge=1)


Act = Annotated[
    Load
    | PutDown
    | StandAtEnlarger
    | SetUpMade
    | CallGiven
    | LeaveOut
    | PutBack
    | MoreBurn
    | NoLight
    | CloseSheet
    | Assume
    | AskFocus
    | StartStep
    | PaperAway
    | PaperOut
    | RoomLightOn
    | RoomLightOff
    | NoPaperInTrays
    | Pick
    | IntoRecipe
    | MakeReference
    | TakeOffer
    | RefuseOffer
    | WriteRemark
    | Looked
    | ChangeRemark
    | TakeBackRemark,
    Field(discriminator="verb"),
]

ACT: TypeAdapter[Act] = TypeAdapter(Act)

ACTS: Final[tuple[type[Act], ...]] = get_args(get_args(Act)[0])
"""Every act, in the order in which they stand here."""

Verb = Literal[
    "load",
    "put down",
    "at the enlarger",
    "set up made",
    "call given",
    "leave out",
    "put back",
    "more burn",
    "no light",
    "close",
    "assume",
    "ask focus",
    "start",
    "paper away",
    "paper out",
    "room light on",
    "room light off",
    "no paper in the trays",
    "pick",
    "into recipe",
    "reference print",
    "take offer",
    "refuse offer",
    "remark",
    "looked",
    "change remark",
    "take back remark",
]
