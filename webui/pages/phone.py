"""The phone's own page: what else on it gives light, how bright its red is, and where it is tested."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, make_response, redirect, render_template, request

from controller.words import say
from webui.frame.red import LEVELS, red, remember, take_level
from webui.frame.refusals import refuse, wants_json
from webui.pages.acts import back_to

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("phone", __name__)


@blueprint.get("/phone")
def phone() -> ResponseReturnValue:
    """Show the start card, the level of red, and by day the way to the test of this phone."""
    return render_template("phone.html")


@blueprint.post("/phone/red")
def choose_red() -> ResponseReturnValue:
    """Take a level of red for this phone; none takes back its choice. One that was not tested wants to be sure."""
    said = request.form.get("level", "")
    if said not in {"", *(str(level.number) for level in LEVELS)}:
        return refuse(422, say("page.red-none"))
    level = int(said) if said else None
    if level is not None and red().asks_twice(level) and level > red().level and not request.form.get("sure"):
        return refuse(409, say("page.red-may-fog", level=level))
    back = back_to(request.form.get("back", "/phone"))
    take_level(level)
    if wants_json():
        answer = make_response({"red": red().level, "html": render_template("red.html", back=back)})
    else:
        answer = make_response(redirect(back, 303))
    remember(answer, level)
    return answer
