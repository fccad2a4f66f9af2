"""Alignment by day: heights at which a grain focuser was sharp at the corners, and how the carrier lies for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, make_response, redirect, render_template, request

from controller.daemon.alignment_desk import AlignmentDesk
from controller.errors import ControllerError, Unreadable
from controller.exposure.decimals import decimal_of
from controller.exposure.stops import shown
from controller.trials.alignment import CORNERS, corner_words
from controller.trials.evenness import AT
from controller.words import say
from webui.frame.context import decided_on, desk
from webui.frame.guard import needs_day
from webui.frame.refusals import status_of
from webui.pages.lamp import day
from webui.pictures.evenness import corners_picture

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.trials.alignment import AlignmentFound, Corner
    from webui.pictures import Picture

blueprint = Blueprint("alignment", __name__)
AGAIN = "again"


@blueprint.get("/tests/alignment")
@needs_day
def alignment() -> ResponseReturnValue:
    """Show how the carrier lies, and how it is found."""
    return _page()


@blueprint.post("/tests/alignment/<act>")
@needs_day
def ask(act: str) -> ResponseReturnValue:
    """Begin, or keep the heights; a refusal stands on the page, and nothing typed is lost."""
    part = desk().trials().part(AlignmentDesk)
    try:
        if act == "begin":
            part.begin(decided_on())
        elif act == "keep":
            heights: dict[Corner, float] = {corner: _height(corner) for corner in CORNERS}
            part.keep(heights, _height(AGAIN))
        else:
            raise Unreadable(say("page.refused-404"))
    except ControllerError as problem:
        return make_response(_page(str(problem), problem.place[:1]), status_of(problem))
    return redirect("/tests/alignment", 303)


def _height(name: str) -> float:
    typed = request.form.get(name, "").strip()
    if not typed:
        return 0.0
    found = decimal_of(typed.lstrip("+−-"))
    if found is None:
        raise Unreadable(say("alignment.no-number", found=shown(typed)), (name,))
    return -float(found) if typed[0] in "−-" else float(found)


def _page(refusal: str = "", place: tuple[int | str, ...] = ()) -> str:
    view = desk().trials().part(AlignmentDesk).view()
    last = desk().trials().last("alignment")
    names = [(corner, corner_words(corner)) for corner in CORNERS]
    return render_template(
        "alignment.html",
        view=view,
        refusal=refusal,
        wrong=place[0] if place else "",
        fields=[*names, (AGAIN, say("evenness.place-again"))],
        typed=request.form,
        picture=_picture(view.found, view.outcome) if view.found else "",
        last=last,
        day=day,
    )


def _picture(found: AlignmentFound, outcome: str) -> Picture:
    heights = [(AT[corner], found.heights_mm[corner]) for corner in CORNERS]
    words = outcome, say("evenness.far-side"), say("evenness.near-side")
    return corners_picture(heights, ident="alignment-corners", words=words)
