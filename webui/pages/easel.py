"""Readings at the easel in the day face: the paper's curve with the spots on it, wishes by − and +, and the pair."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from flask import Blueprint, make_response, redirect, render_template, request

from controller.easel.spots import NAMES
from controller.errors import ControllerError, Impossible
from controller.exposure.decimals import decimal_within
from controller.words import say
from webui.frame.context import decided_on, desk
from webui.frame.guard import needs_day
from webui.frame.refusals import status_of
from webui.pictures import curves_picture
from webui.pictures.paper_curves import flag_points

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

blueprint = Blueprint("easel", __name__)


@blueprint.get("/easel")
@needs_day
def easel() -> ResponseReturnValue:
    """Show the spots and what they come to, with the wishes that the address has."""
    return _page(request.args)


@blueprint.post("/easel/<act>")
@needs_day
def ask(act: str) -> ResponseReturnValue:
    """Begin readings, keep a reference, or make the pair the next sheet; a refusal stands on the page."""
    try:
        return redirect(_do(act), 303)
    except ControllerError as problem:
        return make_response(_page(request.form, str(problem)), status_of(problem))


def _do(act: str) -> str:
    at = desk().easel()
    match act:
        case "spots":
            at.begin("spots", decided_on())
            return "/easel"
        case "reference" | "reference-hard":
            at.begin("reference", decided_on(), "hard" if act == "reference-hard" else "soft")
            return "/easel"
        case "keep":
            at.keep_reference()
            return "/easel"
        case "use" | "use-works":
            seen = request.form.get("soft", ""), request.form.get("hard", "")
            at.use(wishes_of(request.form), decided_on(), works=act == "use-works", seen=seen)
            return "/"
        case _:
            raise Impossible(say("page.refused-404"))


def wishes_of(typed: Mapping[str, str]) -> dict[str, float]:
    """Return the wished print densities by the spots' names; what is none is as if it were not there."""
    found = {}
    for name in NAMES:
        value = decimal_within(typed.get(name, ""), "0", "4")
        if value is not None:
            found[name] = float(value)
    return found


def _page(typed: Mapping[str, str], refusal: str = "") -> str:
    view = desk().easel().view(wishes_of(typed))
    wishes = dict(view.wishes)

    def wish(name: str, wanted: float) -> str:
        told = {**wishes, name: wanted}
        return "/easel?" + urlencode({each: f"{value:.2f}" for each, value in told.items()}) + "#pair"

    letters = [spot.letter for spot in view.spots]
    return render_template(
        "easel.html",
        view=view,
        refusal=refusal,
        wishes={name: f"{value:.2f}" for name, value in wishes.items()},
        wish=wish,
        picture=curves_picture(view.curves, ident="easel-curves", letters=letters) if view.curves else "",
        points=flag_points(view.curves) if view.curves else (),
    )
