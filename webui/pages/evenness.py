"""Evenness and coverage by day: nine places measured, scanned or looked at; the map, what it says, what mends it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, redirect, render_template, request

from controller.daemon.evenness_desk import LOOKS, WHITE, EvennessDesk
from controller.errors import ControllerError, Impossible, Unreadable
from controller.trials.evenness import AT, PLACES, SIDES, place_words
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from webui.frame.context import decided_on, desk
from webui.frame.guard import needs_day
from webui.frame.incoming import brought
from webui.frame.refusals import status_of
from webui.pages.lamp import day
from webui.pictures.evenness import evenness_picture

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.evenness_view import MapView
    from controller.trials.evenness import Place
    from webui.pictures import Picture

blueprint = Blueprint("evenness", __name__)
FORM_BYTES: Final = 100_000


@blueprint.url_value_preprocessor
def _let_scans_in(endpoint: str | None, _values: object) -> None:
    """Take in a scan where one may come."""
    if endpoint == "evenness.scan":
        request.max_content_length = MOST_BYTES + FORM_BYTES


@blueprint.get("/tests/evenness")
@blueprint.get("/tests/coverage")
@needs_day
def evenness() -> ResponseReturnValue:
    """Show the map, and how it is made."""
    return _page()


@blueprint.post("/tests/evenness/<act>")
@needs_day
def ask(act: str) -> ResponseReturnValue:
    """Begin, make a grey's strip, take what an eye saw, keep the map, burn edges; a refusal stands on the page."""
    return _done(act)


@blueprint.post("/tests/evenness/scan")
@needs_day
def scan() -> ResponseReturnValue:
    """Take a scan of the grey sheet in; a refusal stands on the page."""
    return _done("scan")


def _done(act: str) -> ResponseReturnValue:
    try:
        _do(act)
    except ControllerError as problem:
        return make_response(_page(str(problem)), status_of(problem))
    return redirect({"begin": "/tests/evenness", "strip": "/"}.get(act, "/tests/evenness#map"), 303)


def _do(act: str) -> None:
    part = _part()
    match act:
        case "begin":
            part.begin(decided_on())
        case "strip":
            part.begin_strip(decided_on())
        case "scan":
            sent = request.files.get("file")
            file = brought(sent)
            if sent is None or file is None:
                raise Unreadable(say("evenness.no-file"), ("file",))
            part.by_scan(file, (sent.filename or "")[-60:], _last_sheet())
        case "eye":
            looks: dict[Place, str] = {place: request.form.get(place, "same") for place in PLACES}
            part.by_eye(looks, _last_sheet())
        case "keep":
            part.keep()
        case "mend":
            head = next((side for side in SIDES if side == request.form.get("head", "far")), None)
            if head is None:
                raise Impossible(say("page.refused-field", fields="head"))
            part.mend(head)
        case _:
            raise Impossible(say("page.refused-404"))


def _part() -> EvennessDesk:
    return desk().trials().part(EvennessDesk)


def _last_sheet() -> str:
    """Return the sheet that was closed last: the grey that is looked at, as far as anybody can tell."""
    newest = next(iter(desk().sheets(least=1, most=1).sessions), None)
    return newest.sheets[-1].id if newest is not None and newest.sheets else ""


def _page(refusal: str = "") -> str:
    view = _part().view()
    last = desk().trials().last("evenness")
    return render_template(
        "evenness.html",
        view=view,
        refusal=refusal,
        picture=_picture(view.map) if view.map else "",
        burns=[(say(f"evenness.side-{side}"), f"+{twelfths}/12") for side, twelfths in view.map.burns]
        if view.map
        else [],
        places=[(place, place_words(place)) for place in PLACES[1:]],
        looks=(*LOOKS, WHITE),
        chosen=request.form,
        sides=SIDES,
        last=last,
        day=day,
    )


def _picture(found: MapView) -> Picture:
    stops = {AT[place]: value for place, value in found.stops.items()}
    far, near = say("evenness.far-side"), say("evenness.near-side")
    return evenness_picture(stops, dict(found.burns), ident="evenness-map", words=(found.outcome, far, near))
