"""Contrast by day: two lights for two tones, another contrast with one tone held, and a negative's range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from flask import Blueprint, request

from controller.contrast.asks import HeldTone, Lights, Split
from controller.errors import ControllerError, Impossible, Unreadable
from controller.exposure.decimals import typed_text_of
from controller.paper.ladder import TYPICAL
from controller.paper.negative import NegativeRange, negative_range
from controller.words import say
from webui.forms.contrast import (
    DARK_TONES,
    HELD_TONES,
    HOLD,
    LIGHT_TONES,
    NEGATIVE,
    R_STEPS,
    SPLIT,
    hold_ask,
    ladder,
    negative_ask,
    picked_bands,
    split_ask,
    stand_asked,
)
from webui.forms.flash import level_choices, opal_choice
from webui.forms.form import Fields, Refusal, Shown, shown_of, to_correct, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import offered_papers, offered_recipes
from webui.pages.shelf import go_to_kept
from webui.pictures import Picture, curves_picture, grid_picture, reach_picture

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from flask.typing import ResponseReturnValue


blueprint = Blueprint("contrast", __name__)

KEEPING: Final = ("title", "into")
_PLACES: Final = {"soft_seconds": "soft-seconds", "tones": "light-negative"}

Found = Split | HeldTone | NegativeRange
Came = Shown[Found]


@blueprint.get("/contrast")
@needs_day
def split() -> ResponseReturnValue:
    """Show the form for two tones, and the two lights that were asked for."""
    fields = _fields(SPLIT)
    return _split_page(fields, _split(fields) if "go" in request.args else Shown())


@blueprint.get("/contrast/hold")
@needs_day
def hold() -> ResponseReturnValue:
    """Show the form for another contrast, and the two lights that were asked for."""
    fields = _fields(HOLD)
    return _hold_page(fields, _hold(fields) if "go" in request.args else Shown())


@blueprint.get("/contrast/negative")
@needs_day
def negative() -> ResponseReturnValue:
    """Show the form for a negative's range, and what it means."""
    fields = _fields(NEGATIVE)
    return _negative_page(fields, _negative(fields) if "go" in request.args else Shown())


@blueprint.post("/contrast/keep")
@waits_for_day
def keep_split() -> ResponseReturnValue:
    """Make a recipe of two lights, or put them into one."""
    fields = Fields("contrast.field-", request.form, (*SPLIT, *KEEPING))
    return _keep(fields, _split(fields), _split_page)


@blueprint.post("/contrast/hold/keep")
@waits_for_day
def keep_hold() -> ResponseReturnValue:
    """Put two lights of another contrast into a recipe, or make one of them."""
    fields = Fields("contrast.field-", request.form, (*HOLD, *KEEPING))
    return _keep(fields, _hold(fields), _hold_page)


@blueprint.post("/contrast/negative/keep")
@waits_for_day
def keep_negative() -> ResponseReturnValue:
    """Write a negative's range into the notes of a recipe."""
    fields = Fields("contrast.field-", request.form, (*NEGATIVE, *KEEPING))
    shown = _negative(fields)
    if not isinstance(shown.found, NegativeRange):
        return _negative_page(fields, shown)
    try:
        if not fields["into"]:
            raise Unreadable(say("contrast.choose-recipe"), ("into",))
        kept = desk().contrast().keep_note(shown.found.note, fields["into"])
    except ControllerError as error:
        return _negative_page(fields, Shown(shown.found, _at(error, "into")))
    return go_to_kept(kept)


# ---- asking the desk


def _fields(names: Sequence[str]) -> Fields:
    """Return what was typed; on a first look, what the recipe it came from says."""
    fields = Fields("contrast.field-", request.args, names)
    if fields["recipe"] and "go" not in request.args:
        fields.text |= _from_recipe(fields["recipe"], fields["paper"], names)
    return fields


