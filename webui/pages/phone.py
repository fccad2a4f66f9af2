"""The phone's own page: what else on it gives light, how bright its red is, and what it was tested for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, redirect, render_template, request
from pydantic import ValidationError

from controller import wall
from controller.daemon.phones import FogTest
from controller.words import say
from webui.frame.context import day_allowed, desk
from webui.frame.device import Device, device
from webui.frame.guard import no_day
from webui.frame.red import LEVELS, red, remember, take_level
from webui.frame.refusals import refuse, wants_json
from webui.pages.acts import back_to

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

blueprint = Blueprint("phone", __name__)

FIELDS: Final = ("level", "paper", "day")


@blueprint.get("/phone")
def phone() -> ResponseReturnValue:
    """Show the start card, the level of red, and by day the form for what this phone was tested for."""
    return render_template("phone.html", typed=_kept(), said=say("page.fog-kept") if request.args.get("kept") else "")


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


@blueprint.post("/phone/tested")
def keep_test() -> ResponseReturnValue:
    """Keep the brightest red that left no mark on paper beside this phone; a brighter one is turned down to it."""
    if not day_allowed():
        return no_day()
    typed = {name: request.form.get(name, "").strip() for name in FIELDS}
    try:
        found = FogTest.model_validate(typed)
    except ValidationError as problem:
        wrong = str(problem.errors()[0]["loc"][0])
        return make_response(render_template("phone.html", typed=typed, said=say(f"page.fog-no-{wrong}")), 422)
    desk().phones().tested(_this().mark, found)
    answer = make_response(redirect("/phone?kept=1", 303))
    if red().level > found.level:
        remember(answer, found.level)
    return answer


def _this() -> Device:
    this = device()
    assert this is not None  # the guard lets nobody else in
    return this


def _kept() -> Mapping[str, str]:
    """Return what the form begins with: today, and the paper of the last test."""
    tested = red().tested
    return {"level": "", "paper": tested.paper if tested else "", "day": wall.now().astimezone().date().isoformat()}