def _from_recipe(source: str, paper: str, names: Sequence[str]) -> dict[str, str]:
    stand, found = desk().contrast().stand_of(source), {"into": source}
    for name in ("magnification", "aperture"):
        value = getattr(stand, name)
        found[name] = "" if value is None else f"{value:g}"
    chosen = paper or desk().contrast().paper_for(source)
    found["paper"] = chosen
    if chosen and {"soft-seconds", "flash"} & set(names):
        try:
            lights = desk().contrast().lights_of(source, chosen)
        except Impossible:
            return found
        if lights.flash is not None and lights.flash.opal:
            found["flash"] = opal_choice(lights.flash, chosen, stand)
        elif lights.flash is not None:
            found |= {"flash": "seconds", "flash-seconds": typed_text_of(lights.flash.seconds)}
            found["flash-through"] = lights.flash.filter
        found["soft-seconds"] = typed_text_of(round(lights.soft, 1)) if lights.soft else ""
        found["hard-seconds"] = typed_text_of(round(lights.hard, 1)) if lights.hard else ""
    return found


def _split(fields: Fields) -> Came:
    return shown_of(lambda: desk().contrast().split(split_ask(fields)), _PLACES)


def _hold(fields: Fields) -> Came:
    return shown_of(lambda: desk().contrast().hold(hold_ask(fields)), _PLACES)


def _negative(fields: Fields) -> Came:
    return shown_of(lambda: negative_range(negative_ask(fields), ladder(fields)), _PLACES)


# ---- keeping


def _keep(fields: Fields, shown: Came, page: Callable[[Fields, Came], ResponseReturnValue]) -> ResponseReturnValue:
    """Keep two lights that were found; where none were, or they cannot be kept, show the page that says so."""
    found = shown.found
    if not isinstance(found, Lights):
        return page(fields, shown)
    into, at = fields["into"], "into" if fields["into"] else "title"
    try:
        stand = stand_asked(fields)
        if not into and not fields["title"]:
            raise Unreadable(say("contrast.name-it"), ("title",))
        kept = desk().contrast().keep(found, fields["paper"], stand, into=into, title=fields["title"])
    except ControllerError as error:
        return page(fields, Shown(found, _at(error, at)))
    return go_to_kept(kept)


def _at(error: ControllerError, field: str) -> Refusal:
    """Return a refusal at the field that says where to keep it, unless it has a field of its own on the page."""
    refusal = told({}, error)
    own = refusal.at if refusal.at in ("magnification", "aperture", "paper", "title") else field
    return Refusal(refusal.words, own, refusal.status)


# ---- pages


def _split_page(fields: Fields, shown: Came) -> ResponseReturnValue:
    tones = {"light": LIGHT_TONES, "dark": DARK_TONES}
    flash = {"levels": level_choices(fields["paper"]), "source": desk().at_enlarger().light_source()}
    return _page("contrast.html", fields, shown, tones=tones, picked=picked_bands(), **flash)


def _hold_page(fields: Fields, shown: Came) -> ResponseReturnValue:
    return _page("contrast_hold.html", fields, shown, tones={"held": HELD_TONES}, steps=R_STEPS)


def _negative_page(fields: Fields, shown: Came) -> ResponseReturnValue:
    try:
        offered = ladder(fields)
    except ControllerError:
        offered = TYPICAL  # what is wrong with the paper is said at its field
    return _page("contrast_negative.html", fields, shown, ladder=offered, source=desk().at_enlarger().light_source())


def _drawn(found: Found | None) -> dict[str, Picture | None]:
    """Return the pictures of what was found."""
    if not isinstance(found, Split | HeldTone):
        return {}
    curves = curves_picture(found.curves, ident="curves")
    if isinstance(found, HeldTone):
        return {"curves": curves}
    words = (say("contrast.grid"), say("contrast.grid-soft"), say("contrast.grid-hard"))
    grid = grid_picture(found.grid, ident="grid", words=words) if found.grid is not None else None
    return {"curves": curves, "grid": grid, "reach": reach_picture(found.reach, ident="reach")}


def _page(name: str, fields: Fields, shown: Came, **more: Any) -> ResponseReturnValue:
    return show(
        name,
        shown.refusal.status,
        to_correct=to_correct(shown.refusal, fields.called),
        typed=fields,
        label=fields.label,
        shown=shown,
        found=shown.found,
        lights=shown.found if isinstance(shown.found, Lights) else None,
        refusal=shown.refusal,
        drawn=_drawn(shown.found),
        papers=offered_papers(fields["paper"]),
        offered=offered_recipes(request.values.get("q", ""), fields["into"] or fields["recipe"]),
        **more,
    )
